//! One vocabulary: a walk through the whole document for fields that break its rules.

use serde_json::Value;

use crate::support::document;

/// What a number's name ends with: its unit.
const UNITS: [&str; 33] = [
    "stops",
    "m",
    "ft",
    "mm",
    "um",
    "s",
    "ms",
    "j",
    "w",
    "watts",
    "va",
    "kwh",
    "hours",
    "hz",
    "a",
    "v",
    "k",
    "mired",
    "lx",
    "lx_s",
    "lm",
    "lm_s",
    "cd",
    "cd_s",
    "lm_per_j",
    "levels_per_stop",
    "sr",
    "deg",
    "px",
    "m_per_s",
    "percent",
    "volts",
    "stops_below_full",
];

/// Numbers without a unit in their name, and why.
const WITHOUT_UNIT: [(&str, &[&str]); 6] = [
    (
        "counts",
        &[
            "bits",
            "count",
            "duty_flashes",
            "feasible_shots",
            "flashes",
            "flashes_per_charge",
            "frames",
            "full_flashes",
            "heads",
            "images",
            "index",
            "max_pops",
            "more_errors",
            "most_full_flashes",
            "needed",
            "nodes",
            "outlet",
            "outlets",
            "pixels_across",
            "pops",
            "readings",
            "roles_without_unit",
            "round",
            "used",
        ],
    ),
    (
        "parts and ratios",
        &[
            "achieved",
            "ambient_share",
            "chance",
            "chance_within_tolerance",
            "chance_reached",
            "charging_efficiency",
            "confidence",
            "fraction",
            "frame_share",
            "gain",
            "light_ratio",
            "magnification",
            "power_factor",
            "pupil_ratio",
            "ratio",
            "sides",
            "lights",
            "repeat",
            "reflectance",
            "reserve",
            "share",
            "target",
            "tracking",
            "weight",
        ],
    ),
    ("levels of a picture, as its file has them", &["allowed_level", "darkest_level", "level"]),
    (
        "the field that holds them has the unit",
        &["from", "height", "high", "low", "to", "typical", "value", "width"],
    ),
    ("labels of the unit's own dial", &["full", "step"]),
    (
        "terms with a unit of their own, or none: APEX, exposure values, ISO 2720's constant, f-numbers, HTTP, the caller's currency",
        &["apex", "constant_c", "ev100", "other_f_number", "price", "status"],
    ),
];

/// Two numbers in a list that are no range.
const PAIRS: [(&str, &str); 11] = [
    ("AnglePair", "horizontal and vertical"),
    ("BeamRow", "an angle and the intensity there"),
    ("FrameSides", "width and height"),
    ("LevelPair", "two levels of one patch, in the order of the frames"),
    ("FlagInput.size_m", "width and height"),
    ("ReflectorInput.size_m", "width and height"),
    ("SourceInput.rectangle_m", "width and height"),
    ("SourceFace.rectangle_m", "width and height"),
    ("LimitsInput.distance", "in a request, as a person types it"),
    ("LimitsInput.f_number", "in a request, as a person types it; from the wide to the small aperture"),
    ("LimitsInput.exposure_time", "in a request, as a person types it"),
];
/// The same for ISO speeds.
const ISO_PAIR: &str = "LimitsInput.iso";

/// An answer that is sent back as it stands, in the words of a request.
const AS_ASKED: [(&str, &str); 2] = [("LearnedReading", "f_number"), ("LearnedReading", "distance")];

/// Names of earlier versions.
const RETIRED: [&str; 14] = [
    "exposure_error_stops",
    "residual_stops",
    "fixed_setting",
    "meter_offset_stops",
    "percent",
    "breaker_amps",
    "seconds_between",
    "pops_per_charge",
    "blur_mm",
    "worst_weighted_error",
    "peak_w",
    "patch_level",
    "uncertainty_stops",
    "by",
];

/// Distances to a target are 0 where there is none, and never null. (What is left above and below is not known of a light
/// without a unit.)
const NEVER_NULL: [&str; 2] = ["shortfall_stops", "excess_stops"];

fn has_kind(schema: &Value, kinds: &[&str]) -> bool {
    let is = |kind: &Value| kind.as_str().is_some_and(|kind| kinds.contains(&kind));
    schema["type"].as_array().map_or_else(|| is(&schema["type"]), |all| all.iter().any(is))
}

/// What is wrong with a field, if anything.
fn fault(schema: &str, name: &str, field: &Value) -> Option<String> {
    let is_request = schema.ends_with("Input") || schema.ends_with("Request");
    let is_null = has_kind(field, &["null"]);
    if RETIRED.contains(&name) {
        return Some("a name of earlier versions".to_owned());
    }
    if NEVER_NULL.contains(&name) && is_null {
        return Some("null where 0 would do".to_owned());
    }
    if has_kind(field, &["number", "integer"]) {
        let has_unit = UNITS.iter().any(|unit| {
            name.strip_suffix(unit).is_some_and(|front| front.is_empty() || front.ends_with('_'))
        });
        let is_known = AS_ASKED.contains(&(schema, name));
        if !has_unit && !is_known && !WITHOUT_UNIT.iter().any(|(_, names)| names.contains(&name)) {
            return Some("a number without its unit in the name".to_owned());
        }
        let says_when =
            field["description"].as_str().is_some_and(|text| text.to_lowercase().contains("null"));
        if is_null && !is_request && !says_when {
            return Some("nullable, and does not say when".to_owned());
        }
    }
    pair(&format!("{schema}.{name}"), field)
}

/// A list of two that is a range, and so should be an object.
fn pair(at: &str, schema: &Value) -> Option<String> {
    let is_known = at == ISO_PAIR || PAIRS.iter().any(|(known, _)| *known == at);
    (has_kind(schema, &["array"]) && schema["maxItems"] == 2 && !is_known)
        .then(|| "a list of two, as if it were a range".to_owned())
}

/// The faults of a schema, and of the parts that it is made of; and how many fields were seen.
fn faults(at: &str, schema: &Value) -> (Vec<String>, usize) {
    let (mut found, mut seen) =
        (pair(at, schema).map(|why| format!("{at}: {why}")).into_iter().collect::<Vec<_>>(), 0);
    for (name, field) in schema["properties"].as_object().into_iter().flatten() {
        seen += 1;
        found.extend(fault(at, name, field).map(|why| format!("{at}.{name}: {why}")));
    }
    for part in ["allOf", "oneOf", "anyOf"] {
        for part in schema[part].as_array().into_iter().flatten() {
            let (more, fields) = faults(at, part);
            found.extend(more);
            seen += fields;
        }
    }
    (found, seen)
}

#[test]
fn every_field_keeps_to_one_vocabulary() {
    let mut all = Vec::new();
    let mut seen = 0;
    for (name, schema) in document()["components"]["schemas"].as_object().expect("schemas") {
        let (found, fields) = faults(name, schema);
        all.extend(found);
        seen += fields;
    }
    assert!(all.is_empty(), "{all:#?}");
    assert!(seen > 600, "{seen} fields");
}

#[test]
fn fields_that_break_the_rules_are_found() {
    use serde_json::json;
    let number = json!({"type": "number", "description": "Some number."});
    let range = json!({"type": "array", "maxItems": 2, "items": {"type": "number"}});
    let nullable = json!({"type": ["number", "null"], "description": "Some number."});
    for (schema, name, field) in [
        ("Answer", "distance", &number),
        ("Answer", "peak_w", &number),
        ("Answer", "distance_m", &range),
        ("Answer", "distance_m", &nullable),
        ("Answer", "shortfall_stops", &nullable),
        ("AskInput", "shortfall_stops", &nullable),
    ] {
        assert!(fault(schema, name, field).is_some(), "{schema}.{name}");
    }
    for (schema, name, field) in [
        ("Answer", "distance_m", &number),
        ("AskInput", "distance_m", &nullable),
        ("Answer", "stops", &number),
    ] {
        assert_eq!(fault(schema, name, field), None);
    }
}
