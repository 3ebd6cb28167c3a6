//! The names of fields as labels and headings: in words, with the unit that a name ends with.

/// Field names that need other words than their own.
const PHRASES: [(&str, &str); 32] = [
    ("t0_5_s", "t0.5"),
    ("t0_1_s", "t0.1"),
    ("longest_t0_1_s", "longest t0.1"),
    ("at_full", "at full power"),
    ("at_least", "at lowest power"),
    ("sync_allows", "sync allows it"),
    ("ev100", "EV at ISO 100"),
    ("solved_for", "found"),
    ("hz", "rate"),
    ("feasible", "can be done"),
    ("uncertainty", "sure to"),
    ("known_before_stops", "sure to, before"),
    ("plus_minus_stops", "sure to"),
    ("this_meter_plus_minus_stops", "sure to, this meter"),
    ("camera_plus_minus_stops", "sure to, on camera"),
    ("chance_within_tolerance", "chance within tolerance"),
    ("ambient_below_flash_stops", "ambient under flash"),
    ("setting_that_holds", "setting in time"),
    ("holds", "in time"),
    ("front_to_back_stops", "front to back"),
    ("index", "reading"),
    ("clean", "stays out"),
    ("achieved_stops", "light"),
    ("incident_stops", "light on it"),
    ("stops_range", "range"),
    ("still_stops", "what stands still"),
    ("moving_stops", "what moves"),
    ("in_s", "window"),
    ("off_by_stops", "off by"),
    ("left_over_stops", "unexplained"),
    ("distinguishable", "told apart"),
    ("expected_worst_stops", "expected worst error"),
];
/// The same at the top of an answer.
const TOP_PHRASES: [(&str, &str); 1] = [("exposure_time", "time for wanted ambient")];
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

/// The unit of a field, by its name. `None` also for the durations of a flash and the lengths of a blur, which are written
/// with theirs.
pub fn unit(name: &str) -> Option<&'static str> {
    let name = name.strip_suffix("_range").unwrap_or(name);
    // The fields of a unit's rated energy and of a rate have no suffix.
    match name {
        _ if is_flash_duration(name) || matches!(name, "blur_m" | "penumbra_m" | "length_m") => None,
        "energy" => Some("J"),
        "hz" => Some("Hz"),
        "stops" | "uncertainty" => Some("stops"),
        _ => suffix(name).map(|(_, unit)| unit),
    }
}

/// Whether a field is the duration of a flash, which is written as cameras write times.
pub fn is_flash_duration(name: &str) -> bool {
    name.ends_with("t0_5_s") || name.ends_with("t0_1_s")
}

/// The suffix of a name and its unit.
fn suffix(name: &str) -> Option<(&'static str, &'static str)> {
    UNITS.into_iter().find(|(suffix, _)| name.ends_with(suffix))
}

/// A field name in words, without its unit. Some are said otherwise at the top of an answer.
pub fn label(name: &str, is_top: bool) -> String {
    let top = TOP_PHRASES.iter().filter(|_| is_top);
    if let Some((_, words)) = PHRASES.iter().chain(top).find(|(known, _)| *known == name) {
        return (*words).to_owned();
    }
    let (name, range) = match name.strip_suffix("_range") {
        Some(name) => (name, " range"),
        None => (name, ""),
    };
    let stem = suffix(name).and_then(|(suffix, _)| name.strip_suffix(suffix)).unwrap_or(name);
    format!("{}{range}", in_words(stem))
}

/// A field name in words with its unit, as a heading.
pub fn heading(name: &str) -> String {
    let label = label(name, false);
    match unit(name).filter(|unit| *unit != label) {
        Some(unit) => format!("{label}, {unit}"),
        None => label,
    }
}

/// A word of the interface as people write it: `f-number`, `at most`.
pub fn in_words(word: &str) -> String {
    word.replace('_', " ").replace("f number", "f-number")
}
