//! What a calculation can be told, and an example of it, out of the OpenAPI document.

use std::fmt::Write as _;

use serde_json::Value;

use crate::{cli::io::pretty, endpoints::registry, openapi};

/// How deep fields are told: `lights.0.unit.energy`.
const DEEPEST: usize = 4;

/// A field's name with dots, whether it must be there, and what it is.
struct Field {
    name: String,
    required: bool,
    told: String,
}

/// The fields of what is posted to a path, a line each; none where nothing is.
pub fn list(path: &str) -> Option<String> {
    let document = openapi::parsed();
    let schema = operation(&document, path)?.pointer("/requestBody/content/application~1json/schema")?;
    let mut fields = Vec::new();
    walk(&document, schema, ("", true), 1, &mut fields);
    let longest = fields.iter().map(|field| field.name.len()).max().unwrap_or_default();
    let mut list = String::new();
    for Field { name, required, told } in &fields {
        let must = if *required { '*' } else { ' ' };
        // Writing to a String cannot fail.
        let _ = writeln!(list, "{must} {name:longest$}  {told}");
    }
    let _ = writeln!(list, "\n* must be there. The elements of a list have numbers from 0.");
    Some(list)
}

/// A request that is answered, as `--body` takes it; none where nothing is posted.
pub fn example(path: &str) -> Option<String> {
    let document = openapi::parsed();
    let operation = operation(&document, path)?;
    let answered = operation["responses"]["200"]["content"]["application/json"]["examples"].as_object()?;
    let examples = &operation["requestBody"]["content"]["application/json"]["examples"];
    let example = answered.keys().find_map(|name| examples.get(name))?;
    Some(pretty(&example["value"]))
}

fn operation<'d>(document: &'d Value, path: &str) -> Option<&'d Value> {
    document["paths"].get(format!("/v1/{}", registry::bare(path)))?.get("post")
}

/// What a schema is, where it names another, or that or null.
fn resolved<'d>(document: &'d Value, schema: &'d Value) -> &'d Value {
    if let Some(pointer) = schema["$ref"].as_str().and_then(|name| name.strip_prefix('#')) {
        return document.pointer(pointer).map_or(schema, |schema| resolved(document, schema));
    }
    let either = schema["oneOf"].as_array().into_iter().flatten();
    match either.into_iter().find(|one| one["type"] != "null") {
        Some(one) if schema.get("properties").is_none() => resolved(document, one),
        _ => schema,
    }
}

fn walk(
    document: &Value,
    schema: &Value,
    (before, is_there): (&str, bool),
    depth: usize,
    fields: &mut Vec<Field>,
) {
    let schema = resolved(document, schema);
    let required =
        |name: &str| schema["required"].as_array().is_some_and(|all| all.iter().any(|one| one == name));
    for (name, field) in schema["properties"].as_object().into_iter().flatten() {
        let told = field["description"].as_str().unwrap_or_default();
        let told = told.split_once(". ").map_or(told, |(first, _)| first).trim_end_matches('.');
        let words = resolved(document, field)["enum"].as_array().into_iter().flatten();
        let words: Vec<&str> = words.filter_map(Value::as_str).collect();
        let told = if words.is_empty() { told.to_owned() } else { format!("{told}: {}", words.join(", ")) };
        let full = format!("{before}{name}");
        let required = is_there && required(name);
        fields.push(Field { name: full.clone(), required, told });
        if depth < DEEPEST {
            let inner = resolved(document, field);
            match inner.get("items") {
                Some(items) => walk(document, items, (&format!("{full}.0."), required), depth + 1, fields),
                None => walk(document, inner, (&format!("{full}."), required), depth + 1, fields),
            }
        }
    }
}
