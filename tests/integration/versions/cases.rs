//! A case of each kind of break, and of each change that breaks nothing.

use serde_json::{Value, json};

use super::breaks::breaks;

/// A document with one operation that asks for a ratio and answers a setting.
fn document() -> Value {
    json!({
        "paths": {"/v1/set": {"post": {
            "parameters": [{"$ref": "#/components/parameters/step"}],
            "requestBody": {"required": true, "content": {
                "application/json": {"schema": {"$ref": "#/components/schemas/Request"}}
            }},
            "responses": {
                "200": {
                    "headers": {"ETag": {"schema": {"type": "string"}}},
                    "content": {
                        "application/json": {"schema": {"$ref": "#/components/schemas/Answer"}},
                        "text/plain": {"schema": {"type": "string"}}
                    }
                },
                "422": {"$ref": "#/components/responses/422"}
            }
        }}},
        "components": {
            "parameters": {"step": {"name": "step", "in": "query", "schema": {"type": "string", "enum": ["1", "1/2"]}}},
            "responses": {"422": {"content": {"application/problem+json": {"schema": {"type": "object"}}}}},
            "schemas": {
                "Request": {
                    "type": "object", "additionalProperties": false, "required": ["ratio"],
                    "properties": {
                        "ratio": {"oneOf": [{"type": "number", "minimum": 1, "maximum": 64},
                            {"type": "string", "maxLength": 64, "pattern": "^[0-9:]+$"}]},
                        "prefer": {"oneOf": [{"$ref": "#/components/schemas/Prefer"}, {"type": "null"}]},
                        "lights": {"type": "array", "maxItems": 32, "items": {"$ref": "#/components/schemas/Light"}}
                    }
                },
                "Light": {"type": "object", "properties": {
                    "name": {"type": "string"}, "twin": {"$ref": "#/components/schemas/Light"}
                }},
                "Prefer": {"type": "string", "enum": ["accuracy", "least_energy"]},
                "Answer": {
                    "type": "object", "required": ["stops", "marks"],
                    "properties": {
                        "stops": {"type": "number"}, "note": {"type": "string"},
                        "marks": {"type": "array", "items": {"type": "integer"}},
                        "kind": {"type": "string", "enum": ["one"]}
                    }
                }
            }
        }
    })
}

const OPERATION: &str = "/paths/~1v1~1set/post";
const SCHEMAS: &str = "/components/schemas";

/// What breaks if the value at a place becomes another; `null` removes it.
fn changed(place: &str, value: Value) -> Vec<String> {
    let mut new = document();
    let (parent, name) = place.rsplit_once('/').expect("a place");
    let name = name.replace("~1", "/");
    match new.pointer_mut(parent).expect("the parent") {
        Value::Object(map) if value.is_null() => drop(map.remove(&name).expect("the value")),
        Value::Array(items) => items[name.parse::<usize>().expect("an index")] = value,
        map => map[name] = value,
    }
    breaks(&document(), &new)
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn every_kind_of_break_is_found() {
    let step = "/components/parameters/step";
    for (place, value, found) in [
        ("/paths/~1v1~1set".to_owned(), Value::Null, "POST /v1/set: is gone"),
        (OPERATION.to_owned(), Value::Null, "POST /v1/set: is gone"),
        (format!("{OPERATION}/parameters"), json!([]), "POST /v1/set parameter \"step\": is gone"),
        (format!("{step}/required"), json!(true), "POST /v1/set: parameter \"step\" is required now"),
        (
            format!("{step}/schema/enum"),
            json!(["1"]),
            "POST /v1/set parameter \"step\": may not be \"1/2\" any more",
        ),
        (
            format!("{OPERATION}/requestBody/content"),
            json!({}),
            "POST /v1/set request: application/json is gone",
        ),
        (format!("{SCHEMAS}/Request/properties/prefer"), Value::Null, "POST /v1/set request/prefer: is gone"),
        (
            format!("{SCHEMAS}/Request/required"),
            json!(["ratio", "prefer"]),
            "POST /v1/set request/prefer: is required now",
        ),
        (
            format!("{SCHEMAS}/Prefer/enum"),
            json!(["accuracy"]),
            "POST /v1/set request/prefer: may not be \"least_energy\" any more",
        ),
        (
            format!("{SCHEMAS}/Request/properties/prefer/oneOf"),
            json!([{"$ref": "#/components/schemas/Prefer"}]),
            "POST /v1/set request/prefer: may not be of type \"null\" any more",
        ),
        (
            format!("{SCHEMAS}/Request/properties/ratio/oneOf/0/type"),
            json!("integer"),
            "POST /v1/set request/ratio: may not be of type \"number\" any more",
        ),
        (
            format!("{SCHEMAS}/Request/properties/ratio/oneOf/0/minimum"),
            json!(2),
            "POST /v1/set request/ratio: minimum is 2 now",
        ),
        (
            format!("{SCHEMAS}/Request/properties/ratio/oneOf/0/maximum"),
            json!(63.5),
            "POST /v1/set request/ratio: maximum is 63.5 now",
        ),
        (
            format!("{SCHEMAS}/Request/properties/ratio/oneOf/1/maxLength"),
            json!(8),
            "POST /v1/set request/ratio: maxLength is 8 now",
        ),
        (
            format!("{SCHEMAS}/Request/properties/ratio/oneOf/1/minLength"),
            json!(2),
            "POST /v1/set request/ratio: minLength is 2 now",
        ),
        (
            format!("{SCHEMAS}/Request/properties/ratio/oneOf/1/pattern"),
            json!("^[0-9]$"),
            "POST /v1/set request/ratio: has another pattern",
        ),
        (
            format!("{SCHEMAS}/Request/properties/lights/maxItems"),
            json!(16),
            "POST /v1/set request/lights: maxItems is 16 now",
        ),
        (
            format!("{SCHEMAS}/Light/properties/name/enum"),
            json!(["key"]),
            "POST /v1/set request/lights/[]/name: may only be one of some words now",
        ),
        (
            format!("{SCHEMAS}/Light/required"),
            json!(["twin"]),
            "POST /v1/set request/lights/[]/twin: is required now",
        ),
        (format!("{OPERATION}/responses/422"), Value::Null, "POST /v1/set 422: is gone"),
        (
            format!("{OPERATION}/responses/200/headers/ETag"),
            Value::Null,
            "POST /v1/set 200: header ETag is gone",
        ),
        (
            format!("{OPERATION}/responses/200/content/text~1plain"),
            Value::Null,
            "POST /v1/set 200: text/plain is gone",
        ),
        (format!("{SCHEMAS}/Answer/properties/note"), Value::Null, "POST /v1/set 200/note: is gone"),
        (
            format!("{SCHEMAS}/Answer/required"),
            json!(["marks"]),
            "POST /v1/set 200/stops: may be left out now",
        ),
        (
            format!("{SCHEMAS}/Answer/properties/stops/type"),
            json!("string"),
            "POST /v1/set 200/stops: may be of type \"string\" now",
        ),
        (
            format!("{SCHEMAS}/Answer/properties/stops/type"),
            json!(["number", "null"]),
            "POST /v1/set 200/stops: may be of type \"null\" now",
        ),
        (
            format!("{SCHEMAS}/Answer/properties/marks/items/type"),
            json!("number"),
            "POST /v1/set 200/marks/[]: may be of type \"number\" now",
        ),
    ] {
        assert_eq!(changed(&place, value.clone()), [found], "{place} = {value}");
    }
}

#[test]
fn what_may_be_added_breaks_nothing() {
    assert_eq!(breaks(&document(), &document()), [""; 0]);
    for (place, value) in [
        ("/paths/~1v1~1other".to_owned(), json!({"get": {}})),
        (format!("{OPERATION}/responses/304"), json!({"description": "new"})),
        (format!("{OPERATION}/responses/200/content/image~1svg+xml"), json!({"schema": {"type": "string"}})),
        (format!("{SCHEMAS}/Request/properties/id"), json!({"type": "string"})),
        (format!("{SCHEMAS}/Request/required"), json!([])),
        (format!("{SCHEMAS}/Request/properties/ratio/oneOf/0/maximum"), json!(128)),
        (format!("{SCHEMAS}/Request/properties/ratio/oneOf/0"), json!({"type": "number"})),
        (format!("{SCHEMAS}/Request/properties/lights/maxItems"), json!(64)),
        (format!("{SCHEMAS}/Prefer/enum"), json!(["accuracy", "least_energy", "least_heat"])),
        (format!("{SCHEMAS}/Answer/properties/kind/enum"), json!(["one", "two"])),
        (format!("{SCHEMAS}/Answer/properties/unit"), json!({"type": "string"})),
        (format!("{SCHEMAS}/Answer/properties/stops/type"), json!("integer")),
        (format!("{SCHEMAS}/Answer/required"), json!(["stops", "marks", "note"])),
    ] {
        assert_eq!(changed(&place, value.clone()), [""; 0], "{place} = {value}");
    }
}

#[test]
fn writing_a_schema_in_place_breaks_nothing() {
    let mut new = document();
    let prefer = new["components"]["schemas"]["Prefer"].take();
    new["components"]["schemas"]["Request"]["properties"]["prefer"]["oneOf"][0] = prefer;
    assert_eq!(breaks(&document(), &new), [""; 0]);
}
