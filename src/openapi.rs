//! The OpenAPI document: made by utoipa from the handlers, with the examples of `openapi/examples`.

mod clients;

use std::sync::LazyLock;

use serde_json::{Value, json};
use utoipa::{IntoParams, OpenApi, PartialSchema, openapi::path::ParameterIn};

use crate::{
    endpoints::{self, registry, service::Endpoint},
    request::{
        format::{self, AnswerFormat, FormatInput, TextFormat},
        options::RulesInput,
    },
    server::{negotiation, problem::ProblemDocument, state::Routes},
};

/// What the document says of the service as a whole.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Stopwright",
        description = "The lighting arithmetic of a flash studio. A JSON number is in the unit that its field names; a JSON string is what the trade writes (\"f/5.6\", \"1/200 s\", \"8 ft 6 in\"). In answers a quantity is a number, with the unit in the name; a mark or label beside it is what a person dials. Stops are exposure: + is brighter. Errors are problem documents (RFC 9457) that list every fault."
    ),
    servers((url = "/", description = "This server")),
    tags(
        (name = "stops", description = "Stops, marks and conversions"),
        (name = "energy", description = "Energies and guide numbers of flash units"),
        (name = "planning", description = "Before the day: what a kit can do"),
        (name = "measuring", description = "What patches, meters and calibrations say; motion, ambient light, colour"),
        (name = "ratios", description = "Sets of lights: balanced to ratios, predicted, falling off"),
        (name = "service", description = "The service itself")
    ),
    components(schemas(
        ProblemDocument,
        crate::endpoints::marks::MarksKind,
        crate::request::fields::StatedRange,
        AnswerFormat,
        TextFormat,
        crate::light::quantity::rules::Reading,
        crate::light::quantity::marks::Step,
        crate::light::quantity::units::Units,
        crate::request::schema::CoordinateInput,
        crate::request::schema::StopsInput,
        crate::request::schema::ModifierKindInput
    ))
)]
struct Frame;

/// The document without paths.
fn frame() -> utoipa::openapi::OpenApi {
    Frame::openapi()
}

/// The OpenAPI document of all of them, as utoipa collects it.
fn collected() -> utoipa::openapi::OpenApi {
    let table = Routes::with_openapi(frame());
    endpoints::TOPICS.iter().fold(table, |table, topic| table.merge(topic())).into_openapi()
}

/// The examples: one file a topic, replayed by a test.
pub const EXAMPLES: &[(&str, &str)] = &[
    ("ambient", include_str!("../openapi/examples/ambient.json")),
    ("batch", include_str!("../openapi/examples/batch.json")),
    ("balance", include_str!("../openapi/examples/balance.json")),
    ("calibrate", include_str!("../openapi/examples/calibrate.json")),
    ("colour", include_str!("../openapi/examples/colour.json")),
    ("energy", include_str!("../openapi/examples/energy.json")),
    ("falloff", include_str!("../openapi/examples/falloff.json")),
    ("guide", include_str!("../openapi/examples/guide.json")),
    ("home", include_str!("../openapi/examples/home.json")),
    ("kit", include_str!("../openapi/examples/kit.json")),
    ("marks", include_str!("../openapi/examples/marks.json")),
    ("modifiers", include_str!("../openapi/examples/modifiers.json")),
    ("motion", include_str!("../openapi/examples/motion.json")),
    ("patches", include_str!("../openapi/examples/patches.json")),
    ("predict", include_str!("../openapi/examples/predict.json")),
    ("supply", include_str!("../openapi/examples/supply.json")),
    ("stops", include_str!("../openapi/examples/stops.json")),
];

/// The document as JSON, as it is served.
pub fn document() -> &'static str {
    static DOCUMENT: LazyLock<String> = LazyLock::new(|| {
        let mut document = serde_json::to_value(collected()).unwrap_or_default();
        allow_keys(&mut document);
        add_rules(&mut document);
        close_requests(&mut document);
        add_forms(&mut document);
        leave_out_nulls(&mut document);
        clients::suit(&mut document);
        let examples: Vec<Value> = EXAMPLES
            .iter()
            .filter_map(|(_, text)| serde_json::from_str::<Vec<Value>>(text).ok())
            .flatten()
            .collect();
        if let Some(paths) = document["paths"].as_object_mut() {
            for operation in paths.values_mut().filter_map(Value::as_object_mut).flat_map(|p| p.values_mut())
            {
                let id = operation["operationId"].clone();
                for example in examples.iter().filter(|example| example["operation"] == id) {
                    add(operation, example);
                }
            }
        }
        let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
        text.push('\n');
        text
    });
    &DOCUMENT
}

/// The same, to look things up in; not kept, for it takes some megabytes.
pub fn parsed() -> Value {
    serde_json::from_str(document()).unwrap_or_default()
}

/// Every operation of the document, for the index and the front page.
pub fn operations() -> Vec<Endpoint> {
    let document = parsed();
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let mut endpoints = Vec::new();
    for (path, operations) in document["paths"].as_object().into_iter().flatten() {
        for (method, operation) in operations.as_object().into_iter().flatten() {
            endpoints.push(Endpoint {
                method: method.to_uppercase(),
                path: path.clone(),
                summary: text(&operation["summary"]),
                tag: text(&operation["tags"][0]),
                id: text(&operation["operationId"]),
            });
        }
    }
    endpoints
}

/// Puts one example into its operation: the request's parts and the response's body.
fn add(operation: &mut Value, example: &Value) {
    let Some(name) = example["name"].as_str() else {
        return;
    };
    let shown = |value: &Value| json!({"summary": example["summary"], "value": value});
    if let Some(body) = example.get("request") {
        operation["requestBody"]["content"]["application/json"]["examples"][name] = shown(body);
    }
    if let (Some(given), Some(parameters)) =
        (example["parameters"].as_object(), operation.get_mut("parameters").and_then(Value::as_array_mut))
    {
        for parameter in parameters {
            if let Some(value) = parameter["name"].as_str().and_then(|name| given.get(name)) {
                parameter["examples"][name] = shown(value);
            }
        }
    }
    let status = example["status"].to_string();
    let content = &mut operation["responses"][&status]["content"];
    if let Some(content) = content.as_object_mut().and_then(|content| content.values_mut().next()) {
        content["examples"][name] = shown(&example["response"]);
    }
}

/// Says that calculations take a key, which a service that is open to all does not ask for. It holds for the whole
/// document but for what is open always: some generators take a key that an operation names for one that it must have.
fn allow_keys(document: &mut Value) {
    document["security"] = json!([{}, {"key": []}]);
    document["components"]["securitySchemes"]["key"] = json!({
        "type": "http", "scheme": "bearer",
        "description": "A key of this service, where it asks for one; whoever runs it gives keys out."
    });
    let paths = document["paths"].as_object_mut().into_iter().flatten();
    for (_, path) in paths.filter(|(path, _)| !path.starts_with("/v1/")) {
        for operation in path.as_object_mut().into_iter().flat_map(|path| path.values_mut()) {
            operation["security"] = json!([]);
        }
    }
}

/// Adds to every request of a calculation what all may say.
fn add_rules(document: &mut Value) {
    let fields = serde_json::to_value(RulesInput::schema()).unwrap_or_default();
    let mut parameters = RulesInput::into_params(|| Some(ParameterIn::Query));
    parameters.extend(FormatInput::into_params(|| Some(ParameterIn::Query)));
    let parameters = serde_json::to_value(parameters).unwrap_or_default();
    let mut bodies: Vec<String> = Vec::new();
    let paths = document["paths"].as_object_mut().into_iter().flatten();
    for (path, methods) in paths.filter(|(path, _)| path.starts_with("/v1/") && *path != "/v1/batch") {
        for (method, operation) in methods.as_object_mut().into_iter().flatten() {
            let schema = operation["requestBody"].pointer("/content/application~1json/schema/$ref");
            if let Some(name) = schema.and_then(Value::as_str).and_then(|path| path.rsplit('/').next()) {
                bodies.push(name.to_owned());
            } else if method == "get" {
                let all = operation["parameters"].as_array().into_iter().chain(parameters.as_array());
                operation["parameters"] = all.flatten().cloned().collect();
                if !registry::is_drawn(path)
                    && let Some(parameters) = operation["parameters"].as_array_mut()
                    && let Some(form) =
                        parameters.iter_mut().find(|parameter| parameter["name"] == format::NAME)
                {
                    form["schema"] = json!({"$ref": "#/components/schemas/WrittenForm"});
                }
            }
        }
    }
    for name in bodies {
        let Some(schema) = document["components"]["schemas"].get_mut(name) else { continue };
        for (name, field) in fields["properties"].as_object().into_iter().flatten() {
            schema["properties"][name] = field.clone();
        }
    }
}

/// Says of every answer of a calculation that it may be had as text, and of those that are drawn, as a picture; a
/// batch has answers of its own.
fn add_forms(document: &mut Value) {
    let paths = document["paths"].as_object_mut().into_iter().flatten();
    for (path, operations) in paths.filter(|(path, _)| path.starts_with("/v1/") && *path != "/v1/batch") {
        let is_drawn = registry::is_drawn(path);
        for operation in operations.as_object_mut().into_iter().flat_map(|path| path.values_mut()) {
            let content = operation.pointer_mut("/responses/200/content").and_then(Value::as_object_mut);
            let forms = [Some(negotiation::TEXT), is_drawn.then_some(negotiation::SVG)];
            if let Some(content) = content {
                let forms = forms.into_iter().flatten();
                content.extend(forms.map(|form| (form.to_owned(), json!({"schema": {"type": "string"}}))));
            }
        }
    }
}

/// Says of every object in a request that it takes no other names, as the reader does.
fn close_requests(document: &mut Value) {
    let mut waiting: Vec<Value> = Vec::new();
    for operation in
        document["paths"].as_object().into_iter().flatten().filter_map(|(_, p)| p.as_object()).flatten()
    {
        waiting.push(operation.1["requestBody"].clone());
    }
    while let Some(part) = waiting.pop() {
        if let Some(name) = part["$ref"].as_str().and_then(|path| path.rsplit('/').next()) {
            let Some(schema) = document["components"]["schemas"].get_mut(name) else { continue };
            if schema["type"] == "object" && schema.get("additionalProperties").is_none() {
                schema["additionalProperties"] = json!(false);
                waiting.push(schema.clone());
            } else if schema.get("oneOf").is_some() || schema.get("anyOf").is_some() {
                waiting.push(schema.clone());
            }
        }
        match part {
            Value::Object(map) => waiting.extend(map.into_iter().map(|(_, value)| value)),
            Value::Array(items) => waiting.extend(items),
            _ => {}
        }
    }
}

/// A query parameter is left out rather than null.
fn leave_out_nulls(document: &mut Value) {
    let paths = document["paths"].as_object_mut().into_iter().flat_map(|map| map.values_mut());
    for operation in paths.filter_map(Value::as_object_mut).flat_map(|map| map.values_mut()) {
        for parameter in operation.get_mut("parameters").and_then(Value::as_array_mut).into_iter().flatten() {
            if parameter.pointer("/schema/oneOf/1/type").is_some_and(|kind| kind == "null")
                && let Some(schema) = parameter.pointer_mut("/schema/oneOf/0").map(Value::take)
            {
                parameter["schema"] = schema;
            }
        }
    }
}
