//! Every example of the OpenAPI document with one value replaced by nonsense: never a server error, always a problem
//! document or an answer (`support` checks both).

use serde_json::{Value, json};

use crate::support::Server;

/// Pointers to every value in a tree.
fn places(value: &Value, at: &str, into: &mut Vec<String>) {
    into.push(at.to_owned());
    match value {
        Value::Object(map) => {
            for (name, value) in map {
                places(value, &format!("{at}/{name}"), into);
            }
        }
        Value::Array(items) => {
            // The first two items of a list stand for the rest.
            for (index, value) in items.iter().take(2).enumerate() {
                places(value, &format!("{at}/{index}"), into);
            }
        }
        _ => {}
    }
}

#[tokio::test]
async fn no_single_nonsense_is_a_server_error() {
    let server = Server::start().await;
    let nonsense = [
        json!(null),
        json!(true),
        json!(0),
        json!(-1),
        json!(1e300),
        json!(1e-300),
        json!(0.5),
        json!("f/8"),
        json!("\u{2603} 1/0 -"),
        json!([]),
        json!([1, 2, 3]),
        json!({}),
    ];
    let mut asked = 0;
    for (topic, text) in stopwright::openapi::EXAMPLES {
        let examples: Vec<Value> = serde_json::from_str(text).expect("examples");
        for example in examples.iter().filter(|example| example["request"].is_object()) {
            let path = crate::support::document()["paths"]
                .as_object()
                .expect("paths")
                .iter()
                .find(|(_, methods)| methods["post"]["operationId"] == example["operation"])
                .map_or_else(
                    || panic!("{topic}: no path of {}", example["operation"]),
                    |(path, _)| path.clone(),
                );
            let mut request = example["request"].clone();
            if path.ends_with("/balance") {
                request["time_limit_ms"] = json!(20);
            }
            let mut all = Vec::new();
            places(&request, "", &mut all);
            // To save time: every third place of each example, another third for each kind of nonsense.
            for (index, place) in all.iter().enumerate() {
                for (kind, value) in nonsense.iter().enumerate() {
                    if (index + kind) % 3 != 0 {
                        continue;
                    }
                    let mut odd = request.clone();
                    *odd.pointer_mut(place).expect("a place") = value.clone();
                    let answer = server.post(&path, &odd).await;
                    assert!(answer.status < 500, "{path} with {place} = {value}: {}", answer.body);
                    assert_ne!(answer.status, 408, "{path} with {place} = {value}");
                    asked += 1;
                }
            }
        }
    }
    assert!(asked > 2000, "{asked}");
}
