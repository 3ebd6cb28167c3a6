//! The OpenAPI document: committed as served, complete, and true by every example.
//!
//! `STOPWRIGHT_UPDATE=1 cargo test --test integration` writes the answers of the examples and the
//! document anew; run it twice, since the examples are compiled in.

use std::{collections::BTreeSet, env, fs, path::PathBuf};

use serde_json::{Map, Value};

use crate::support::{Server, document};

fn updating() -> bool {
    env::var_os("STOPWRIGHT_UPDATE").is_some()
}

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("openapi").join(name)
}

#[test]
fn the_committed_document_is_the_one_served() {
    let served = stopwright::openapi::document();
    if updating() {
        fs::write(file("openapi.json"), served).expect("written");
    }
    let committed = fs::read_to_string(file("openapi.json")).expect("openapi/openapi.json");
    assert!(committed == served, "openapi/openapi.json is stale; see DEVELOPERS.md for the update command");
}

/// One operation of the document.
struct Operation {
    method: String,
    path: String,
    value: Map<String, Value>,
}

fn operations() -> Vec<Operation> {
    let mut operations = Vec::new();
    for (path, methods) in document()["paths"].as_object().expect("paths") {
        for (method, value) in methods.as_object().expect("methods") {
            operations.push(Operation {
                method: method.clone(),
                path: path.clone(),
                value: value.as_object().expect("an operation").clone(),
            });
        }
    }
    operations
}

#[test]
fn every_operation_is_described() {
    let mut ids = BTreeSet::new();
    for Operation { method, path, value } in operations() {
        let at = format!("{method} {path}");
        let id = value["operationId"].as_str().expect("an id").to_owned();
        assert!(ids.insert(id), "{at}: operationId twice");
        assert!(value["summary"].as_str().is_some_and(|s| !s.is_empty()), "{at}: no summary");
        assert!(value["description"].as_str().is_some_and(|s| s.len() > 20), "{at}: no description");
        for (status, response) in value["responses"].as_object().expect("responses") {
            for (media, content) in response["content"].as_object().expect("content") {
                assert!(content.get("schema").is_some(), "{at} {status} {media}: no schema");
            }
        }
    }
}

#[test]
fn every_field_is_described() {
    let schemas = document()["components"]["schemas"].as_object().expect("schemas");
    for (name, schema) in schemas {
        for (field, value) in schema["properties"].as_object().into_iter().flatten() {
            let described = value["description"].as_str().is_some_and(|text| !text.is_empty());
            assert!(described, "{name}.{field} has no description");
        }
    }
}

#[test]
fn nothing_is_null_but_examples() {
    fn walk(value: &Value, at: &str) {
        match value {
            Value::Null => panic!("{at} is null"),
            Value::Object(map) => {
                for (name, value) in map.iter().filter(|(name, _)| *name != "examples") {
                    walk(value, &format!("{at}/{name}"));
                }
            }
            Value::Array(items) => items.iter().for_each(|item| walk(item, at)),
            _ => {}
        }
    }
    walk(document(), "");
}

#[test]
fn every_reference_points_somewhere() {
    fn walk(value: &Value) {
        match value {
            Value::Object(map) => {
                if let Some(path) = map.get("$ref").and_then(Value::as_str) {
                    assert!(document().pointer(&path[1..]).is_some(), "{path} is not there");
                }
                map.values().for_each(walk);
            }
            Value::Array(items) => items.iter().for_each(walk),
            _ => {}
        }
    }
    walk(document());
}

/// The answer without what differs from run to run.
fn lasting(mut value: Value) -> Value {
    match &mut value {
        Value::Object(map) => {
            for (name, inner) in map.iter_mut() {
                *inner = match name.as_str() {
                    "request_id" => "5f1c9e0a7d3b2846-00000001".into(),
                    _ => lasting(inner.take()),
                };
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| *item = lasting(item.take())),
        _ => {}
    }
    value
}

/// The same without the counts of searches.
pub fn alike(value: Value) -> Value {
    let mut value = lasting(value);
    if let Some(optimality) = value.get_mut("optimality").and_then(Value::as_object_mut) {
        optimality.remove("nodes");
    }
    value
}

#[tokio::test]
async fn every_example_answers_as_it_says() {
    let server = Server::start().await;
    for (topic, text) in stopwright::openapi::EXAMPLES {
        let mut examples: Vec<Value> = serde_json::from_str(text).expect("examples");
        for example in &mut examples {
            let operation = operations()
                .into_iter()
                .find(|operation| operation.value["operationId"] == example["operation"])
                .unwrap_or_else(|| panic!("no operation {}", example["operation"]));
            let answer = play(&server, &operation, example).await;
            let at = format!("{topic}: {}", example["name"]);
            if updating() {
                example["status"] = answer.status.into();
                example["response"] = lasting(answer.body);
            } else {
                assert_eq!(answer.status, example["status"], "{at}: {}", answer.body);
                assert_eq!(alike(answer.body), alike(example["response"].clone()), "{at}");
            }
        }
        if updating() {
            let mut text = serde_json::to_string_pretty(&examples).expect("JSON");
            text.push('\n');
            fs::write(file("examples").join(format!("{topic}.json")), text).expect("written");
        }
    }
}

async fn play(server: &Server, operation: &Operation, example: &Value) -> crate::support::Answer {
    let mut path = operation.path.clone();
    let mut query = Vec::new();
    for (name, value) in example["parameters"].as_object().into_iter().flatten() {
        let slot = format!("{{{name}}}");
        if path.contains(&slot) {
            path = path.replace(&slot, &text(value));
        } else {
            in_query(name, value, &mut query);
        }
    }
    if !query.is_empty() {
        path = format!("{path}?{}", query.join("&"));
    }
    match example.get("request") {
        Some(body) => server.post(&path, body).await,
        None => server.get(&path).await,
    }
}

fn text(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

/// A query parameter: objects in the style deepObject, lists separated by commas.
fn in_query(name: &str, value: &Value, query: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (field, value) in map {
                in_query(&format!("{name}[{field}]"), value, query);
            }
        }
        Value::Array(items) => {
            let items: Vec<String> = items.iter().map(|item| encode(&text(item))).collect();
            query.push(format!("{name}={}", items.join(",")));
        }
        value => query.push(format!("{name}={}", encode(&text(value)))),
    }
}

fn encode(text: &str) -> String {
    text.replace('%', "%25").replace('+', "%2B").replace(' ', "%20")
}

#[tokio::test]
async fn every_operation_has_an_example_in_the_document_that_replays() {
    let server = Server::start().await;
    for operation in operations() {
        let at = format!("{} {}", operation.method, operation.path);
        let mut played = 0;
        let success = &operation.value["responses"]["200"]["content"];
        for (status, response) in operation.value["responses"].as_object().expect("responses") {
            for (_, content) in response["content"].as_object().expect("content") {
                for (name, shown) in content["examples"].as_object().into_iter().flatten() {
                    let mut example = Map::new();
                    let body = operation
                        .value
                        .get("requestBody")
                        .map(|body| body["content"]["application/json"]["examples"][name]["value"].clone());
                    if let Some(body) = body {
                        assert!(!body.is_null(), "{at}: {name} has no request");
                        example.insert("request".to_owned(), body);
                    }
                    let parameters: Map<String, Value> = operation
                        .value
                        .get("parameters")
                        .and_then(Value::as_array)
                        .into_iter()
                        .flatten()
                        .filter_map(|parameter| {
                            let value = parameter["examples"].get(name)?["value"].clone();
                            Some((parameter["name"].as_str()?.to_owned(), value))
                        })
                        .collect();
                    example.insert("parameters".to_owned(), Value::Object(parameters));
                    let answer = play(&server, &operation, &Value::Object(example)).await;
                    if !updating() {
                        assert_eq!(answer.status.to_string(), *status, "{at}: {name}");
                        assert_eq!(alike(answer.body), alike(shown["value"].clone()), "{at}: {name}");
                    }
                    played += 1;
                }
            }
        }
        let exempt = operation.path == "/openapi.json" || operation.path == "/";
        assert!(played > 0 || exempt || updating(), "{at} has no example: {success}");
    }
}
