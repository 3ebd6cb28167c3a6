//! The fields of a request and an example of one, from the OpenAPI document.

use std::fmt::Write as _;

use serde_json::Value;

use crate::{cli::io::pretty, endpoints::registry, openapi, response::text::lines::wrap};

/// The depth to which fields are listed: `lights.0.unit.energy`.
const MAX_DEPTH: usize = 4;

/// The longest name that has its description beside it.
const MAX_NAME: usize = 28;

/// A field: its dotted name, whether it is required, and its description.
struct Field {
    name: String,
    required: bool,
    description: String,
}

/// The fields of the body that a path takes, one a line. `None` if it takes no body.
pub fn list(path: &str) -> Option<String> {
    let document = openapi::parsed();
    let schema = operation(&document, path)?.pointer("/requestBody/content/application~1json/schema")?;
    let mut fields = Vec::new();
    walk(&document, schema, ("", true), 1, &mut fields);
    let longest = fields.iter().map(|field| field.name.len()).filter(|length| *length <= MAX_NAME).max();
    let start = longest.unwrap_or_default() + 4;
    let mut list = String::new();
    for Field { name, required, description } in &fields {
        let must = if *required { '*' } else { ' ' };
        // Writing to a String cannot fail.
        let _ = write!(list, "{must} {name}");
        // A long name has a line of its own.
        let _ = if name.len() + 4 <= start {
            write!(list, "{:pad$}", "", pad = start - 2 - name.len())
        } else {
            write!(list, "\n{:start$}", "")
        };
        wrap(description, start, start, &mut list);
    }
    let _ = writeln!(list, "\n* must be there. The elements of a list have numbers from 0.");
    Some(list)
}

/// An example of a request that succeeds, as `--body` takes it. `None` if the path takes no body.
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

/// Follows references, and the first branch of `oneOf` that is not null.
fn resolved<'d>(document: &'d Value, schema: &'d Value) -> &'d Value {
    if let Some(pointer) = schema["$ref"].as_str().and_then(|name| name.strip_prefix('#')) {
        return document.pointer(pointer).map_or(schema, |schema| resolved(document, schema));
    }
    let branches = schema["oneOf"].as_array().into_iter().flatten();
    match branches.into_iter().find(|branch| branch["type"] != "null") {
        Some(branch) if schema.get("properties").is_none() => resolved(document, branch),
        _ => schema,
    }
}

/// Collects the fields of a schema, outer ones first. A field is required if every object around it is.
fn walk(
    document: &Value,
    schema: &Value,
    (prefix, is_required): (&str, bool),
    depth: usize,
    fields: &mut Vec<Field>,
) {
    let schema = resolved(document, schema);
    let required =
        |name: &str| schema["required"].as_array().is_some_and(|all| all.iter().any(|one| one == name));
    for (name, field) in schema["properties"].as_object().into_iter().flatten() {
        let text =
            field["description"].as_str().or_else(|| resolved(document, field)["description"].as_str());
        let text = text.unwrap_or_default();
        let sentence = text.split_once(". ").map_or(text, |(first, _)| first).trim_end_matches('.');
        let words = resolved(document, field)["enum"].as_array().into_iter().flatten();
        let words: Vec<&str> = words.filter_map(Value::as_str).collect();
        let description =
            if words.is_empty() { sentence.to_owned() } else { format!("{sentence}: {}", words.join(", ")) };
        let full = format!("{prefix}{name}");
        let required = is_required && required(name);
        fields.push(Field { name: full.clone(), required, description });
        if depth < MAX_DEPTH {
            let inner = resolved(document, field);
            match inner.get("items") {
                Some(items) => walk(document, items, (&format!("{full}.0."), required), depth + 1, fields),
                None => walk(document, inner, (&format!("{full}."), required), depth + 1, fields),
            }
        }
    }
}
