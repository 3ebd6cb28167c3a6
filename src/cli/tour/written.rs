//! How the tour writes questions and answers: in 80 columns.

use serde_json::{Map, Value};

use crate::{
    request::short_question::arguments,
    response::text::lines::{WIDTH, width, wrap},
};

/// A question with more arguments is shown as a body.
const MAX_ARGUMENTS: usize = 6;

/// A paragraph.
pub fn paragraph(text: &str) -> String {
    let mut out = String::new();
    wrap(text, 0, 0, &mut out);
    out
}

/// The question as a command: with arguments if they are few, else with its body, or with what is new in it.
pub fn question(path: &str, body: &Value, news: Option<&Value>) -> String {
    if let Some(news) = news {
        return format!(
            "$ stopwright ask {path} --body -\n\nThe set as before, each light at its setting, and what the meter read:\n\n{}\n",
            compact(news, 0)
        );
    }
    let arguments = body.as_object().filter(|fields| fields.values().all(is_flat)).map(arguments);
    let Some(arguments) = arguments.filter(|arguments| arguments.len() <= MAX_ARGUMENTS) else {
        return format!("$ stopwright ask {path} --body -\n\n{}\n", compact(body, 0));
    };
    let mut lines = vec![format!("$ stopwright ask {path}")];
    for argument in arguments {
        let is_full = lines.last().is_some_and(|line| width(line) + width(&argument) + 3 > WIDTH);
        match lines.last_mut() {
            Some(line) if is_full => {
                line.push_str(" \\");
                lines.push(format!("    {argument}"));
            }
            Some(line) => {
                line.push(' ');
                line.push_str(&argument);
            }
            None => {}
        }
    }
    format!("{}\n", lines.join("\n"))
}

/// Whether a value has no list of objects, which arguments would be long for.
fn is_flat(value: &Value) -> bool {
    match value {
        Value::Array(items) => !items.iter().any(Value::is_object),
        Value::Object(fields) => fields.values().all(is_flat),
        _ => true,
    }
}

/// JSON with each object or list on one line where that has room.
fn compact(value: &Value, indent: usize) -> String {
    let flat = flat(value);
    if indent + width(&flat) < WIDTH {
        return flat;
    }
    let inner = indent + 2;
    let (open, parts, close) = match value {
        Value::Object(fields) => ('{', fields_of(fields, inner), '}'),
        Value::Array(items) => ('[', items.iter().map(|item| compact(item, inner)).collect(), ']'),
        _ => return flat,
    };
    // As many on a line as have room.
    let mut lines: Vec<String> = Vec::new();
    for part in parts {
        let is_short = |line: &String| !line.contains('\n') && inner + width(line) + width(&part) + 2 < WIDTH;
        match lines.last_mut().filter(|line| !part.contains('\n') && is_short(line)) {
            Some(line) => *line = format!("{line}, {part}"),
            None => lines.push(part),
        }
    }
    let separator = format!(",\n{:inner$}", "");
    format!("{open}\n{:inner$}{}\n{:indent$}{close}", "", lines.join(&separator), "")
}

fn fields_of(fields: &Map<String, Value>, indent: usize) -> Vec<String> {
    let field = |(name, value): (&String, &Value)| {
        let name = format!("\"{name}\": ");
        let value =
            compact(value, indent + if flat(value).len() + name.len() < WIDTH { name.len() } else { 0 });
        format!("{name}{value}")
    };
    fields.iter().map(field).collect()
}

/// JSON on one line, with spaces after commas and colons.
fn flat(value: &Value) -> String {
    match value {
        Value::Object(fields) => {
            let fields: Vec<String> =
                fields.iter().map(|(name, value)| format!("\"{name}\": {}", flat(value))).collect();
            format!("{{{}}}", fields.join(", "))
        }
        Value::Array(items) => format!("[{}]", items.iter().map(flat).collect::<Vec<_>>().join(", ")),
        other => other.to_string(),
    }
}

/// The text of an answer without the block of its assumptions.
pub fn without_assumptions(text: &str) -> String {
    let blocks: Vec<&str> =
        text.trim_end().split("\n\n").filter(|block| !block.starts_with("assumptions\n")).collect();
    format!("{}\n", blocks.join("\n\n"))
}
