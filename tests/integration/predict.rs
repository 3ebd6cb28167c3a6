//! `/v1/exposure/predict`, `/v1/modifiers`.

use serde_json::{Value, json};

use crate::{
    remedies::patched,
    support::{Server, close, number, pointers, sure},
};

const PREDICT: &str = "/v1/exposure/predict";

#[tokio::test]
async fn a_guide_number_is_aperture_times_distance() {
    let server = Server::start().await;
    // Published: ISO 1230: GN = N·d. GN 40 at 5 m is f/8, at ISO 400 twice that.
    let body = |iso: u32| {
        json!({
            "exposure": {"f_number": "f/8", "iso": iso},
            "lights": [{"name": "a", "unit": {"guide_number": {"value": 40, "unit": "m"}}}],
            "placements": [{"light": "a", "point": "p", "distance": "5 m"}]
        })
    };
    let answer = server.ask(PREDICT, body(100)).await;
    close(&answer["points"][0]["f_number"]["value"], 8.0, 1e-9);
    close(&answer["points"][0]["error_stops"], 0.0, 1e-9);
    // Published: ISO 2720:1974 with C = 250: H = N²·C/S = 64·2.5.
    close(&answer["points"][0]["luminous_exposure_lx_s"], 160.0, 1e-9);
    let answer = server.ask(PREDICT, body(400)).await;
    close(&answer["points"][0]["f_number"]["value"], 16.0, 1e-9);
    close(&answer["points"][0]["luminous_exposure_lx_s"], 160.0, 1e-9);
}

#[tokio::test]
async fn a_balance_can_be_sent_to_predict_unchanged() {
    let server = Server::start().await;
    let units = [
        json!({"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "fraction", "least": "1/64"}}),
        json!({"guide_number": {"value": 80, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}}),
    ];
    let placements = json!([
        {"light": "a", "point": "p", "distance": "2 m"},
        {"light": "b", "point": "p", "distance": "2 m"}
    ]);
    let light = |name: &str, unit: &Value| json!({"name": name, "unit": unit, "may_be_off": true});
    // One light suffices, and the other is too strong even at its least setting: it is switched off.
    let mut lights = [light("a", &units[0]), light("b", &units[1])];
    lights[0]["setting"] = json!("-5 stops");
    lights[0]["hold"] = json!(true);
    lights[0]["may_be_off"] = json!(false);
    let asked = json!({
        "exposure": {"f_number": "f/3.5"}, "lights": lights, "placements": placements,
        "points": [{"name": "p", "target": {"stops": 0}}]
    });
    let balance = server.ask("/v1/ratios/balance", asked.clone()).await;
    assert_eq!(balance["settings"][1]["setting"], Value::Null, "{balance}");
    let body = patched(&asked, &balance["patch"]);
    assert_eq!(body["lights"][1]["setting"], "off");
    let predicted = server.ask(PREDICT, body.clone()).await;
    let (first, again) = (&balance["points"][0]["error_stops"], &predicted["points"][0]["error_stops"]);
    assert_eq!(first, again);
    // Null would be ambiguous: it could mean full power.
    let mut null = body;
    null["lights"][1]["setting"] = Value::Null;
    let faults = server.refused(PREDICT, null).await;
    assert_eq!(faults[0][0], "/lights/1/setting");
    assert!(faults[0][2].contains("off"), "{faults:?}");
}

#[tokio::test]
async fn light_adds_up_in_parts() {
    let server = Server::start().await;
    let answer = server
        .ask(
            PREDICT,
            json!({
                "exposure": {"f_number": "f/8", "exposure_time": "1/125"},
                "lights": [
                    {"name": "a", "unit": {"energy": 500}, "setting": "full"},
                    {"name": "b", "unit": {"energy": 500}, "setting": "-1 stops", "pops": 4},
                    {"name": "c", "unit": {"energy": 500}, "setting": "off"}
                ],
                "readings": [
                    {"light": "a", "point": "p", "setting": "full", "f_number": "f/8"},
                    {"light": "b", "point": "p", "setting": "full", "f_number": "f/4"},
                    {"light": "c", "point": "p", "setting": "full", "f_number": "f/22"}
                ],
                "ambient": [{"point": "p", "f_number": "f/5.6"}],
                "lens": {"magnification": 1, "transmission_stops": -0.25,
                    "mark_corrections": [{"f_number": "f/8", "stops": "+0.1"}, {"f_number": "f/22", "stops": -1}]}
            }),
        )
        .await;
    let point = &answer["points"][0];
    // By hand, in N²: 64 + 16·4/2 + 0 + 32 = 128, which is f/11. n pops are log2(n) stops.
    close(&point["f_number"]["value"], 128_f64.sqrt(), 1e-4);
    close(&point["contributions"][0]["share"], 0.5, 1e-9);
    close(&point["contributions"][0]["stops"], 0.0, 1e-9);
    close(&point["contributions"][1]["share"], 0.25, 1e-9);
    close(&point["contributions"][1]["stops"], -1.0, 1e-9);
    assert_eq!(point["contributions"][2]["stops"], Value::Null);
    close(&point["ambient"]["share"], 0.25, 1e-9);
    // Life size loses 2·log2(2) = 2 stops (common practice), glass 0.25; the error of the mark gives 0.1 back.
    close(&answer["lens_stops"], -2.15, 1e-9);
    close(&point["error_stops"], 1.0 - 2.15, 1e-9);
}

/// A small generator of test geometry.
struct Random(u64);

impl Random {
    fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn place(&mut self) -> [f64; 3] {
        [self.uniform(-3.0, 3.0), self.uniform(-3.0, 3.0), self.uniform(0.0, 3.0)]
    }
}

#[tokio::test]
async fn random_geometries_agree_with_a_sum_over_the_face_of_the_source() {
    let server = Server::start().await;
    let mut random = Random(7);
    for round in 0..10 {
        let (light, point) = (random.place(), random.place());
        let aim = random.place();
        let normal = [random.uniform(-1.0, 1.0), random.uniform(-1.0, 1.0), random.uniform(-1.0, 1.0)];
        let half = random.uniform(40.0, 120.0);
        // Independent of the service's vectors: angles by the law of cosines over three sides.
        let side =
            |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt();
        let angle = |at: [f64; 3], a: [f64; 3], b: [f64; 3]| {
            let (x, y, z) = (side(at, a), side(at, b), side(a, b));
            ((x * x + y * y - z * z) / (2.0 * x * y)).clamp(-1.0, 1.0).acos()
        };
        let distance = side(light, point);
        let off_axis = angle(light, aim, point);
        let tip = [point[0] + normal[0], point[1] + normal[1], point[2] + normal[2]];
        let incidence = angle(point, tip, light);
        let beam = if off_axis >= std::f64::consts::FRAC_PI_2 {
            0.0
        } else {
            // Half power at half the beam angle, by definition.
            (0.5_f64.ln() * off_axis.cos().ln() / (half / 2.0_f64).to_radians().cos().ln()).exp()
        };
        let expected = 50.0_f64.powi(2) / distance.powi(2) * beam * incidence.cos().max(0.0);
        let body = json!({
            "exposure": {"f_number": "f/8"},
            "lights": [{"name": "a", "unit": {"guide_number": {"value": 50, "unit": "m"}},
                "position": light, "aim": aim, "beam": {"half_power_deg": half}}],
            "points": [{"name": "p", "position": point, "normal": normal}]
        });
        let answer = server.ask(PREDICT, body.clone()).await;
        let h = number(&answer["points"][0]["luminous_exposure_lx_s"]);
        assert!((h - expected * 2.5).abs() <= 2e-5 * expected * 2.5 + 1e-9, "round {round}: {h} {expected}");
        // The same geometry as distance and angles.
        if incidence < std::f64::consts::FRAC_PI_2 {
            let mut placed = body;
            placed["lights"][0] = json!({"name": "a", "unit": {"guide_number": {"value": 50, "unit": "m"}},
                "beam": {"half_power_deg": half}});
            placed["points"] = json!([{"name": "p"}]);
            placed["placements"] = json!([{"light": "a", "point": "p", "distance": distance,
                "incidence_deg": incidence.to_degrees(), "off_axis_deg": off_axis.to_degrees()}]);
            let placed = server.ask(PREDICT, placed).await;
            let other = number(&placed["points"][0]["luminous_exposure_lx_s"]);
            assert!((other - h).abs() <= 2e-5 * h + 1e-9, "round {round}: {other} {h}");
        }
    }
}

#[tokio::test]
async fn a_set_by_placements_and_by_positions_is_balanced_alike() {
    let server = Server::start().await;
    let unit = json!({"energy": 500, "guide_number": {"value": 60, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    let target = json!({"stops": 0});
    let positions = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": unit, "position": [3, 0, 0]}, {"name": "b", "unit": unit, "position": [0, 4, 0]}],
        "points": [{"name": "p", "position": [0, 0, 0], "normal": [1, 1, 0], "target": target}]
    });
    let placements = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": unit}, {"name": "b", "unit": unit}],
        "points": [{"name": "p", "target": target}],
        "placements": [
            {"light": "a", "point": "p", "distance": 3, "incidence_deg": 45},
            {"light": "b", "point": "p", "distance": 4, "incidence_deg": 45}
        ]
    });
    let one = server.ask("/v1/ratios/balance", positions).await;
    let other = server.ask("/v1/ratios/balance", placements).await;
    assert_eq!(one["settings"], other["settings"]);
    assert_eq!(one["points"], other["points"]);
}

#[tokio::test]
async fn bad_geometry_is_located() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 60, "unit": "m"}});
    let body = |light: Value, point: Value| json!({"exposure": {"f_number": "f/8"}, "lights": [light], "points": [point]});
    let point = json!({"name": "p", "position": [0, 0, 1]});
    let refused = |light: Value, point: Value| server.refused(PREDICT, body(light, point));
    let faults = refused(json!({"name": "a", "unit": unit, "position": [0, 0, 1]}), point.clone()).await;
    assert_eq!(pointers(&faults), ["/lights/0/position"]);
    let itself = json!({"name": "a", "unit": unit, "position": [2, 0, 1], "aim": [2, 0, 1]});
    assert_eq!(pointers(&refused(itself, point.clone()).await), ["/lights/0/aim"]);
    let flat = json!({"name": "p", "position": [0, 0, 1], "normal": [0, 0, 0]});
    let light = json!({"name": "a", "unit": unit, "position": [2, 0, 1]});
    assert_eq!(pointers(&refused(light.clone(), flat).await), ["/points/0/normal"]);
    let short = json!({"name": "p", "position": [0, 1]});
    assert_eq!(pointers(&refused(light, short).await), ["/points/0/position"]);
    let table = json!({"name": "a", "unit": unit, "position": [2, 0, 1], "beam": {"table": [[0, 1], [20, 0.5], [10, 0.2]]}});
    assert_eq!(pointers(&refused(table, point).await), ["/lights/0/beam/table/2"]);
    let nowhere = json!({
        "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit}],
        "placements": [{"light": "a", "point": "p", "modifier_stops": {"kind": "box"}}]
    });
    assert_eq!(pointers(&server.refused(PREDICT, nowhere).await), ["/placements/0/modifier_stops/kind"]);
    let nowhere = json!({
        "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit}],
        "placements": [{"light": "a", "point": "p"}]
    });
    assert_eq!(pointers(&server.refused(PREDICT, nowhere).await), ["/placements/0/distance"]);
}

#[tokio::test]
async fn behind_the_plane_there_is_no_light() {
    let server = Server::start().await;
    let answer = server
        .ask(
            PREDICT,
            json!({
                "exposure": {"f_number": "f/8"},
                "lights": [{"name": "a", "unit": {"guide_number": {"value": 60, "unit": "m"}}, "position": [0, 2, 0]}],
                "points": [{"name": "p", "position": [0, 0, 0], "normal": [0, -1, 0]}]
            }),
        )
        .await;
    assert_eq!(answer["points"][0]["f_number"], Value::Null);
    assert_eq!(answer["points"][0]["luminous_exposure_lx_s"], 0.0);
    assert_eq!(answer["warnings"][0]["code"], "unlit");
}

#[tokio::test]
async fn a_beam_of_known_energy_gives_its_light_over_its_solid_angle() {
    let server = Server::start().await;
    // By hand: 100 J at the typical 40 lm·s per J, all of a cone of 180 degrees as wide as a 35 mm lens or
    // wider: share 0.7. cos² has its half power at 45 degrees and integrates to 2π/3.
    let answer = server
        .ask(
            PREDICT,
            sure(json!({
                "exposure": {"f_number": "f/8"},
                "lights": [{"name": "a", "unit": {"energy": "100 J"}, "beam": {"half_power_deg": 90}}],
                "placements": [{"light": "a", "point": "p", "distance": "2 m"}]
            })),
        )
        .await;
    let q = 100.0 * 40.0 * 0.7 * 3.0 / (2.0 * std::f64::consts::PI);
    close(&answer["points"][0]["luminous_exposure_lx_s"], q / 4.0, q / 4.0 * 1e-5);
    // The efficacy and the share of the light add as the root of the sum of squares, each side by itself, but for the
    // longer tail, which the draws count.
    let spread = &answer["points"][0]["uncertainty"];
    close(&spread["low_stops"], -(15.0_f64 / 40.0).log2().hypot((0.5_f64 / 0.7).log2()), 0.05);
    close(&spread["high_stops"], (50.0_f64 / 40.0).log2().hypot((0.9_f64 / 0.7).log2()), 0.05);
}

#[tokio::test]
async fn a_kind_of_modifier_widens_every_answer() {
    let server = Server::start().await;
    let table = server.get("/v1/modifiers").await;
    let kinds = table.body["modifiers"].as_array().expect("kinds");
    // Units whose light is known, so that the modifier alone is uncertain.
    let known = |energy: u32| json!({"energy": energy, "plus_minus_stops": 0.001, "dial_plus_minus_stops": 0.001, "repeat_plus_minus_stops": 0.001});
    for kind in kinds {
        let [low, typical, high] = ["low", "typical", "high"].map(|end| number(&kind["stops"][end]));
        assert!(low < typical && typical < high);
        let named = json!({"kind": kind["kind"]});
        let predicted = server
            .ask(
                PREDICT,
                sure(json!({
                    "exposure": {"f_number": "f/8"},
                    "lights": [{"name": "a", "unit": {"guide_number": {"value": 40, "unit": "m"}}}],
                    "placements": [{"light": "a", "point": "p", "distance": 5, "modifier_stops": named}]
                })),
            )
            .await;
        let point = &predicted["points"][0];
        close(&point["error_stops"], typical, 1e-4);
        // The draws of a long tail beside a short one are within 0.005.
        close(&point["uncertainty"]["low_stops"], low - typical, 5e-3);
        close(&point["uncertainty"]["high_stops"], high - typical, 5e-3);
        let assumptions = predicted["assumptions"].as_array().expect("assumptions");
        assert!(assumptions.iter().any(|one| one["code"] == "light_modifier_stops"), "{predicted}");
        let matched = server
            .ask(
                "/v1/energy/equivalence",
                json!({
                    "reference": {"unit": known(500), "setting": "full", "exposure": {"f_number": 8},
                        "modifier_stops": {"stops": 0, "plus_minus_stops": 0.001}},
                    "candidates": [{"unit": known(4000), "modifier_stops": named}]
                }),
            )
            .await;
        let uncertainty = &matched["candidates"][0]["uncertainty"];
        close(&uncertainty["low_stops"], low - typical, 5e-3);
        close(&uncertainty["high_stops"], high - typical, 5e-3);
        close(&matched["candidates"][0]["matching_energy_j"], 500.0 * (-typical).exp2(), 0.01);
    }
}

#[tokio::test]
async fn empty_questions_are_refused() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 40, "unit": "m"}});
    let aimed = json!({
        "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit}],
        "placements": [{"light": "a", "point": "p", "distance": 2, "aim": [0, 0, 0]}]
    });
    assert_eq!(pointers(&server.refused(PREDICT, aimed).await), ["/placements/0/aim"]);
    let twice = json!({
        "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit}],
        "placements": [{"light": "a", "point": "p", "distance": 2}],
        "lens": {"mark_corrections": [{"f_number": "f/8", "stops": 0.1}, {"f_number": 8, "stops": -0.3}]}
    });
    assert_eq!(pointers(&server.refused(PREDICT, twice).await), ["/lens/mark_corrections/1/f_number"]);
}
