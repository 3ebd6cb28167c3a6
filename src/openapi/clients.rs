//! What generators of clients need of the document so that their types are good ones; it changes nothing of what
//! the document allows.

use std::collections::BTreeSet;

use serde_json::{Value, json};

/// Makes the document one that generators take well.
pub fn suit(document: &mut Value) {
    require_what_is_told(document);
    walk(document, &mut |value| {
        lift_description(value);
        name_generics(value);
    });
    if let Some(schemas) = document["components"]["schemas"].as_object_mut() {
        *schemas = std::mem::take(schemas)
            .into_iter()
            .map(|(name, schema)| (generic(&name).unwrap_or(name), schema))
            .collect();
    }
}

/// Answers tell every field that may be null; only those that are never null may be absent. A field that is both
/// would have two ways to say nothing.
fn require_what_is_told(document: &mut Value) {
    let (mut asked, mut told) = (BTreeSet::new(), BTreeSet::new());
    for operation in
        document["paths"].as_object().into_iter().flatten().filter_map(|(_, path)| path.as_object()).flatten()
    {
        reach(document, &operation.1["requestBody"], &mut asked);
        reach(document, &operation.1["parameters"], &mut asked);
        reach(document, &operation.1["responses"], &mut told);
    }
    for name in told.difference(&asked) {
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

/// The names of all schemas that are in use there.
fn reach(document: &Value, part: &Value, names: &mut BTreeSet<String>) {
    match part {
        Value::Object(map) => {
            if let Some(name) =
                map.get("$ref").and_then(Value::as_str).and_then(|path| path.rsplit('/').next())
                && names.insert(name.to_owned())
            {
                reach(document, &document["components"]["schemas"][name], names);
            }
            map.values().for_each(|value| reach(document, value, names));
        }
        Value::Array(items) => items.iter().for_each(|value| reach(document, value, names)),
        _ => {}
    }
}

/// `Estimate_Joules` as `JoulesEstimate`.
fn name_generics(value: &mut Value) {
    if let Some(path) = value.get_mut("$ref")
        && let Some((before, name)) = path.as_str().and_then(|text| text.rsplit_once('/'))
        && let Some(name) = generic(name)
    {
        *path = format!("{before}/{name}").into();
    }
}

fn generic(name: &str) -> Option<String> {
    name.split_once('_').map(|(outer, inner)| format!("{inner}{outer}"))
}

/// The description of a nullable field, out of the first of its two branches to where readers look for it.
fn lift_description(value: &mut Value) {
    if value.pointer("/oneOf/1/type").is_some_and(|kind| kind == "null")
        && let Some(first) = value.pointer_mut("/oneOf/0").and_then(Value::as_object_mut)
        && let Some(description) = first.remove("description")
    {
        value["description"] = description;
    }
}

/// Does something to every object of the document, outermost first; examples are left alone.
fn walk(value: &mut Value, change: &mut impl FnMut(&mut Value)) {
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
