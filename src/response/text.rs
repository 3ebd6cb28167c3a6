//! An answer as text for people: aligned, with units, in 80 columns. One renderer for all answers; it reads the answer
//! as JSON and takes the units from the field names.

use std::fmt::Write as _;

use serde_json::{Map, Value};

use crate::{request::value::tokens, wording::visible::visible_value};

/// The width of a line, in columns.
const WIDTH: usize = 80;
/// The space between two columns of a table.
const GAP: usize = 2;

/// Field names that need other words than their own.
const PHRASES: [(&str, &str); 8] = [
    ("t0_5_s", "t0.5"),
    ("t0_1_s", "t0.1"),
    ("at_full", "at full power"),
    ("at_least", "at lowest power"),
    ("sync_allows", "sync allows it"),
    ("ev100", "EV at ISO 100"),
    ("solved_for", "found"),
    ("hz", "rate"),
];
/// The same at the top of an answer.
const TOP_PHRASES: [(&str, &str); 1] = [("exposure_time", "time for wanted ambient")];
/// Fields that name an item of a list.
const NAMES: [&str; 7] = ["name", "light", "point", "role", "unit", "shot", "id"];
/// Suffixes of field names and their units; longer suffixes first.
const UNITS: [(&str, &str); 27] = [
    ("_lm_per_j", "lm/J"),
    ("_lx_s", "lx s"),
    ("_cd_s", "cd s"),
    ("_lm_s", "lm s"),
    ("_m_s", "m/s"),
    ("_percent", "%"),
    ("_stops", "stops"),
    ("_mired", "mired"),
    ("_deg", "°"),
    ("_px", "px"),
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_ms", "ms"),
    ("_kj", "kJ"),
    ("_kwh", "kWh"),
    ("_wh", "Wh"),
    ("_va", "VA"),
    ("_lx", "lx"),
    ("_ft", "ft"),
    ("_sr", "sr"),
    ("_j", "J"),
    ("_m", "m"),
    ("_s", "s"),
    ("_k", "K"),
    ("_w", "W"),
    ("_a", "A"),
    ("_v", "V"),
];

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
            // For programs.
            fields.shift_remove("patch");
            object(&fields, 0, &mut out);
        }
        other => wrap(&cell("", other).unwrap_or_default(), 0, 0, &mut out),
    }
    out
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
        let place = tokens(fault["pointer"].as_str().unwrap_or_default()).collect::<Vec<_>>().join(".");
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
    let title = |name: &str| {
        let top = TOP_PHRASES.iter().find(|(known, _)| indent == 0 && *known == name);
        top.map_or_else(|| words(name), |(_, words)| (*words).to_owned())
    };
    let lines: Vec<(String, String)> =
        fields.iter().filter_map(|(name, value)| Some((title(name), cell(name, value)?))).collect();
    let longest = lines.iter().map(|(name, _)| width(name)).max().unwrap_or_default();
    for (name, value) in &lines {
        let start = indent + longest + GAP;
        let _ = write!(out, "{:indent$}{name}{:pad$}", "", "", pad = longest + GAP - width(name));
        wrap(value, start, start, out);
    }
    for (name, value) in fields.iter().filter(|(name, value)| cell(name, value).is_none()) {
        if is_nothing(value) {
            continue;
        }
        if !out.is_empty() && indent == 0 {
            out.push('\n');
        }
        let _ = writeln!(out, "{:indent$}{}", "", heading(name));
        match value {
            Value::Array(items) => list(items, indent + 2, out),
            Value::Object(fields) => object(fields, indent + 2, out),
            _ => {}
        }
    }
}

/// A list: notes as wrapped sentences, objects as a table if that fits, else one after another.
fn list(items: &[Value], indent: usize, out: &mut String) {
    if let Some(notes) = items.iter().map(note).collect::<Option<Vec<String>>>() {
        for note in notes {
            let _ = write!(out, "{:indent$}- ", "");
            wrap(&note, indent + 2, indent + 2, out);
        }
        return;
    }
    if table(items, indent, plain_value, out).is_some() || table(items, indent, brief, out).is_some() {
        return;
    }
    for (number, item) in items.iter().enumerate() {
        let Value::Object(fields) = item else {
            let _ = write!(out, "{:indent$}", "");
            wrap(&cell("", item).unwrap_or_default(), indent, indent, out);
            continue;
        };
        // Its name is its heading.
        let name = NAMES.iter().find_map(|name| fields.get(*name)?.as_str());
        let _ = match name {
            Some(name) => writeln!(out, "{:indent$}{name}", ""),
            None => writeln!(out, "{:indent$}{}.", "", number + 1),
        };
        let rest = fields.iter().filter(|(_, value)| name.is_none() || value.as_str() != name);
        object(&rest.map(|(name, value)| (name.clone(), value.clone())).collect(), indent + 2, out);
    }
}

/// A remark, remedy or assumption as a sentence. `None` for anything else.
fn note(item: &Value) -> Option<String> {
    let text = |name| item.get(name)?.as_str();
    if let Some(text) = text("text").filter(|_| item.get("code").is_some()) {
        return Some(text.to_owned());
    }
    if let Some(text) = text("text").filter(|_| item.get("changes").is_some()) {
        return Some(text.to_owned());
    }
    let (name, value, source) = (text("name")?, text("value")?, text("source")?);
    Some(format!("{}: {value} ({source})", words(name)))
}

/// Objects as a table, one on each line. `None` if it does not fit the width or a value does not fit a cell.
fn table(
    items: &[Value],
    indent: usize,
    render_value: fn(&str, &Value) -> Option<String>,
    out: &mut String,
) -> Option<()> {
    let rows: Vec<&Map<String, Value>> = items.iter().map(Value::as_object).collect::<Option<_>>()?;
    let mut names: Vec<&String> = Vec::new();
    for name in rows.iter().flat_map(|row| row.keys()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    // Empty columns are omitted.
    names.retain(|name| rows.iter().any(|row| row.get(*name).is_some_and(|value| !is_nothing(value))));
    let text = |row: &Map<String, Value>, name: &str| match row.get(name) {
        None => Some(String::new()),
        Some(value) if is_nothing(value) => Some("-".to_owned()),
        Some(value) => render_value(name, value),
    };
    let columns: Vec<Vec<String>> = names
        .iter()
        .map(|name| {
            let cells = rows.iter().map(|row| text(row, name)).collect::<Option<Vec<String>>>()?;
            Some(std::iter::once(heading(name)).chain(cells).collect())
        })
        .collect::<Option<_>>()?;
    let widths: Vec<usize> = columns
        .iter()
        .map(|column| column.iter().map(|cell| width(cell)).max().unwrap_or_default())
        .collect();
    if indent + widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1) > WIDTH {
        return None;
    }
    for row in 0..=rows.len() {
        let mut line = " ".repeat(indent);
        for (column, width_of) in columns.iter().zip(&widths) {
            let cell = &column[row];
            let pad = " ".repeat(width_of - width(cell));
            // Numbers are right-aligned.
            let is_number = column[1..].iter().all(|cell| cell == "-" || cell.parse::<f64>().is_ok());
            let _ = if is_number { write!(line, "{pad}{cell}") } else { write!(line, "{cell}{pad}") };
            line.push_str(&" ".repeat(GAP));
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
    Some(())
}

fn is_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().all(is_name_alone),
        Value::Object(fields) => fields.values().all(is_nothing),
        _ => false,
    }
}

/// Whether a row has no content but its name. A name with a single empty field counts as content, such as a light that
/// is off.
fn is_name_alone(row: &Value) -> bool {
    row.as_object().is_some_and(|fields| {
        let mut non_empty = fields.iter().filter(|(_, value)| !is_nothing(value));
        let is_name = non_empty.next().is_some_and(|(name, _)| NAMES.contains(&name.as_str()));
        is_name && fields.len() > 2 && non_empty.next().is_none()
    })
}

/// A value with its unit on one line. `None` if it is null or needs more lines.
fn cell(name: &str, value: &Value) -> Option<String> {
    let text = plain_value(name, value)?;
    let unit = unit(name).filter(|_| !matches!(value, Value::String(_) | Value::Bool(_)));
    Some(match unit {
        Some("°") => format!("{text}°"),
        Some("stops") if text == "1" || text == "-1" => format!("{text} stop"),
        Some(unit) => format!("{text} {unit}"),
        None => text,
    })
}

/// The shortest form of a value without its unit: the mark or label that is set on the equipment, if
/// it has one.
fn brief(name: &str, value: &Value) -> Option<String> {
    let nominal = value.get("off_by_stops").and(value.get("mark")).or(value.get("label"));
    nominal.and_then(Value::as_str).map(str::to_owned).or_else(|| plain_value(name, value))
}

/// A value on one line without its unit. `None` if it is null or needs more lines.
fn plain_value(name: &str, value: &Value) -> Option<String> {
    match value {
        Value::Null => None,
        Value::Bool(is) => Some(if *is { "yes" } else { "no" }.to_owned()),
        Value::Number(number) => Some(format_number(number.as_f64()?)),
        Value::String(text) => Some(text.clone()),
        Value::Array(items) => match items.as_slice() {
            [] => None,
            items if items.iter().all(|item| item.is_number() || item.is_string()) => {
                let texts: Vec<String> = items.iter().filter_map(|item| plain_value("", item)).collect();
                Some(texts.join(", "))
            }
            _ => None,
        },
        Value::Object(fields) if name.ends_with("_range") => Some(bounds(&fields["low"], &fields["high"])),
        Value::Object(fields) => {
            marked_value(name, fields).or_else(|| setting(fields)).or_else(|| range(fields))
        }
    }
}

/// `f/8 (7.958)`: a mark and the value; if the mark is off, also by how much.
fn marked_value(name: &str, fields: &Map<String, Value>) -> Option<String> {
    let mut value = format_number(fields.get("value")?.as_f64()?);
    if let Some(feet) = fields.get("value_ft").and_then(Value::as_f64) {
        let _ = write!(value, ", {} ft", format_number(feet));
    }
    let off = fields.get("off_by_stops").and_then(Value::as_f64).unwrap_or_default();
    if !fields.contains_key("mark") {
        return None;
    }
    Some(match fields.get("mark").and_then(Value::as_str) {
        // Without a mark, the unit says what it is.
        None if name.ends_with("exposure_time") => value + " s",
        None => value,
        Some(mark) if off.abs() < 5e-5 => format!("{mark} ({value})"),
        Some(mark) => {
            let which = if off > 0.0 { "brighter" } else { "darker" };
            format!("{mark} ({value}; the mark is {} stop {which})", format_number(off.abs()))
        }
    })
}

/// `6.4 (98.96 J, 2.6 stops below full)`.
fn setting(fields: &Map<String, Value>) -> Option<String> {
    let label = fields.get("label")?.as_str()?;
    let below = format_number(fields.get("stops_below_full")?.as_f64()?);
    let stops = if below == "1" { "stop" } else { "stops" };
    Some(match fields.get("energy_j").and_then(Value::as_f64) {
        Some(energy) if below == "0" => format!("{label} ({} J, full)", format_number(energy)),
        Some(energy) => format!("{label} ({} J, {below} {stops} below full)", format_number(energy)),
        None => format!("{label} ({below} {stops} below full)"),
    })
}

/// `42.9 to 257, typically 68.9`.
fn range(fields: &Map<String, Value>) -> Option<String> {
    let number = |name| fields.get(name).and_then(Value::as_f64).map(format_number);
    let (low, high) = (number("low")?, number("high")?);
    Some(match (number("typical"), fields.len()) {
        _ if low == high => low,
        (Some(typical), 3) => format!("{low} to {high}, typically {typical}"),
        (None, 2) => format!("{low} to {high}"),
        _ => return None,
    })
}

/// A range with a lower bound, an upper bound, both or neither.
fn bounds(low: &Value, high: &Value) -> String {
    match [low, high].map(|end| end.as_f64().map(format_number)) {
        [Some(low), Some(high)] => format!("{low} to {high}"),
        [Some(low), None] => format!("{low} or more"),
        [None, Some(high)] => format!("{high} or less"),
        [None, None] => "not known".to_owned(),
    }
}

/// A number rounded to four significant digits, more than anyone sets on equipment.
fn format_number(number: f64) -> String {
    let four: f64 = format!("{number:.3e}").parse().unwrap_or(number);
    // Whole numbers keep all digits.
    let shown = if number.fract() == 0.0 { number } else { four };
    format!("{}", if shown == 0.0 { 0.0 } else { shown })
}

fn unit(name: &str) -> Option<&'static str> {
    let name = name.strip_suffix("_range").unwrap_or(name);
    // The fields of a unit's rated energy and of a rate have no suffix.
    unit_suffix(name).map(|(_, unit)| unit).or(match name {
        "energy" => Some("J"),
        "hz" => Some("Hz"),
        _ => None,
    })
}

/// The suffix of a name and its unit.
fn unit_suffix(name: &str) -> Option<(&'static str, &'static str)> {
    UNITS.into_iter().find(|(suffix, _)| name.ends_with(suffix))
}

/// A field name in words, without its unit.
fn words(name: &str) -> String {
    if let Some((_, words)) = PHRASES.iter().find(|(known, _)| *known == name) {
        return (*words).to_owned();
    }
    let (name, range) = match name.strip_suffix("_range") {
        Some(name) => (name, " range"),
        None => (name, ""),
    };
    let stem = unit_suffix(name).and_then(|(suffix, _)| name.strip_suffix(suffix)).unwrap_or(name);
    format!("{}{range}", stem.replace('_', " ")).replace("f number", "f-number")
}

/// A field name in words with its unit, as a heading.
fn heading(name: &str) -> String {
    match unit(name) {
        Some(unit) => format!("{}, {unit}", words(name)),
        None => words(name),
    }
}

fn width(text: &str) -> usize {
    text.chars().count()
}

/// Wraps text. The first line begins at column `start`, the others are indented.
fn wrap(text: &str, start: usize, indent: usize, out: &mut String) {
    let mut column = start;
    let mut is_first = true;
    for word in text.split_whitespace() {
        if !is_first && column + 1 + width(word) > WIDTH {
            let _ = write!(out, "\n{:indent$}", "");
            column = indent;
        } else if !is_first {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width(word);
        is_first = false;
    }
    out.push('\n');
}
