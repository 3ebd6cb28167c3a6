//! An answer as text for people: aligned, with units, in 80 columns. One renderer for all answers; it reads the answer
//! as JSON and takes the units from the field names. What only programs need is left out.

mod fields;
pub mod lines;
mod name;
mod table;
mod value;

use std::fmt::Write as _;

use serde_json::{Map, Value};

use self::{
    fields::{NAMES, is_nothing, read_by_people, rows},
    lines::{GAP, width, wrap},
    name::label,
    table::{Write, columns, table},
    value::{brief, cell, plain, short},
};
use crate::{request::value::tokens, wording::visible::visible_value};

/// Columns that a table may lack if it would be too wide: other columns tell as much.
const MINOR: [&str; 3] = ["footroom_stops", "shortfall_stops", "excess_stops"];

/// Renders an answer.
pub fn render(answer: &Value) -> String {
    let mut out = String::new();
    match &*visible_value(answer) {
        Value::Object(fields) => {
            let mut fields = fields.clone();
            if let Some(Value::String(summary)) = fields.shift_remove("summary") {
                wrap(&summary, 0, 0, &mut out);
                out.push('\n');
            }
            object(&with_units(fields), 0, &mut out);
        }
        other => wrap(&cell("", other).unwrap_or_default(), 0, 0, &mut out),
    }
    // A summary alone needs no line after it.
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

/// The values of a conversion as texts with their unit, which the answer states once.
fn with_units(mut fields: Map<String, Value>) -> Map<String, Value> {
    let (Some(kind), true) = (fields.get("kind").and_then(Value::as_str), fields.contains_key("from")) else {
        return fields;
    };
    let unit = fields.get("unit").and_then(Value::as_str).unwrap_or_default();
    let text = |value: &Value| {
        let text = plain("", value)?;
        let is_bare = value["mark"].is_null() && value["written"].is_null();
        Some(match kind {
            "guide_number" => {
                let [metres, feet] = ["guide_number_m", "guide_number_ft"]
                    .map(|name| cell(name, &value[if name.ends_with("ft") { "value_ft" } else { "value" }]));
                [metres, feet].into_iter().flatten().collect::<Vec<_>>().join(", ")
            }
            "reflectance" => cell("share", &value["value"])?,
            _ if is_bare && value.get("value_ft").is_none() => format!("{text} {unit}").trim_end().to_owned(),
            _ => text,
        })
    };
    let texts = ["from", "to"].map(|name| (name, text(&fields[name])));
    for (name, text) in texts {
        fields.insert(name.to_owned(), text.into());
    }
    for told in ["kind", "unit"] {
        fields.shift_remove(told);
    }
    fields
}

/// Renders a problem document: its title, and each fault with its place, in the notation of an argument's name.
pub fn problem(document: &Value) -> String {
    let document = visible_value(document);
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let faults = document["errors"].as_array().map(Vec::as_slice).unwrap_or_default();
    let (title, detail) = (text(&document["title"]), text(&document["detail"]));
    let mut out = String::new();
    wrap(&title, 0, 0, &mut out);
    if faults.is_empty() && detail != title {
        out.push_str("  ");
        wrap(&detail, 2, 2, &mut out);
    }
    for fault in faults {
        let place = dotted(fault["pointer"].as_str().unwrap_or_default());
        let colon = if place.is_empty() { "" } else { ": " };
        out.push_str("  ");
        wrap(&format!("{place}{colon}{}", text(&fault["detail"])), 2, 4, &mut out);
        out.push_str("    ");
        wrap(&format!("expected: {}", text(&fault["expected"])), 4, 4, &mut out);
    }
    if let Some(more) = document["more_errors"].as_u64() {
        let _ = writeln!(out, "  and {more} more");
    }
    out
}

/// The fields of an object: those that fit on a line first, aligned, then the longer ones, each in the answer's order.
fn object(fields: &Map<String, Value>, indent: usize, out: &mut String) {
    let fields = read_by_people(fields, indent == 0);
    let lines = rows(&fields, indent == 0);
    let longest = lines.iter().map(|(label, _)| width(label)).max().unwrap_or_default();
    for (label, value) in &lines {
        let start = indent + longest + GAP;
        let _ = write!(out, "{:indent$}{label}{:pad$}", "", "", pad = longest + GAP - width(label));
        wrap(value, start, start, out);
    }
    for (name, value) in fields.iter().filter(|(name, value)| cell(name, value).is_none()) {
        if is_nothing(value) {
            continue;
        }
        if !out.is_empty() && indent == 0 && !out.ends_with("\n\n") {
            out.push('\n');
        }
        let _ = writeln!(out, "{:indent$}{}", "", label(name, indent == 0));
        inner(value, indent + 2, out);
    }
}

fn inner(value: &Value, indent: usize, out: &mut String) {
    match value {
        Value::Array(items) => list(items, indent, out),
        Value::Object(fields) => object(fields, indent, out),
        _ => {}
    }
}

/// A list: notes as wrapped sentences, objects as a table if that fits, else one after another.
fn list(items: &[Value], indent: usize, out: &mut String) {
    if let Some(notes) = items.iter().map(note).collect::<Option<Vec<Note>>>() {
        for note in grouped(notes) {
            let _ = write!(out, "{:indent$}- ", "");
            wrap(&note, indent + 2, indent + 2, out);
        }
        return;
    }
    let objects: Option<Vec<Map<String, Value>>> =
        items.iter().map(|item| Some(read_by_people(item.as_object()?, false))).collect();
    let Some(objects) = objects else {
        for item in items {
            let _ = write!(out, "{:indent$}", "");
            wrap(&cell("", item).unwrap_or_default(), indent, indent, out);
        }
        return;
    };
    let objects: Vec<&Map<String, Value>> = objects.iter().collect();
    if !as_table(&objects, indent, out) {
        for (number, fields) in objects.into_iter().enumerate() {
            one_of_list(number, fields, indent, out);
        }
    }
}

/// Writes objects as a table, and below it what each of them has in lists. False, and nothing, if the table is too wide.
fn as_table(objects: &[&Map<String, Value>], indent: usize, out: &mut String) -> bool {
    let (flat, deep): (Vec<&str>, Vec<&str>) = columns(objects).into_iter().partition(|name| {
        objects
            .iter()
            .filter_map(|fields| fields.get(*name))
            .all(|value| is_nothing(value) || brief(name, value).is_some())
    });
    let is_named = objects.iter().all(|fields| name_of(fields).is_some());
    if !deep.is_empty() && (flat.len() < 2 || !is_named) {
        return false;
    }
    let fewer: Vec<&str> = flat.iter().copied().filter(|name| !MINOR.contains(name)).collect();
    let ways: [(&[&str], Write); 4] = [(&flat, plain), (&flat, short), (&flat, brief), (&fewer, brief)];
    let text = ways.into_iter().find_map(|(names, write)| table(objects, names, indent, write));
    let Some(text) = text else { return false };
    out.push_str(&text);
    for name in deep {
        for fields in objects {
            let (Some(of), Some(value)) = (name_of(fields), fields.get(name)) else { continue };
            if !is_nothing(value) {
                let _ = writeln!(out, "{:indent$}{}: {}", "", of, label(name, false));
                inner(value, indent + 2, out);
            }
        }
    }
    true
}

/// The name of an item of a list.
fn name_of(fields: &Map<String, Value>) -> Option<&str> {
    NAMES.iter().find_map(|name| fields.get(*name)?.as_str())
}

/// An item of a list under its name, or else its number.
fn one_of_list(number: usize, fields: &Map<String, Value>, indent: usize, out: &mut String) {
    let name = name_of(fields);
    let _ = match name {
        Some(name) => writeln!(out, "{:indent$}{name}", ""),
        None => writeln!(out, "{:indent$}{}.", "", number + 1),
    };
    let rest = fields.iter().filter(|(_, value)| name.is_none() || value.as_str() != name);
    object(&rest.map(|(name, value)| (name.clone(), value.clone())).collect(), indent + 2, out);
}

/// The notes, those that begin and end alike as one: assumptions of one name and source.
fn grouped(notes: Vec<Note>) -> Vec<String> {
    let mut groups: Vec<Note> = Vec::new();
    for note in notes {
        let alike = |other: &&mut Note| {
            !note.source.is_empty() && other.name == note.name && other.source == note.source
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.text = format!("{}; {}", group.text, note.text),
            None => groups.push(note),
        }
    }
    groups.into_iter().map(|Note { name, text, source }| format!("{name}{text}{source}")).collect()
}

/// A sentence, between the name and the source of an assumption.
struct Note {
    name: String,
    text: String,
    source: String,
}

/// A remark, remedy, assumption or lack as a sentence. `None` for anything else.
fn note(item: &Value) -> Option<Note> {
    let text = |name| item.get(name)?.as_str();
    let alone = |text: String| Note { name: String::new(), text, source: String::new() };
    if let Some(text) = text("text").filter(|_| item.get("code").is_some() || item.get("changes").is_some()) {
        return Some(alone(text.to_owned()));
    }
    if let (Some(pointer), Some(needed_for), Some(needs)) = (text("pointer"), text("for"), item.get("needs"))
    {
        let ways = needs.as_array()?.iter().filter_map(|way| Some(plain("", way)?.replace(", ", " and ")));
        let ways = ways.collect::<Vec<_>>().join(", or ");
        return Some(alone(format!("{}: {ways}, for its {}", dotted(pointer), name::in_words(needed_for))));
    }
    let (name, value, source) = (text("name")?, text("value")?, text("source")?);
    Some(Note { name: format!("{name}: "), text: value.to_owned(), source: format!(" ({source})") })
}

/// A place in the notation of an argument's name: `lights.0.setting`.
fn dotted(pointer: &str) -> String {
    tokens(pointer).collect::<Vec<_>>().join(".")
}
