//! Published and derived values, each with its source and grade in `tests/data/reference.json`.

use serde_json::{Value, json};
use stopwright::light::{
    measure::{
        motion::{Duration, Shape},
        space::{Encoding, Level, Space},
    },
    quantity::{
        Metres, Seconds,
        constants::{CONSTANT_C, CONSTANT_C_OTHER},
        kind::Kind,
        notation::Written,
        rules::{Reading, Rules},
    },
    set::placement::Source,
    unit::coverage::Coverage,
};

use crate::support::{Server, close, number};

const ROWS: usize = 67;

fn rows() -> Vec<Value> {
    let rows: Vec<Value> = serde_json::from_str(include_str!("../data/reference.json")).expect("JSON");
    assert_eq!(rows.len(), ROWS, "rows read");
    for row in &rows {
        assert!(row["source"].as_str().is_some_and(|source| !source.is_empty()), "{row} has a source");
    }
    rows
}

#[tokio::test]
#[expect(clippy::too_many_lines, reason = "one arm a topic of the table")]
async fn every_reference_value_is_met() {
    let server = Server::start().await;
    let mut checked = 0;
    for row in rows() {
        let (input, expected) = (&row["input"], &row["expected"]);
        let tolerance = number(&row["tolerance"]);
        // Answers are rounded to 6 digits or 4 decimals at the edge.
        let rounded_tolerance = |value: f64| tolerance.max(value.abs() * 5e-6).max(5e-5);
        let id = row["id"].as_str().expect("an id");
        match id.split('-').next().expect("a topic") {
            "srgb" | "adobe_rgb_1998" | "romm" => {
                let space =
                    Space::ALL.into_iter().find(|space| id.starts_with(space.text())).expect("a space");
                let encoding = Encoding { space, bits: 8 };
                let level = number(&input["level"]);
                let linear = encoding.linear(Level::Grey(level));
                let expected = number(&expected["linear"]);
                assert!((linear - expected).abs() <= tolerance, "{id}: {linear} is not {expected}");
                assert!((space.encode(linear) * 255.0 - level).abs() < 1e-9, "{id}: there and back");
            }
            "t01" => {
                let duration = Duration::of(Some(Seconds::new_unchecked(1e-3)), None, Shape::Exponential);
                let ratio = duration.expect("a duration").t0_1.get() / 1e-3;
                assert!((ratio - number(&expected["ratio"])).abs() <= tolerance, "{id}: {ratio}");
            }
            "apex" => {
                let series = server.get("/v1/marks/f_number?step=1").await;
                let marks = series.body["marks"].as_array().expect("marks").clone();
                let mark = marks.iter().find(|mark| mark["apex"] == number(&input["av"])).expect("the mark");
                assert_eq!(mark["mark"], expected["mark"], "{id}");
                close(
                    &mark["value"],
                    number(&expected["value"]),
                    rounded_tolerance(number(&expected["value"])),
                );
            }
            "stops" => {
                let answer =
                    server.ask("/v1/stops/convert", json!({"from": input["from"], "to": input["to"]})).await;
                close(&answer["exposure_stops"], number(&expected["exposure_stops"]), tolerance);
            }
            "density" => {
                let density = number(&input["optical_density"]);
                for (reading, name) in
                    [(Reading::Marked, "marked_stops"), (Reading::Literal, "literal_stops")]
                {
                    let rules = Rules { reading, ..Rules::default() };
                    let written = Written { number: density, beyond_stops: 0.0 };
                    let (value, _) = rules.interpret(Kind::OpticalDensity, written);
                    let stops = Kind::OpticalDensity.exposure_stops(value);
                    close(&stops.into(), number(&expected[name]), tolerance);
                }
            }
            "incident" => {
                // An ambient reading through the balance: with the light off, the point meters as the ambient light
                // does.
                let body = json!({
                    "exposure": {"f_number": 8, "iso": input["iso"], "exposure_time": input["exposure_time_s"]},
                    "reading": "literal",
                    "lights": [{"name": "off", "unit": {"energy": 100}, "may_be_off": true, "max_stops_below_full": 0}],
                    "points": [{"name": "p", "target": {"f_number": 0.5}}],
                    "ambient": [{"point": "p", "illuminance_lx": input["illuminance_lx"]}]
                });
                let answer = server.ask("/v1/ratios/balance", body).await;
                let wanted = number(&expected["f_number"]);
                close(&answer["points"][0]["f_number"]["value"], wanted, rounded_tolerance(wanted));
            }
            "gn" if id == "gn-constants" => {
                let stops = (CONSTANT_C / CONSTANT_C_OTHER).log2();
                close(&stops.into(), number(&expected["difference_stops"]), tolerance);
            }
            "gn" => {
                let feet = input.get("guide_number_ft").is_some();
                let (guide, unit) =
                    if feet { (&input["guide_number_ft"], "ft") } else { (&input["guide_number_m"], "m") };
                let distance = if feet {
                    json!(format!("{} ft", input["distance_ft"]))
                } else {
                    input["distance_m"].clone()
                };
                let body = json!({
                    "exposure": {"f_number": 8},
                    "lights": [{"name": "a", "setting": "full", "hold": true,
                        "unit": {"guide_number": {"value": guide, "unit": unit}}}],
                    "points": [{"name": "p", "target": {"stops": 0}}],
                    "placements": [{"light": "a", "point": "p", "distance": distance}]
                });
                let answer = server.ask("/v1/ratios/balance", body).await;
                close(&answer["points"][0]["f_number"]["value"], number(&expected["f_number"]), 1e-5);
            }
            "coverage" => {
                let focal_length_mm = number(&input["focal_length_mm"]);
                let frame_mm = [36.0, 24.0];
                let angles = Coverage::angles_deg(focal_length_mm, frame_mm);
                close(&angles[0].into(), number(&expected["angles_deg"][0]), tolerance);
                close(&angles[1].into(), number(&expected["angles_deg"][1]), tolerance);
                let omega = Coverage::FocalLength { focal_length_mm, frame_mm }.solid_angle();
                close(&omega.get().into(), number(&expected["solid_angle_sr"]), 1e-6);
            }
            "cone" => {
                let omega = Coverage::Cone { cone_deg: number(&input["cone_deg"]) }.solid_angle();
                close(&omega.get().into(), number(&expected["solid_angle_sr"]), tolerance);
            }
            "disc" | "rect" => {
                let metres = |name: &str| Metres::new_unchecked(number(&input[name]));
                let source = if id.starts_with("disc") {
                    Source::Disc { diameter: Metres::new_unchecked(2.0 * number(&input["radius_m"])) }
                } else {
                    Source::Rectangle { width: metres("width_m"), height: metres("height_m") }
                };
                let factor = source.factor(metres("distance_m"));
                close(&factor.into(), number(&expected["factor"]), tolerance);
                if let Some(stops) = expected.get("stops") {
                    close(&factor.log2().into(), number(stops), 5e-5);
                }
            }
            "ratio" => {
                // Common practice: (key + fill) : fill, with the key this many stops over the fill.
                let over = number(&input["key_over_fill_stops"]);
                let ratio = number(&expected["ratio"]);
                let body = json!({
                    "exposure": {"f_number": 8},
                    "lights": [{"name": "k", "unit": {"energy": 500}}, {"name": "f", "unit": {"energy": 500}}],
                    "ratio": {"value": over.exp2(), "key": "k", "fill": "f", "counting": "lights"},
                    "readings": [
                        {"light": "k", "setting": "full", "f_number": 16},
                        {"light": "f", "setting": "full", "f_number": 16}
                    ]
                });
                let answer = server.ask("/v1/ratios/balance", body).await;
                close(&answer["ratio"]["sides"]["target"], ratio, tolerance);
                // Both units have clicks of a hundredth of a stop.
                close(&answer["ratio"]["sides"]["achieved"], ratio, 0.02 * ratio);
            }
            "pops" => {
                // n equal pops: a unit that is log2(n) stops too weak reaches its target with n.
                let stops = number(&expected["stops"]);
                let body = json!({
                    "reference": {"unit": {"energy": 1000}, "setting": "full", "exposure": {"f_number": 8}},
                    "candidates": [{"unit": {"energy": 1000.0 / stops.exp2()}}],
                    "max_pops": 16
                });
                let answer = server.ask("/v1/energy/equivalence", body).await;
                assert_eq!(answer["candidates"][0]["pops"], input["pops"], "{id}");
            }
            "full" => {
                let body = json!({
                    "reference": {
                        "unit": {"energy": input["energy_j"], "scale": {"style": "dial", "full": 9, "least": 2}},
                        "setting": 9.0 - number(&input["steps_down"]), "exposure": {"f_number": 8}
                    },
                    "candidates": [{"unit": {"energy": 500}}]
                });
                let answer = server.ask("/v1/energy/equivalence", body).await;
                close(&answer["reference"]["energy_j"], number(&expected["energy_j"]), tolerance);
            }
            other => panic!("no check for {other}"),
        }
        checked += 1;
    }
    assert_eq!(checked, ROWS, "rows checked");
}
