//! Makes the document small without losing a word of it: what is longer by reference than in place is written in place, an
//! object of an answer that requests take has the request's schema, and nothing is left that is not used.

use std::{collections::BTreeSet, mem};

use serde_json::{Map, Value};

use super::clients::{collect_schemas, walk};

/// Objects of answers that are written as requests take them, and the schema of the request.
const TAKEN_BACK: [(&str, &str); 1] = [("UnitObject", "UnitInput")];

/// Makes the document small.
pub fn compact(document: &mut Value) {
    let schemas = document["components"]["schemas"].as_object().into_iter().flatten();
    let numbers: Map<String, Value> = schemas
        .filter(|(_, schema)| schema["type"] == "number" || schema["type"] == "integer")
        .map(|(name, schema)| (name.clone(), schema.clone()))
        .collect();
    walk(document, &mut |value| {
        take_back(value);
        inline_number(value, &numbers);
        if value["format"] == "double"
            && let Some(number) = value.as_object_mut()
        {
            // JSON has no other numbers.
            number.shift_remove("format");
        }
        if value["required"] == false
            && let Some(parameter) = value.as_object_mut()
        {
            // The default.
            parameter.shift_remove("required");
        }
    });
    let mut used = BTreeSet::new();
    for part in ["paths", "components"] {
        let Some(map) = document[part].as_object() else { continue };
        for (_, value) in map.iter().filter(|(name, _)| *name != "schemas") {
            collect_schemas(document, value, &mut used);
        }
    }
    if let Some(schemas) = document["components"]["schemas"].as_object_mut() {
        schemas.retain(|name, _| used.contains(name));
    }
}

/// Refers to the request's schema of an object that requests take.
fn take_back(value: &mut Value) {
    let Some(path) = value.get_mut("$ref") else { return };
    let twin = path.as_str().and_then(|text| {
        let (prefix, name) = text.rsplit_once('/')?;
        TAKEN_BACK
            .into_iter()
            .find(|(object, _)| *object == name)
            .map(|(_, input)| format!("{prefix}/{input}"))
    });
    if let Some(twin) = twin {
        *path = twin.into();
    }
}

/// Replaces a reference to a number, or one with `null` beside it, by the number's own type and bounds. What it says of
/// itself stays where nothing else is said.
fn inline_number(value: &mut Value, numbers: &Map<String, Value>) {
    let branches = value["oneOf"].as_array().filter(|all| all.len() == 2 && all[1]["type"] == "null");
    let is_nullable = branches.is_some();
    let reference = branches.map_or(&value["$ref"], |all| &all[0]["$ref"]);
    let Some(number) =
        reference.as_str().and_then(|path| numbers.get(path.strip_prefix("#/components/schemas/")?))
    else {
        return;
    };
    let Some(map) = value.as_object_mut() else { return };
    let own = mem::take(map);
    for (name, part) in number.as_object().into_iter().flatten() {
        let part = match name.as_str() {
            "type" if is_nullable => serde_json::json!([part, "null"]),
            _ => part.clone(),
        };
        map.insert(name.clone(), part);
    }
    map.extend(own.into_iter().filter(|(name, _)| name != "oneOf" && name != "$ref"));
}
