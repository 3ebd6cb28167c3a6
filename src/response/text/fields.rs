//! Which fields of an answer people read, and which stand on one line together.

use serde_json::{Map, Value};

use super::{
    name::label,
    value::{bounds, cell},
};
use crate::{light::kit::Optimality, wording::phrases::kit_optimality};

/// Fields that name an item of a list.
pub const NAMES: [&str; 7] = ["name", "light", "point", "role", "unit", "shot", "id"];

/// Whether a field is for programs: what goes into the next request, and numbers that nobody sets or meters.
fn is_for_programs(name: &str, value: &Value, is_top: bool) -> bool {
    match name {
        "patch" | "learned" | "solved_for" | "luminous_exposure_lx_s" | "fraction" | "nodes" => true,
        // In the form of a request.
        "response" => is_top && value.is_object(),
        _ => name.ends_with("_id"),
    }
}

/// Whether a value is what one expects, so that it need not be told.
pub fn is_idle(name: &str, value: &Value) -> bool {
    match name {
        "shortfall_stops"
        | "excess_stops"
        | "lens_stops"
        | "filter_stops"
        | "worst_shortfall_stops"
        | "worst_excess_stops"
        | "left_over_stops"
        | "moving_stops" => value.as_f64() == Some(0.0),
        "pops" => value.as_u64() == Some(1),
        "weight" => value.as_f64() == Some(1.0),
        "target_side" => value == "both",
        "extrapolated" | "moved" => value == false,
        "complete" | "remedies_complete" => value == true,
        // What is said of every kit.
        "optimality" => value.as_str() == Some(kit_optimality(Optimality::ShotByShot)),
        "confidence" => true,
        // A point in one light has no shares.
        "contributions" => value.as_array().is_some_and(|lights| lights.len() < 2),
        _ => false,
    }
}

/// The fields that people read, in the answer's order: lengths in the units asked for, and no f-number twice.
pub fn read_by_people(fields: &Map<String, Value>, is_top: bool) -> Map<String, Value> {
    let is_in_feet = |name: &str| {
        let feet = name.strip_suffix("_m").map(|stem| format!("{stem}_ft"));
        !name.starts_with("guide_number") && feet.is_some_and(|feet| fields.contains_key(&feet))
    };
    let is_twice = |name: &str, value: &Value| {
        name == "worst_weighted_error_stops" && fields.get("worst_error_stops") == Some(value)
            || name == "to" && is_top && fields.get("from") == Some(value)
            || name == "source" && fields.contains_key("source_ft")
            || name == "set_f_number" && fields.get("f_number") == Some(value)
            || name == "feasible" && is_top && value == true
            || name == "id" && NAMES.iter().any(|name| *name != "id" && fields.contains_key(*name))
    };
    let shown = fields.iter().filter(|(name, value)| {
        !is_for_programs(name, value, is_top) && !is_in_feet(name) && !is_twice(name, value)
    });
    // Of a unit in the form of a request, people read the name.
    let shown = shown.map(|(name, value)| match value.get("name") {
        _ if name != "unit" || !value.is_object() => (name.clone(), value.clone()),
        unit_name => (name.clone(), unit_name.cloned().unwrap_or_default()),
    });
    shown.collect()
}

/// The labels and values that fit on a line each. A value's range stands behind it, and values of one label stand together.
pub fn rows(fields: &Map<String, Value>, is_top: bool) -> Vec<(String, String)> {
    let mut rows: Vec<(String, String)> = Vec::new();
    for (name, value) in fields.iter().filter(|(name, value)| !is_idle(name, value)) {
        if name.strip_suffix("_range").is_some_and(|of| fields.get(of).is_some_and(|value| !value.is_null()))
        {
            continue;
        }
        let Some(mut text) = cell(name, value) else { continue };
        let range = fields.get(&format!("{name}_range")).filter(|range| range.is_object());
        if let Some(range) = range.filter(|range| range["low"] != range["high"]) {
            text = format!("{text} ({})", bounds(name, [&range["low"], &range["high"]]));
        }
        let label = label(name, is_top);
        match rows.iter_mut().find(|(known, _)| *known == label) {
            Some((_, known)) => *known = format!("{known}, {text}"),
            None => rows.push((label, text)),
        }
    }
    rows
}

/// Whether a value says nothing.
pub fn is_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().all(is_name_alone),
        Value::Object(fields) => fields.iter().all(|(name, value)| is_nothing(value) || is_idle(name, value)),
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
