//! Checks names and settings that refer to other parts of a request, even if another part is invalid.
//!
//! `light` checks them in a request of the right shape. Here the parsed JSON is searched, so that one mistyped value does
//! not hide a mistyped name.

use std::collections::{HashMap, HashSet};

use crate::{
    light::{balance::ratio::SIDES, set, unit::Unit},
    request::{
        fields::SettingText,
        place::At,
        reader::{NAME_MOST, Read, Reader},
        value::Value,
    },
};

/// Maximum number of lights in a set.
pub const LIGHTS_MOST: usize = 32;

/// Reads a request about a set, checks it, and then checks its names and settings.
pub fn read_and_check<F: Read, T>(
    value: &Value<'_>,
    at: &At<'_>,
    reader: &mut Reader,
    check: impl FnOnce(F, &At<'_>, &mut Reader) -> Option<T>,
) -> Option<T> {
    let checked = match F::read(value, at, reader) {
        Some(input) => check(input, at, reader),
        None => {
            check_settings(value, None, at, reader);
            None
        }
    };
    if checked.is_none() || !reader.is_clean() {
        check_names(value, at, reader);
    }
    checked
}

/// Adds a fault for every name of a set that is repeated or does not exist.
fn check_names(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) {
    let lights = names(value, "lights", at, reader);
    let points = match value.get("ratio") {
        Some(Value::Object(_)) => Some(SIDES.to_vec()),
        _ => names(value, "points", at, reader),
    };
    let (lights, points) = (lights.map(Names::new), points.map(Names::new));
    let (lights, points) = (lights.as_ref(), points.as_ref());
    for list in ["readings", "placements", "ambient"] {
        let list_at = At::Field(at, list);
        for (index, item) in items(value, list).iter().enumerate() {
            let item_at = At::Index(&list_at, index);
            check_reference(item, "light", "light", lights, &item_at, reader);
            check_reference(item, "point", "point", points, &item_at, reader);
        }
    }
    if let Some(ratio) = value.get("ratio") {
        let ratio_at = At::Field(at, "ratio");
        for field in ["key", "fill"] {
            check_reference(ratio, field, "light", lights, &ratio_at, reader);
        }
    }
    let points_at = At::Field(at, "points");
    for (index, point) in items(value, "points").iter().enumerate() {
        if let Some(target) = point.get("target") {
            let point_at = At::Index(&points_at, index);
            let target_at = At::Field(&point_at, "target");
            check_reference(target, "to", "point", points, &target_at, reader);
        }
    }
}

fn items<'t, 'a>(value: &'t Value<'a>, list: &str) -> &'t [Value<'a>] {
    match value.get(list) {
        Some(Value::List(items)) => items,
        _ => &[],
    }
}

fn text<'t>(value: &'t Value<'_>, field: &str) -> Option<&'t str> {
    value.get(field)?.text()
}

/// The names in a list; `None` if one of them cannot be read, since any reference may be to that one.
fn names<'t>(value: &'t Value<'_>, list: &str, at: &At<'_>, reader: &mut Reader) -> Option<Vec<&'t str>> {
    let list_at = At::Field(at, list);
    let (mut names, mut before) = (Vec::new(), HashSet::new());
    let mut complete = true;
    for (index, item) in items(value, list).iter().enumerate() {
        match text(item, "name").filter(|name| is_name(name)) {
            Some(name) if !before.insert(name) => {
                let item_at = At::Index(&list_at, index);
                reader.push_fault_with::<()>(&At::Field(&item_at, "name"), || set::duplicate_name(name));
            }
            Some(name) => names.push(name),
            None => complete = false,
        }
    }
    (complete && !names.is_empty()).then_some(names)
}

/// Whether a text is short enough for a name, and not empty.
fn is_name(text: &str) -> bool {
    (1..=NAME_MOST).contains(&text.chars().count())
}

/// The names in a list, in order and as a set, since an invalid request may have thousands of them.
struct Names<'t> {
    in_order: Vec<&'t str>,
    all: HashSet<&'t str>,
}

impl<'t> Names<'t> {
    fn new(names: Vec<&'t str>) -> Self {
        Self { all: names.iter().copied().collect(), in_order: names }
    }
}

/// Adds a fault if the name in `field` of `item` is not among the known names.
fn check_reference(
    item: &Value<'_>,
    field: &str,
    what: &str,
    known: Option<&Names<'_>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    if let (Some(name), Some(known)) = (text(item, field), known)
        && !known.all.contains(name)
    {
        reader
            .push_fault_with::<()>(&At::Field(at, field), || set::unknown_name(what, name, &known.in_order));
    }
}

/// Adds a fault for every reading whose setting is not on the scale of its unit. The unit is `unit`, or else that of the
/// reading's light.
pub fn check_settings(value: &Value<'_>, unit: Option<&Value<'_>>, at: &At<'_>, reader: &mut Reader) {
    // Faults of the units themselves are reported elsewhere.
    let mut counting = Reader::default();
    let mut read = |unit: &Value<'_>| Unit::read(unit, &At::Root, &mut counting);
    let mut lights = HashMap::new();
    // A longer list is rejected anyway, and each unit may have a scale of thousands of settings.
    for light in items(value, "lights").iter().take(LIGHTS_MOST) {
        let unit = || light.get("unit").and_then(&mut read);
        lights.entry(text(light, "name")).or_insert_with(unit);
    }
    let unit = unit.and_then(read);
    let readings_at = At::Field(at, "readings");
    for (index, reading) in items(value, "readings").iter().enumerate() {
        let unit_of_light = || lights.get(&text(reading, "light"))?.as_ref();
        let unit = unit.as_ref().or_else(unit_of_light);
        let setting = reading
            .get("setting")
            .and_then(|value| SettingText::read(value, &At::Root, &mut Reader::default()));
        if let (Some(unit), Some(setting)) = (unit, setting) {
            let reading_at = At::Index(&readings_at, index);
            setting.check(unit, &At::Field(&reading_at, "setting"), reader);
        }
    }
}
