//! `/v1/codes`, and codes in answers.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::support::{
    Server,
    codes::{check, rows, visit},
};

#[tokio::test]
async fn every_code_is_listed_once_with_what_its_text_needs() {
    let server = Server::start().await;
    let answer = server.get("/v1/codes").await;
    assert_eq!(answer.status, 200);
    assert!(answer.header("cache-control").contains("max-age"), "{:?}", answer.headers);
    let listed = answer.body["codes"].as_array().expect("codes");
    assert_eq!(listed.len(), rows().len(), "no code twice");
    let kinds: BTreeSet<&str> = listed.iter().filter_map(|row| row["kind"].as_str()).collect();
    assert_eq!(
        kinds.into_iter().collect::<Vec<_>>(),
        ["assumption", "caution", "change", "fault", "warning"]
    );
    for row in listed {
        let code = row["code"].as_str().expect("a code");
        assert!(code.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'), "{code}");
        let templates = ["template", "template_one", "expected", "name", "source"];
        let templates: Vec<&str> = templates.iter().filter_map(|name| row[*name].as_str()).collect();
        let named: BTreeSet<&str> = templates
            .iter()
            .flat_map(|template| template.split('{').skip(1).filter_map(|rest| rest.split_once('}')))
            .map(|(name, _)| name)
            .collect();
        let params = row["params"].as_array().expect("params").iter().filter_map(Value::as_str);
        assert_eq!(named, params.collect(), "{row}");
        assert_eq!(row.get("source").is_some(), row["kind"] == "assumption", "{row}");
    }
    let changes = server.get("/v1/codes?kind=change").await;
    let is_change = |row: &&Value| row["kind"] == "change";
    assert_eq!(changes.body["codes"], listed.iter().filter(is_change).cloned().collect::<Value>());
    let schemas = &crate::support::document()["components"]["schemas"];
    for (name, kind) in
        [("Warning", "warning"), ("Caution", "caution"), ("Assumption", "assumption"), ("Fault", "fault")]
    {
        let of_kind: Vec<&Value> =
            listed.iter().filter(|row| row["kind"] == kind).map(|row| &row["code"]).collect();
        let schema = schemas[format!("{name}Code")]["enum"].as_array().expect("an enumeration");
        assert_eq!(schema.iter().collect::<Vec<_>>(), of_kind);
    }
}

#[test]
fn examples_and_committed_answers_have_listed_codes() {
    let mut seen = BTreeSet::new();
    for (_, text) in stopwright::openapi::EXAMPLES {
        let examples: Value = serde_json::from_str(text).expect("examples");
        check(&examples);
        visit(&examples, &mut |_, one| _ = seen.insert(one["code"].to_string()));
    }
    assert!(seen.len() > 30, "{seen:?}");
}

/// The codes of the faults in a problem.
fn faults(problem: &Value) -> Vec<&str> {
    let errors = problem["errors"].as_array().expect("errors").iter();
    errors.filter_map(|error| error["code"].as_str()).collect()
}

#[tokio::test]
async fn each_kind_of_fault_has_its_code() {
    let server = Server::start().await;
    let convert = |body: Value| ("/v1/stops/convert", body);
    let between = |from: &str, to: &str| ("/v1/stops/convert", json!({"from": from, "to": to}));
    let unit = |unit: Value| ("/v1/energy/equivalence", json!({"reference": {"unit": unit}}));
    let set = |field: &str, value: Value| {
        let head = json!({"energy": 500, "guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
        let mut body = json!({
            "exposure": {"f_number": "f/8"},
            "lights": [{"name": "a", "unit": head}, {"name": "b", "unit": head}],
            "points": [{"name": "p", "target": {"stops": 0}}],
            "readings": [{"light": "a", "point": "p", "setting": "9", "f_number": 8}, {"light": "b", "point": "p", "setting": "9", "f_number": 8}]
        });
        *body.pointer_mut(field).expect("a field") = value;
        ("/v1/ratios/balance", body)
    };
    let cases = [
        ("missing", convert(json!({}))),
        ("unknown_field", convert(json!({"from": "f/8", "to": "f/11", "two": 2}))),
        ("wrong_type", convert(json!([]))),
        // It is no whole number, however near to zero.
        (
            "wrong_type",
            ("/v1/patches/compare", json!({"reference": 1, "readings": [{"id": 3e-42, "level": 2}]})),
        ),
        ("unreadable", between("f/-2", "f/8")),
        ("comma", between("f/5,6", "f/8")),
        ("divides_by_zero", between("1/0 s", "1/8 s")),
        ("missing_sign", between("f/8  0.3", "f/8")),
        ("no_kind", between("nonsense", "nonsense")),
        ("bare_number", convert(json!({"from": 8, "to": 11}))),
        ("different_kinds", between("f/8", "1/60 s")),
        ("out_of_range", between("f/0", "f/8")),
        ("shift_out_of_range", convert(json!({"from": "f/8", "shift": 50}))),
        ("too_long", between(&"8".repeat(65), "f/8")),
        ("unknown_word", convert(json!({"from": 8, "to": 11, "kind": "odd"}))),
        ("conflict", convert(json!({"from": "f/8", "to": "f/11", "shift": 1}))),
        ("no_output", unit(json!({}))),
        (
            "full_without_dial",
            unit(json!({"energy": 500, "scale": {"style": "percent", "full": 9, "least": "1 %"}})),
        ),
        ("dial_without_full", unit(json!({"energy": 500, "scale": {"style": "dial", "least": "2"}}))),
        (
            "joules_without_energy",
            unit(
                json!({"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "joules", "least": "10 J"}}),
            ),
        ),
        ("empty_text", set("/lights/0/name", json!(""))),
        ("duplicate_name", set("/lights/1/name", json!("a"))),
        ("unknown_name", set("/readings/0/light", json!("c"))),
        ("not_a_label", set("/readings/0/setting", json!("odd"))),
        ("beyond_scale", set("/readings/0/setting", json!("12"))),
        ("too_few", set("/lights", json!([]))),
        ("too_many", set("/points", json!(vec![json!({"name": "p", "target": {"stops": 0}}); 65]))),
        ("stated_twice", set("/readings/1/light", json!("a"))),
        ("no_direction", ("/v1/exposure/predict", json!({"points": [{"name": "p", "normal": [0, 0, 0]}]}))),
        (
            "not_whole",
            (
                "/v1/patches/compare",
                json!({"reference": 1, "readings": [{"name": "a", "level": 2}], "bits": 8.5}),
            ),
        ),
        (
            "unknown_bits",
            (
                "/v1/patches/compare",
                json!({"reference": 1, "readings": [{"name": "a", "level": 2}], "bits": 12}),
            ),
        ),
        (
            "duplicate_id",
            (
                "/v1/patches/compare",
                json!({"reference": 1, "readings": [{"id": 1, "level": 2}, {"id": "1", "level": 3}]}),
            ),
        ),
        (
            "gel_adds_light",
            (
                "/v1/colour/gel",
                json!({"from_k": 5600, "to_k": 3200, "gels": [{"name": "a", "mired": 60, "stops": 1}]}),
            ),
        ),
    ];
    for (code, (path, body)) in cases {
        let answer = server.post(path, &body).await;
        assert!(faults(&answer.body).contains(&code), "{code}: {}", answer.body);
    }
    for (code, query) in
        [("bare_percent", "from=%zz"), ("not_utf8", "from=%ff"), ("unreadable", "from=f/-1&to=f/8")]
    {
        let answer = server.get(&format!("/v1/stops/convert?{query}")).await;
        assert_eq!(faults(&answer.body), [code], "{}", answer.body);
    }
    let broken =
        server.request(reqwest::Method::POST, "/v1/stops/convert").header("content-type", "application/json");
    assert_eq!(faults(&server.send(broken.body("{")).await.body), ["not_json"]);
}

#[tokio::test]
async fn remarks_say_what_they_are_about() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 40, "unit": "m"}});
    let light = |name: &str, unit: &Value| json!({"name": name, "unit": unit});
    let reading = |light: &str| json!({"light": light, "point": "p", "setting": "1/1", "f_number": 8});
    let dial = json!({"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}});
    let ask = async |lights: Value| {
        let body = json!({
            "exposure": {"f_number": "f/8"},
            "lights": lights,
            "points": [{"name": "p", "target": {"stops": 0}}],
            "readings": [reading("a"), reading("b")]
        });
        let answer = server.ask("/v1/ratios/balance", body).await;
        let warnings = answer["warnings"].as_array().expect("warnings").iter();
        let mut found = warnings.filter(|warning| warning["code"] == "continuous_scale");
        found.next().expect("a warning")["at"].clone()
    };
    let mut fixed = light("a", &dial);
    fixed["unit"]["scale"] = json!({"style": "fraction", "least": "1/16"});
    assert_eq!(ask(json!([fixed, light("b", &unit)])).await, "/lights/1");
    assert_eq!(ask(json!([light("a", &unit), light("b", &unit)])).await, "/lights");
}
