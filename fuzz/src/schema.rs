//! What the OpenAPI document says: whether an answer fits its schema, and what a request might hold.

use std::{collections::HashMap, sync::LazyLock};

use serde_json::Value;

use super::{dice::Dice, json::Json};

/// The document as it is served.
pub fn document() -> &'static Value {
    static DOCUMENT: LazyLock<Value> = LazyLock::new(|| {
        serde_json::from_str(stopwright::openapi::document()).expect("the document is JSON")
    });
    &DOCUMENT
}

fn resolved(mut schema: &'static Value) -> &'static Value {
    while let Some(path) = schema["$ref"].as_str() {
        schema = document().pointer(&path[1..]).expect("the reference points somewhere");
    }
    schema
}

/// The schema of the answer to a calculation, by its path under `/v1`.
pub fn of_answer(path: &str) -> &'static Value {
    static ALL: LazyLock<HashMap<String, &'static Value>> = LazyLock::new(|| {
        let paths = document()["paths"].as_object().expect("paths");
        let schema = |(path, item): (&String, &'static Value)| {
            let content = &item["post"]["responses"]["200"]["content"]["application/json"];
            let path = path.strip_prefix("/v1/")?.to_owned();
            content.get("schema").map(|schema| (path, schema))
        };
        paths.iter().filter_map(schema).collect()
    });
    ALL.get(path).copied().expect("every calculation is in the document")
}

/// Why a value does not fit a schema. Knows the words that the document uses, save patterns.
pub fn misfit(value: &Value, schema: &'static Value) -> Option<String> {
    let unknown = value.as_object().and_then(|map| map.keys().find(|name| !knows(schema, name)));
    match unknown {
        Some(name) => Some(format!("{name} is not in the document")),
        None => misfit_of_part(value, schema),
    }
}

/// Whether a schema tells of a field; parts of one share an object among them.
fn knows(schema: &'static Value, name: &str) -> bool {
    let schema = resolved(schema);
    // What takes every value, and what takes every name.
    let is_open = schema["additionalProperties"] == true
        || ["type", "properties", "allOf", "oneOf"].iter().all(|word| schema.get(*word).is_none());
    let parts = ["allOf", "oneOf"].into_iter().filter_map(|word| schema[word].as_array());
    is_open || schema["properties"].get(name).is_some() || parts.flatten().any(|part| knows(part, name))
}

fn misfit_of_part(value: &Value, schema: &'static Value) -> Option<String> {
    let schema = resolved(schema);
    if let Some(all) = schema["allOf"].as_array()
        && let Some(why) = all.iter().find_map(|part| misfit_of_part(value, part))
    {
        return Some(why);
    }
    if let Some(any) = schema["oneOf"].as_array() {
        let whys: Vec<String> = any.iter().filter_map(|part| misfit(value, part)).collect();
        if whys.len() == any.len() {
            return Some(whys.join(", or "));
        }
    }
    let is_a = |kind: &str| match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|number| number.fract() == 0.0),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    };
    let fits = match &schema["type"] {
        Value::String(kind) => is_a(kind),
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).any(is_a),
        _ => true,
    };
    if !fits {
        return Some(format!("{value} is no {}", schema["type"]));
    }
    if schema["enum"].as_array().is_some_and(|all| !all.contains(value)) {
        return Some(format!("{value} is none of {}", schema["enum"]));
    }
    let beyond = |size: f64, least: &str, most: &str| {
        schema[least].as_f64().is_some_and(|least| size < least)
            || schema[most].as_f64().is_some_and(|most| size > most)
    };
    let is_beyond = match value {
        Value::Number(number) => beyond(number.as_f64().unwrap_or(f64::NAN), "minimum", "maximum"),
        Value::String(text) => beyond(text.chars().count() as f64, "minLength", "maxLength"),
        Value::Array(items) => beyond(items.len() as f64, "minItems", "maxItems"),
        _ => false,
    };
    if is_beyond {
        return Some(format!("{value} is beyond what {schema} allows"));
    }
    misfit_inside(value, schema)
}

fn misfit_inside(value: &Value, schema: &'static Value) -> Option<String> {
    let at = |name: &str, why: String| format!("{name}: {why}");
    match value {
        Value::Array(items) => {
            let schema = schema.get("items")?;
            let why = |(index, item)| Some(at(&format!("{index}"), misfit(item, schema)?));
            items.iter().enumerate().find_map(why)
        }
        Value::Object(map) => {
            let required = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str);
            if let Some(name) = required.into_iter().find(|name| !map.contains_key(*name)) {
                return Some(format!("{name} is missing"));
            }
            let known = schema["properties"].as_object()?;
            map.iter().find_map(|(name, inner)| Some(at(name, misfit(inner, known.get(name)?)?)))
        }
        _ => None,
    }
}

/// A field that the document knows beside those of an object, with a value that may fit.
pub fn field_beside(entries: &[(String, Json)], dice: &mut Dice) -> Option<(String, Json)> {
    let schemas = document()["components"]["schemas"].as_object()?;
    let alike: Vec<_> = schemas
        .values()
        .filter_map(|schema| schema["properties"].as_object())
        .filter(|known| {
            entries.iter().filter(|(name, _)| known.contains_key(name)).count() + 1 > entries.len()
        })
        .collect();
    let known = dice.pick(&alike)?;
    let new: Vec<_> =
        known.iter().filter(|(name, _)| entries.iter().all(|(given, _)| given != *name)).collect();
    let (name, schema) = dice.pick(&new)?;
    Some(((*name).clone(), sample(schema, dice, 0)))
}

/// A value that may fit a schema.
fn sample(schema: &'static Value, dice: &mut Dice, depth: usize) -> Json {
    let schema = resolved(schema);
    for words in ["enum", "examples"] {
        if let Some(value) = schema[words].as_array().and_then(|all| dice.pick(all)) {
            return Json::parse(value.to_string().as_bytes()).unwrap_or(Json::Object(Vec::new()));
        }
    }
    for parts in ["oneOf", "allOf"] {
        if let Some(part) = schema[parts].as_array().and_then(|all| dice.pick(all)) {
            return sample(part, dice, depth);
        }
    }
    let kind = match &schema["type"] {
        Value::Array(kinds) => dice.pick(kinds).and_then(Value::as_str),
        kind => kind.as_str(),
    };
    match kind {
        _ if depth > 5 => Json::Bare("1".to_owned()),
        Some("boolean") => Json::Bare(dice.chance(2).to_string()),
        Some("number" | "integer") => {
            let least = schema["minimum"].as_f64().unwrap_or(0.0);
            let most = schema["maximum"].as_f64().unwrap_or(1000.0);
            // By size: most ranges span decades.
            let part = dice.part();
            let number = match dice.below(4) {
                0 => least,
                1 => most,
                2 if least > 0.0 => least * (most / least).powf(part),
                _ => least + (most - least) * part,
            };
            Json::Bare(if kind == Some("integer") { number.round() } else { number }.to_string())
        }
        Some("array") => {
            let least = schema["minItems"].as_u64().unwrap_or(0) as usize;
            let count = least + dice.below(3);
            Json::List((0..count).map(|_| sample(&schema["items"], dice, depth + 1)).collect())
        }
        Some("object") => {
            let required: Vec<_> = schema["required"].as_array().into_iter().flatten().collect();
            let known = schema["properties"].as_object().into_iter().flatten();
            let entries = known
                .filter(|(name, _)| required.iter().any(|required| **required == **name) || dice.chance(4))
                .collect::<Vec<_>>();
            let value =
                |(name, inner): (&String, &'static Value)| (name.clone(), sample(inner, dice, depth + 1));
            Json::Object(entries.into_iter().map(value).collect())
        }
        Some("null") => Json::Bare("null".to_owned()),
        _ => Json::Text("key".to_owned()),
    }
}
