//! What can be asked, out of the OpenAPI document.

use std::{fmt::Write as _, sync::LazyLock};

use serde::Serialize;
use serde_json::Value;

use crate::{cli::io::pretty, openapi, request::format::AnswerFormat};

/// A path that can be asked.
#[derive(Serialize)]
pub struct Known {
    /// Under `/v1/`.
    pub path: String,
    /// What it does.
    pub summary: String,
}

/// All of them.
pub static KNOWN: LazyLock<Vec<Known>> = LazyLock::new(|| {
    let document = openapi::parsed();
    let mut known = Vec::new();
    for (path, operations) in document["paths"].as_object().into_iter().flatten() {
        let Some(path) = path.strip_prefix("/v1/") else { continue };
        let operation = operations.get("post").unwrap_or(&operations["get"]);
        for path in written(path, operation, &document) {
            known.push(Known { path, summary: operation["summary"].as_str().unwrap_or_default().to_owned() });
        }
    }
    known
});

/// A path with each word that its template may stand for.
fn written(path: &str, operation: &Value, document: &Value) -> Vec<String> {
    let Some((before, _)) = path.split_once('{') else { return vec![path.to_owned()] };
    let schema =
        operation["parameters"][0]["schema"]["$ref"].as_str().and_then(|name| name.strip_prefix('#'));
    let words = schema.and_then(|pointer| document.pointer(pointer)?["enum"].as_array());
    words.into_iter().flatten().filter_map(Value::as_str).map(|word| format!("{before}{word}")).collect()
}

/// The list.
pub fn list(format: AnswerFormat) -> String {
    if format == AnswerFormat::Json {
        return pretty(&serde_json::to_value(&*KNOWN).unwrap_or_default());
    }
    let longest = KNOWN.iter().map(|known| known.path.len()).max().unwrap_or_default();
    let mut list = String::new();
    for Known { path, summary } in KNOWN.iter() {
        // Writing to a String cannot fail.
        let _ = writeln!(list, "{path:longest$}  {summary}");
    }
    list
}
