//! Answers that are drawn: `Accept: image/svg+xml`, and `format=svg` in a query.

mod curves;
mod estimates;
mod falloff;
mod kit;
mod measuring;
mod sets;
mod sheets;
mod supply;
mod swaps;

use std::{env, fs, path::PathBuf};

use reqwest::Method;
use serde_json::{Value, json};

use crate::support::{Answer, Server, document, faults};

const SVG: &str = "image/svg+xml";

/// Calculations that are drawn, by their path.
fn drawn() -> Vec<String> {
    let paths = document()["paths"].as_object().expect("paths");
    let is_drawn = |methods: &Value| methods["post"]["responses"]["200"]["content"].get(SVG).is_some();
    paths.iter().filter(|(_, methods)| is_drawn(methods)).map(|(path, _)| path.clone()).collect()
}

async fn draw(server: &Server, path: &str, body: &Value) -> Answer {
    server.send(server.request(Method::POST, path).header("accept", SVG).json(body)).await
}

/// The texts of a picture, after checks that every picture must pass.
fn checked(at: &str, answer: &Answer) -> Vec<String> {
    assert_eq!((answer.status, answer.header("content-type")), (200, SVG), "{at}: {}", answer.body);
    assert!(answer.header("content-security-policy").starts_with("default-src 'none'"), "{at}");
    let text = answer.body.as_str().expect("a text");
    let picture = roxmltree::Document::parse(text).expect(at);
    let root = picture.root_element();
    assert_eq!(root.tag_name().namespace(), Some("http://www.w3.org/2000/svg"), "{at}");
    assert_eq!(root.attribute("role"), Some("img"), "{at}");
    // The title and description for screen readers come first.
    let mut children = root.children().filter(roxmltree::Node::is_element);
    for name in ["title", "desc"] {
        let first = children.next().expect(at);
        assert_eq!(first.tag_name().name(), name, "{at}");
        assert!(first.text().is_some_and(|text| text.len() > 5), "{at}: no {name}");
    }
    let size = |name: &str| root.attribute(name).expect(at).parse::<f64>().expect("a number");
    assert!(size("width") > 100.0 && size("height") > 100.0, "{at}");
    for node in picture.descendants().filter(roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        assert!(!["script", "foreignObject", "image", "use", "a"].contains(&name), "{at}: {name}");
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(!name.starts_with("on") && name != "href" && name != "style", "{at}: {name}");
            assert!(!["NaN", "inf"].iter().any(|odd| value.contains(odd)), "{at}: {value}");
            assert!(value.split([' ', ',']).all(|part| part != "-0"), "{at}: {value}");
            assert!(!value.contains("url(") || value.starts_with("url(#"), "{at}: {value}");
        }
    }
    let is_text = |node: &roxmltree::Node| ["text", "desc"].contains(&node.tag_name().name());
    for label in picture.descendants().filter(is_text).filter_map(|node| node.text()) {
        // Words, and no JSON names such as `tolerance_stops`.
        let is_name = |word: &str| word.trim_matches(|c: char| !c.is_alphanumeric()).contains('_');
        assert!(!label.split_whitespace().any(is_name), "{at}: {label}");
    }
    let texts = picture.descendants().filter(|node| node.tag_name().name() == "text");
    texts.map(|node| node.text().unwrap_or_default().to_owned()).collect()
}

#[tokio::test]
async fn every_example_that_is_drawn_is_a_sound_picture() {
    let server = Server::start().await;
    let mut seen = 0;
    for path in drawn() {
        let examples =
            &document()["paths"][&path]["post"]["requestBody"]["content"]["application/json"]["examples"];
        for (name, example) in examples.as_object().expect("examples") {
            let body = &example["value"];
            let json = server.post(&path, body).await;
            let answer = draw(&server, &path, body).await;
            if json.status != 200 {
                assert_eq!(answer.status, json.status, "{path} {name}");
                continue;
            }
            let texts = checked(&format!("{path} {name}"), &answer);
            assert!(texts.len() > 5, "{path} {name}: {texts:?}");
            seen += 1;
        }
    }
    assert!(seen >= 12, "{seen} examples");
}

#[tokio::test]
async fn a_browser_gets_a_picture_by_its_address() {
    let server = Server::start().await;
    let path = "/v1/lights/falloff?source[disc_m]=0.9&distances=1,2,4&reference_distance=2";
    let by_parameter = server.get(&format!("{path}&format=svg")).await;
    let texts = checked(path, &by_parameter);
    // From 2 m to 4 m a point loses two stops; this face a little less.
    assert!(texts.iter().any(|text| text == "−1.95"), "{texts:?}");
    assert!(
        by_parameter.header("etag").starts_with("W/\"") && by_parameter.header("vary").contains("accept")
    );
    // With the Accept header of an image element.
    let image = "image/avif,image/webp,image/apng,image/svg+xml,image/*,*/*;q=0.8";
    let by_header = server.send(server.request(Method::GET, path).header("accept", image)).await;
    assert_eq!(by_header.body, by_parameter.body);
    let as_text = server.get("/v1/stops/convert?from=f/8&to=f/11&format=text").await;
    assert_eq!(as_text.header("content-type"), "text/plain; charset=utf-8");
    let as_json = server.get("/v1/marks/f_number?format=json").await;
    assert_eq!(as_json.header("content-type"), "application/json");
}

#[tokio::test]
async fn calculations_without_a_picture_are_refused() {
    let server = Server::start().await;
    let answer = draw(&server, "/v1/stops/convert", &json!({"from": "f/8", "to": "f/11"})).await;
    assert_eq!(answer.status, 406);
    let answer = server.get("/v1/stops/convert?from=f/8&to=f/11&format=svg&odd=1").await;
    assert_eq!(answer.status, 422);
    let found = faults(&answer.body);
    assert_eq!(found[0], ["/format", "\"svg\" is not known", "one of \"json\", \"text\""]);
    assert_eq!(found[1][0], "/odd");
    // `format` is for queries only: a body comes with headers.
    let found = server.refused("/v1/lights/falloff", json!({"distances": [1], "format": "svg"})).await;
    assert_eq!(found[0][0], "/format");
    // Problems are never drawn.
    let answer = draw(&server, "/v1/lights/falloff", &json!({})).await;
    assert_eq!(answer.status, 422);
}

#[tokio::test]
async fn a_balance_is_drawn_with_its_own_numbers() {
    let server = Server::start().await;
    let unit = json!({"energy": "600 J", "guide_number": {"value": 60, "unit": "m"},
        "scale": {"style": "dial", "full": 9, "least": 2}});
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [
            {"name": "key", "unit": unit, "position": [1, -2, 2]},
            {"name": "over the key", "unit": unit, "position": [1, -2, 3]}
        ],
        "points": [
            {"name": "face", "position": [0, 0, 1.6], "target": {"stops": 0}},
            {"name": "<wall> & \"door\" \u{1}", "position": [-1, 1, 1.6], "target": {"stops": -1}, "weight": 0.5}
        ],
        "units": "imperial"
    });
    let json = server.ask("/v1/ratios/balance", body.clone()).await;
    let answer = draw(&server, "/v1/ratios/balance", &body).await;
    let texts = checked("a balance", &answer);
    let has_text = |wanted: &str| texts.iter().any(|text| text.contains(wanted));
    for light in json["settings"].as_array().expect("settings") {
        let label = light["setting"]["label"].as_str().expect("a label");
        assert!(texts.iter().any(|text| text == label), "{label}: {texts:?}");
    }
    for point in json["points"].as_array().expect("points") {
        assert!(has_text(point["f_number"]["meter"].as_str().expect("a reading")), "{texts:?}");
    }
    // A name is drawn as text whatever it looks like, and characters that XML cannot hold are replaced.
    assert!(texts.join(" ").contains("<wall> & \"door\" \u{fffd}"), "{texts:?}");
    // The plan: letters and numbers, lengths in feet. √(1² + 2² + 0.4²) m is 7.45 ft.
    assert!(
        has_text("The set from above")
            && has_text("A")
            && has_text("B")
            && has_text("face\u{a0}7.45\u{a0}ft"),
        "{texts:?}"
    );
    let without_positions = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "key", "unit": unit}],
        "points": [{"name": "face", "target": {"stops": 0}}],
        "placements": [{"light": "key", "point": "face", "distance": "2 m"}]
    });
    let answer = draw(&server, "/v1/ratios/balance", &without_positions).await;
    assert!(!checked("no positions", &answer).iter().any(|text| text.contains("from above")));
}

#[tokio::test]
async fn the_largest_set_is_drawn_in_bounds() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 60, "unit": "m"}});
    let long = "n".repeat(60);
    let lights: Vec<Value> = (0..32)
        .map(|i| json!({"name": format!("{long}{i}"), "unit": unit, "position": [f64::from(i), -3, 2]}))
        .collect();
    let points: Vec<Value> = (0..64)
        .map(|i| json!({"name": format!("{long}{i}"), "position": [f64::from(i) / 2.0, 0.5, 1]}))
        .collect();
    let body = json!({"exposure": {"f_number": "f/8"}, "lights": lights, "points": points});
    let answer = draw(&server, "/v1/exposure/predict", &body).await;
    checked("the largest set", &answer);
    let bytes = answer.body.as_str().expect("a text").len();
    assert!(bytes < 2_000_000, "{bytes} bytes");
}

/// The pictures in `docs/`, the examples that they are drawn from, and their width, px, if it is stated.
const SHOWN: [(&str, &str, &str, Option<u32>); 3] = [
    ("falloff", "/v1/lights/falloff", "row_of_eight", None),
    ("balance", "/v1/ratios/balance", "by_position", None),
    ("balance_narrow", "/v1/ratios/balance", "by_position", Some(340)),
];

#[tokio::test]
async fn the_pictures_in_docs_are_what_the_service_draws() {
    let server = Server::start().await;
    for (name, path, example, width) in SHOWN {
        let examples =
            &document()["paths"][path]["post"]["requestBody"]["content"]["application/json"]["examples"];
        let mut body = examples[example]["value"].clone();
        if let Some(width) = width {
            body["width"] = width.into();
        }
        let answer = draw(&server, path, &body).await;
        assert_eq!(answer.status, 200, "{name}: {}", answer.body);
        let drawn = answer.body.as_str().expect("a text");
        let file = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("docs/pictures/{name}.svg"));
        if env::var_os("STOPWRIGHT_UPDATE").is_some() {
            fs::write(&file, drawn).expect("written");
        }
        let shown = fs::read_to_string(&file).expect("a picture");
        assert!(
            shown == drawn,
            "docs/pictures/{name}.svg is stale; see DEVELOPERS.md for the update command"
        );
    }
}

/// The value of a numeric attribute.
fn number(node: roxmltree::Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).expect(name).parse().expect("a number")
}

#[tokio::test]
async fn marks_are_at_their_stops() {
    let server = Server::start().await;
    // GN 40 m is f/8 at 5 m. The stops are those of the inverse square law, at the end of the axis beyond it.
    let wanted = [("near", 0.5), ("right", 5.0), ("far", 10.0), ("beyond", 200.0)];
    let placements: Vec<Value> = wanted
        .iter()
        .map(|(point, distance)| json!({"light": "a", "point": point, "distance": distance}))
        .collect();
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": {"guide_number": {"value": 40, "unit": "m"}}}],
        "placements": placements
    });
    let answer = draw(&server, "/v1/exposure/predict", &body).await;
    checked("marks", &answer);
    let picture = roxmltree::Document::parse(answer.body.as_str().expect("a text")).expect("a picture");
    let ticks: Vec<(f64, f64)> = picture
        .descendants()
        .filter(|node| node.attribute("text-anchor") == Some("middle"))
        .filter_map(|node| {
            let stops = node.text()?.replace('−', "-").replace('+', "");
            Some((stops.parse().ok()?, number(node, "x")))
        })
        .collect();
    let [(a, at_a), .., (b, at_b)] = ticks.as_slice() else { panic!("{ticks:?}") };
    let place = |stops: f64| at_a + (stops - a) / (b - a) * (at_b - at_a);
    for (stops, x) in &ticks {
        assert!((place(*stops) - x).abs() < 0.02, "{ticks:?}");
    }
    // The last circle belongs to the legend.
    let marks = picture.descendants().filter(|node| node.attribute("r") == Some("5"));
    let marks: Vec<f64> = marks.map(|mark| number(mark, "cx")).take(wanted.len()).collect();
    let ends =
        [f64::min, f64::max].map(|end| ticks.iter().map(|(stops, _)| *stops).reduce(end).expect("ticks"));
    for ((point, distance), mark) in wanted.iter().zip(&marks) {
        let stops = 2.0 * (5.0_f64 / distance).log2();
        let at = place(stops.clamp(ends[0], ends[1]));
        assert!((at - mark).abs() < 0.02, "{point}: {mark} in {ticks:?}");
    }
    assert!(
        picture.descendants().filter(|node| node.has_tag_name("polygon")).count() >= 1,
        "an arrow to what is beyond"
    );
}

#[tokio::test]
async fn a_plan_is_to_scale_and_a_light_may_have_two_positions() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 40, "unit": "m"}});
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [
            {"name": "a", "unit": unit, "position": [2, -1, 2]},
            {"name": "b", "unit": unit, "position": [-1, 1, 2]}
        ],
        "points": [{"name": "p", "position": [0, 0, 1]}, {"name": "q", "position": [1, 1, 1]}],
        "placements": [{"light": "b", "point": "q", "position": [-2, -1, -0.5]}]
    });
    let answer = draw(&server, "/v1/exposure/predict", &body).await;
    let texts = checked("a plan", &answer);
    assert!(texts.iter().any(|text| text.contains("2 m, −0.5 m up")), "{texts:?}");
    let picture = roxmltree::Document::parse(answer.body.as_str().expect("a text")).expect("a picture");
    // The letters are in the list first, and then in the plan, where those of positions are in the middle of their marks.
    let letters = |letter: &'static str| {
        let texts =
            picture.descendants().filter(move |node| node.text() == Some(letter) && node.is_element());
        texts.map(|node| [number(node, "x"), number(node, "y") - 5.0]).next_back().expect(letter)
    };
    let lights = ["A", "B", "B′"].map(letters);
    let points: Vec<[f64; 2]> = picture
        .descendants()
        .filter(|node| node.attribute("width") == Some("8") && node.attribute("height") == Some("8"))
        .filter(|node| node.attribute("x").is_some())
        .map(|node| [number(node, "x") + 4.0, number(node, "y") + 4.0])
        .collect();
    // The last is in the legend.
    let ([a, b, b2], [p, q, _]) = (&lights, points.as_slice()) else { panic!("{lights:?} {points:?}") };
    // One metre to the right and one metre away, which is up on the sheet.
    let metre = [q[0] - p[0], q[1] - p[1]];
    assert!(metre[0] > 10.0 && (metre[0] + metre[1]).abs() < 0.02, "{metre:?}");
    for (light, at) in [(a, [2.0, -1.0]), (b, [-1.0, 1.0]), (b2, [-2.0, -1.0])] {
        let expected = [p[0] + at[0] * metre[0], p[1] + at[1] * metre[1]];
        assert!((light[0] - expected[0]).hypot(light[1] - expected[1]) < 0.05, "{light:?} {expected:?}");
    }
}
