//! Properties of the document that give generated clients good types. `tests/clients/run` generates clients; this
//! needs no generator.

use std::collections::BTreeSet;

use serde_json::{Map, Value};

use crate::{openapi::resolved, support::document};

fn schemas() -> &'static Map<String, Value> {
    document()["components"]["schemas"].as_object().expect("schemas")
}

/// Every operation, by its id.
fn operations() -> impl Iterator<Item = (&'static str, &'static Value)> {
    let paths = document()["paths"].as_object().expect("paths");
    let operations = paths.values().flat_map(|path| path.as_object().expect("methods").values());
    operations.map(|operation| (operation["operationId"].as_str().expect("an id"), operation))
}

/// Visits every object of the document below a value, with its place; examples are left out.
fn each(value: &'static Value, at: &str, look: &mut impl FnMut(&'static Map<String, Value>, &str)) {
    match value {
        Value::Object(map) => {
            look(map, at);
            for (name, inner) in map.iter().filter(|(name, _)| *name != "examples") {
                each(inner, &format!("{at}/{name}"), look);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| each(item, at, look)),
        _ => {}
    }
}

/// Collects the names of the schemas that a value uses.
fn used(value: &'static Value, names: &mut BTreeSet<&'static str>) {
    each(value, "", &mut |map, _| {
        let Some(path) = map.get("$ref").and_then(Value::as_str) else { return };
        let to = document().pointer(&path[1..]).expect("the reference points somewhere");
        match path.strip_prefix("#/components/schemas/") {
            Some(name) if !names.insert(name) => {}
            _ => used(to, names),
        }
    });
}

fn is_null(schema: &Value) -> bool {
    schema == "null" || schema["type"] == "null"
}

/// Whether it is a value or null, which needs no name.
fn is_nullable(schema: &Map<String, Value>) -> bool {
    ["type", "oneOf"].iter().filter_map(|name| schema.get(*name)?.as_array()).flatten().any(is_null)
}

#[test]
fn schemas_that_a_generator_would_name_have_names() {
    let mut look = |schema: &Map<String, Value>, at: &str| {
        let union = ["oneOf", "anyOf"].iter().find_map(|name| schema.get(*name)?.as_array());
        if let Some(union) = union {
            let one = union.iter().filter(|branch| !is_null(branch)).count() == 1;
            assert!(one && is_nullable(schema), "{at}: a union without a name");
        }
        assert!(!schema.contains_key("enum"), "{at}: words without a name");
        assert!(schema.get("type").is_none_or(|kind| kind != "object"), "{at}: an object without a name");
    };
    for (name, schema) in schemas() {
        for (field, value) in schema.as_object().expect("a schema") {
            // The parts of a named union, and the two parts of a combined object, need no names.
            let parts: Vec<&Value> = match field.as_str() {
                "oneOf" | "anyOf" => value.as_array().expect("parts").iter().collect(),
                "allOf" => value
                    .as_array()
                    .expect("parts")
                    .iter()
                    .filter_map(|part| part.get("properties"))
                    .collect(),
                "properties" | "items" => vec![value],
                _ => continue,
            };
            for part in parts {
                each(part, &format!("{name}/{field}"), &mut look);
            }
        }
    }
    for (id, operation) in operations() {
        each(&operation["requestBody"], id, &mut look);
        each(&operation["parameters"], id, &mut look);
        each(&operation["responses"], id, &mut look);
    }
}

#[test]
fn schemas_have_names_and_descriptions() {
    for (name, schema) in schemas() {
        assert!(name.starts_with(|first: char| first.is_ascii_uppercase()), "{name}");
        assert!(name.chars().all(|letter| letter.is_ascii_alphabetic()), "{name}");
        let description = schema["description"].as_str().unwrap_or_default();
        assert!(description.len() > 4 && description != "The answer.", "{name} is not described");
    }
}

#[test]
fn operation_ids_begin_with_the_verb_of_their_summary() {
    for (id, operation) in operations() {
        let verb =
            operation["summary"].as_str().and_then(|summary| summary.split(' ').next()).expect("a verb");
        assert!(id.chars().all(|letter| letter.is_ascii_lowercase() || letter == '_'), "{id}");
        assert!(id.starts_with(&format!("{}_", verb.to_lowercase())), "{id}: {verb}");
    }
}

#[test]
fn generators_that_take_the_first_media_type_take_json() {
    for (id, operation) in operations() {
        for (status, response) in operation["responses"].as_object().expect("responses") {
            let Some(content) = resolved(response)["content"].as_object() else { continue };
            let wanted = if status == "200" { "application/json" } else { "application/problem+json" };
            assert_eq!(content.keys().next().map(String::as_str), Some(wanted), "{id}: {status}");
            let problem = content["application/problem+json".min(wanted)].get("schema").expect("a schema");
            assert!(problem.get("$ref").is_some(), "{id}: {status} has no name");
        }
    }
}

#[test]
fn optional_fields_of_answers_are_never_null() {
    let (mut requested, mut answered) = (BTreeSet::new(), BTreeSet::new());
    for (_, operation) in operations() {
        used(&operation["requestBody"], &mut requested);
        used(&operation["parameters"], &mut requested);
        used(&operation["responses"], &mut answered);
    }
    for name in answered.difference(&requested) {
        each(&schemas()[*name], name, &mut |schema, at| {
            for (field, value) in schema.get("properties").and_then(Value::as_object).into_iter().flatten() {
                let required = schema
                    .get("required")
                    .and_then(Value::as_array)
                    .is_some_and(|names| names.contains(&field.as_str().into()));
                assert!(required || !is_nullable(value.as_object().expect("a schema")), "{at}: {field}");
            }
        });
    }
}

#[test]
fn no_field_has_a_default_that_a_generator_would_demand() {
    for (name, schema) in schemas() {
        each(schema, name, &mut |schema, at| assert!(!schema.contains_key("default"), "{at}"));
    }
}

#[test]
fn answers_in_the_document_fit_their_schemas() {
    let mut seen = 0;
    for (id, operation) in operations() {
        for (status, response) in operation["responses"].as_object().expect("responses") {
            for content in response["content"].as_object().into_iter().flat_map(Map::values) {
                for (name, example) in
                    content.get("examples").and_then(Value::as_object).into_iter().flatten()
                {
                    if let Err(wrong) = fits(&example["value"], &content["schema"]) {
                        panic!("{id}, {status}, {name}: {wrong}");
                    }
                    seen += 1;
                }
            }
        }
    }
    // The refused ones, which the document does not have.
    let all = stopwright::openapi::EXAMPLES.iter();
    let all = all.flat_map(|(_, text)| serde_json::from_str::<Vec<Value>>(text).expect("examples"));
    for example in all.filter(|example| example["status"] != 200) {
        if let Err(wrong) = fits(&example["response"], &schemas()["Problem"]) {
            panic!("{}: {wrong}", example["name"]);
        }
        seen += 1;
    }
    assert!(seen > 50, "{seen} examples");
}

/// Whether a value matches a schema: the part of JSON Schema that the document's answers use. Names that the schema
/// does not know are an error, so that no field goes without a type.
fn fits(value: &Value, schema: &Value) -> Result<(), String> {
    if let Some(branches) = schema["oneOf"].as_array() {
        let fitting = branches.iter().filter(|branch| fits(value, branch).is_ok()).count();
        return if fitting == 1 { Ok(()) } else { Err(format!("{value} fits {fitting} of {branches:?}")) };
    }
    let (fields, required) = object(schema);
    if !fields.is_empty() {
        let entries = value.as_object().ok_or_else(|| format!("{value} is no object"))?;
        if let Some(missing) = required.iter().find(|name| !entries.contains_key(**name)) {
            return Err(format!("no {missing} in {value}"));
        }
        for (name, inner) in entries {
            let (_, field) =
                fields.iter().find(|(known, _)| known == name).ok_or_else(|| format!("unknown: {name}"))?;
            fits(inner, field).map_err(|wrong| format!("{name}: {wrong}"))?;
        }
        return Ok(());
    }
    let schema = resolved(schema);
    if schema.get("oneOf").is_some() {
        return fits(value, schema);
    }
    if let Some(words) = schema["enum"].as_array() {
        return if words.contains(value) { Ok(()) } else { Err(format!("{value} is not in {words:?}")) };
    }
    let is = |kind: &Value| match kind.as_str().unwrap_or_default() {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_i64(),
        "number" => value.is_number(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        _ => value.is_object(),
    };
    // A schema without a type takes every value.
    if schema.get("type").is_none()
        && schema.as_object().is_some_and(|schema| schema.keys().all(|key| key == "description"))
    {
        return Ok(());
    }
    let kinds =
        schema["type"].as_array().map_or_else(|| vec![&schema["type"]], |kinds| kinds.iter().collect());
    if !kinds.into_iter().any(is) {
        return Err(format!("{value} is no {}", schema["type"]));
    }
    value.as_array().into_iter().flatten().try_for_each(|item| fits(item, &schema["items"]))
}

/// The fields of an object and its required fields, with those of its parts.
fn object(schema: &Value) -> (Vec<(&str, &Value)>, Vec<&str>) {
    let schema = resolved(schema);
    let own = schema["properties"].as_object().into_iter().flatten();
    let mut fields: Vec<_> = own.map(|(name, field)| (name.as_str(), field)).collect();
    let mut required: Vec<_> =
        schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    for (more, musts) in schema["allOf"].as_array().into_iter().flatten().map(object) {
        fields.extend(more);
        required.extend(musts);
    }
    (fields, required)
}
