//! Changes that help client generators produce good types. They do not change which requests are valid.

use std::collections::BTreeSet;

use serde_json::{Value, json};

/// Adapts the document for client generators.
pub fn adapt(document: &mut Value) {
    require_nullable_fields(document);
    walk(document, &mut |value| {
        lift_description(value);
        name_generics(value);
    });
    if let Some(schemas) = document["components"]["schemas"].as_object_mut() {
        *schemas = std::mem::take(schemas)
            .into_iter()
            .map(|(name, schema)| (generic_name(&name).unwrap_or(name), schema))
            .collect();
    }
}

/// Makes nullable fields of answers required. Answers always contain them; only fields that are never null may be
/// absent. A field that was both would have two ways to say nothing.
fn require_nullable_fields(document: &mut Value) {
    let (mut in_requests, mut in_responses) = (BTreeSet::new(), BTreeSet::new());
    for operation in
        document["paths"].as_object().into_iter().flatten().filter_map(|(_, path)| path.as_object()).flatten()
    {
        collect_schemas(document, &operation.1["requestBody"], &mut in_requests);
        collect_schemas(document, &operation.1["parameters"], &mut in_requests);
        collect_schemas(document, &operation.1["responses"], &mut in_responses);
    }
    for name in in_responses.difference(&in_requests) {
        walk(&mut document["components"]["schemas"][name], &mut |schema| {
            let fields = schema["properties"].as_object().into_iter().flatten();
            let nullable: Vec<Value> =
                fields.filter(|(_, field)| is_nullable(field)).map(|(name, _)| json!(name)).collect();
            if !nullable.is_empty() {
                let required = schema["required"].as_array().into_iter().flatten().cloned();
                schema["required"] = required.chain(nullable).collect();
            }
        });
    }
}

fn is_nullable(schema: &Value) -> bool {
    let is_null = |kind: &Value| kind == "null" || kind["type"] == "null";
    [&schema["type"], &schema["oneOf"]].into_iter().filter_map(Value::as_array).flatten().any(is_null)
}

/// Collects the names of all schemas that a part of the document refers to, directly or indirectly.
pub(super) fn collect_schemas(document: &Value, part: &Value, names: &mut BTreeSet<String>) {
    match part {
        Value::Object(map) => {
            if let Some(name) =
                map.get("$ref").and_then(Value::as_str).and_then(|path| path.rsplit('/').next())
                && names.insert(name.to_owned())
            {
                collect_schemas(document, &document["components"]["schemas"][name], names);
            }
            map.values().for_each(|value| collect_schemas(document, value, names));
        }
        Value::Array(items) => items.iter().for_each(|value| collect_schemas(document, value, names)),
        _ => {}
    }
}

/// Renames references to generic schemas: `Estimate_Joules` becomes `Estimate`. They differ in nothing, since every
/// quantity of an answer is a number.
fn name_generics(value: &mut Value) {
    if let Some(path) = value.get_mut("$ref")
        && let Some((prefix, name)) = path.as_str().and_then(|text| text.rsplit_once('/'))
        && let Some(name) = generic_name(name)
    {
        *path = format!("{prefix}/{name}").into();
    }
}

/// The new name of a generic schema, or `None` if the schema is not generic.
fn generic_name(name: &str) -> Option<String> {
    name.split_once('_').map(|(outer, _)| outer.to_owned())
}

/// Moves the description of a nullable field from its first branch to the field, where tools look for it.
fn lift_description(value: &mut Value) {
    if value.pointer("/oneOf/1/type").is_some_and(|kind| kind == "null")
        && let Some(first) = value.pointer_mut("/oneOf/0").and_then(Value::as_object_mut)
        && let Some(description) = first.remove("description")
    {
        value["description"] = description;
    }
}

/// Applies a change to every object of the document except examples, outermost first.
pub(super) fn walk(value: &mut Value, change: &mut impl FnMut(&mut Value)) {
    if value.is_object() {
        change(value);
    }
    match value {
        Value::Object(map) => {
            let parts = map.iter_mut().filter(|(name, _)| *name != "examples");
            parts.for_each(|(_, value)| walk(value, change));
        }
        Value::Array(items) => items.iter_mut().for_each(|value| walk(value, change)),
        _ => {}
    }
}
