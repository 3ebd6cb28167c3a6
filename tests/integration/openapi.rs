//! The OpenAPI document: committed as served, complete, and true by every example.
//!
//! `STOPWRIGHT_UPDATE=1 cargo test --test integration` writes the answers of the examples and the
//! document anew; run it twice, since the examples are compiled in.

use std::{collections::BTreeSet, env, fs, num::NonZeroU32, path::PathBuf, sync::Arc};

use reqwest::Method;
use serde_json::{Map, Value};
use stopwright::server::{rate_limit::Rate, state::Config};

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

/// What a reference refers to; any other value is itself.
pub fn resolved(value: &Value) -> &Value {
    let named = value["$ref"].as_str().and_then(|path| document().pointer(&path[1..]));
    named.unwrap_or(value)
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
            let response = resolved(response);
            assert!(response["description"].as_str().is_some_and(|text| !text.is_empty()), "{at} {status}");
            for (media, content) in response["content"].as_object().into_iter().flatten() {
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
            let text = value.get("description").unwrap_or(&resolved(value)["description"]);
            let described = text.as_str().is_some_and(|text| !text.is_empty());
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

/// The path of an example, with its query.
fn address(operation: &Operation, example: &Value) -> String {
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
    path
}

/// The first example of an operation that is answered with 200.
fn first_example(operation: &Operation) -> Value {
    let all = stopwright::openapi::EXAMPLES.iter();
    let mut all = all.flat_map(|(_, text)| serde_json::from_str::<Vec<Value>>(text).expect("examples"));
    let is_first =
        |example: &Value| example["operation"] == operation.value["operationId"] && example["status"] == 200;
    all.find(is_first).unwrap_or_default()
}

async fn play(server: &Server, operation: &Operation, example: &Value) -> crate::support::Answer {
    let path = address(operation, example);
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

/// A service that limits rates answers each operation's first example with the headers of the document, and no other that
/// the document knows.
#[tokio::test]
async fn headers_are_sent_where_the_document_has_them() {
    let rate = Some(Arc::new(Rate::per_second(NonZeroU32::new(1000).expect("not 0"))));
    let server = Server::on(Config { rate, ..Config::default() }).await;
    let mut cached = 0;
    for operation in operations() {
        let at = format!("{} {}", operation.method, operation.path);
        let example = first_example(&operation);
        let answer = play(&server, &operation, &example).await;
        let has_headers = |answer: &crate::support::Answer, response: &Value| {
            for name in document()["components"]["headers"].as_object().expect("headers").keys() {
                let is_sent = answer.headers.contains_key(name);
                let is_known = response["headers"].get(name).is_some();
                // Small answers are not compressed, and need no Vary.
                let is_right = is_sent == is_known || name == "Vary" && is_known;
                assert!(is_right, "{at}, {}: {name}, sent: {is_sent}", answer.status);
            }
        };
        has_headers(&answer, &operation.value["responses"]["200"]);
        if let Some(not_modified) = operation.value["responses"].get("304") {
            let path = address(&operation, &example);
            let request = server.request(Method::GET, &path).header("if-none-match", answer.header("etag"));
            let answer = server.send(request).await;
            assert_eq!(answer.status, 304, "{at}");
            assert!(
                resolved(not_modified)["headers"].get("ETag").is_some()
                    && answer.headers.contains_key("etag")
            );
            cached += 1;
        }
    }
    assert!(cached > 5, "{cached}");
}

/// The statuses of an operation are those that its own shape and the layers around it can answer; tried where a test can.
#[tokio::test]
async fn statuses_in_the_document_are_answered() {
    let server = Server::start().await;
    for operation in operations() {
        let at = format!("{} {}", operation.method, operation.path);
        let has = |status: &str| operation.value["responses"].get(status).is_some();
        let example = first_example(&operation);
        let path = address(&operation, &example);
        let method = Method::from_bytes(operation.method.to_uppercase().as_bytes()).expect("a method");
        let ask = |path: &str| server.request(method.clone(), path);
        let json = |request: reqwest::RequestBuilder| request.header("content-type", "application/json");
        let picky = server.send(json(ask(&path)).header("accept", "image/png").body("{}")).await;
        assert_eq!(picky.status == 406, has("406"), "{at}: {}", picky.status);
        let odd = server.send(ask(&path).header("content-type", "text/csv").body("1;2")).await;
        assert_eq!(odd.status == 415, has("415"), "{at}: {}", odd.status);
        let long = server.send(json(ask(&path)).body(" ".repeat(300_000))).await;
        assert_eq!(long.status == 413, has("413"), "{at}: {}", long.status);
        let unknown = if operation.method == "get" {
            let mark = if path.contains('?') { '&' } else { '?' };
            server.send(ask(&format!("{path}{mark}tea=1"))).await
        } else {
            server.send(json(ask(&path)).body(r#"{"tea": 1}"#)).await
        };
        assert_eq!(unknown.status == 422, has("422"), "{at}: {}", unknown.status);
        let nowhere = server.send(ask(&operation.path.replace(['{', '}'], "~"))).await;
        assert_eq!(nowhere.status == 404, has("404"), "{at}: {}", nowhere.status);
        for status in ["400", "408", "500", "503"] {
            assert!(has(status), "{at}: {status}");
        }
        assert_eq!(has("401"), operation.path.starts_with("/v1/"), "{at}");
        assert_eq!(has("429"), has("401"), "{at}");
        assert!(!has("405"), "{at}");
    }
}

#[tokio::test]
async fn every_operation_has_an_example_in_the_document_that_replays() {
    let server = Server::start().await;
    for operation in operations() {
        let at = format!("{} {}", operation.method, operation.path);
        let mut played = 0;
        let success = &operation.value["responses"]["200"]["content"];
        for (status, response) in operation.value["responses"].as_object().expect("responses") {
            for (_, content) in response["content"].as_object().into_iter().flatten() {
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
