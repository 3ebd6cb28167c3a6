//! The calculations and their paths, from the OpenAPI document.

use std::{fmt::Write as _, sync::LazyLock};

use serde::Serialize;
use serde_json::Value;

use crate::{cli::io::pretty, openapi, request::format::AnswerFormat};

/// A calculation.
#[derive(Serialize)]
pub struct Calculation {
    /// Its path below `/v1/`.
    pub path: String,
    /// A summary of what it does.
    pub summary: String,
}

/// All calculations.
pub static CALCULATIONS: LazyLock<Vec<Calculation>> = LazyLock::new(|| {
    let document = openapi::parsed();
    let mut calculations = Vec::new();
    for (path, operations) in document["paths"].as_object().into_iter().flatten() {
        let Some(path) = path.strip_prefix("/v1/") else { continue };
        let operation = operations.get("post").unwrap_or(&operations["get"]);
        for path in expand(path, operation, &document) {
            calculations.push(Calculation {
                path,
                summary: operation["summary"].as_str().unwrap_or_default().to_owned(),
            });
        }
    }
    calculations
});

/// A path with each word that its parameter allows.
fn expand(path: &str, operation: &Value, document: &Value) -> Vec<String> {
    let Some((prefix, _)) = path.split_once('{') else { return vec![path.to_owned()] };
    let schema =
        operation["parameters"][0]["schema"]["$ref"].as_str().and_then(|name| name.strip_prefix('#'));
    let words = schema.and_then(|pointer| document.pointer(pointer)?["enum"].as_array());
    words.into_iter().flatten().filter_map(Value::as_str).map(|word| format!("{prefix}{word}")).collect()
}

/// The list, as text or JSON.
pub fn list(format: AnswerFormat) -> String {
    if format == AnswerFormat::Json {
        return pretty(&serde_json::to_value(&*CALCULATIONS).unwrap_or_default());
    }
    let longest = CALCULATIONS.iter().map(|calculation| calculation.path.len()).max().unwrap_or_default();
    let mut list = String::new();
    for Calculation { path, summary } in CALCULATIONS.iter() {
        // Writing to a String cannot fail.
        let _ = writeln!(list, "{path:longest$}  {summary}");
    }
    list
}
