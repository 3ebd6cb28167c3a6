//! Names and settings that point nowhere, told even where another part of the request is wrong.
//!
//! The maths checks them in a request of the right shape; here the raw tree is searched, so that one
//! mistyped value does not hide a mistyped name.

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

/// Lights that a set may have.
pub const LIGHTS_MOST: usize = 32;

/// Reads a request about a set and checks it, names and settings last.
pub fn checked<F: Read, T>(
    tree: &Value<'_>,
    at: &At<'_>,
    reader: &mut Reader,
    check: impl FnOnce(F, &At<'_>, &mut Reader) -> Option<T>,
) -> Option<T> {
    let checked = match F::read(tree, at, reader) {
        Some(form) => check(form, at, reader),
        None => {
            check_settings(tree, None, at, reader);
            None
        }
    };
    if checked.is_none() || !reader.is_clean() {
        check_names(tree, at, reader);
    }
    checked
}

/// Notes every name of a set that points nowhere or repeats.
fn check_names(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) {
    let lights = names(tree, "lights", at, reader);
    let points = match tree.get("ratio") {
        Some(Value::Object(_)) => Some(SIDES.to_vec()),
        _ => names(tree, "points", at, reader),
    };
    let (lights, points) = (lights.map(Known::of), points.map(Known::of));
    let (lights, points) = (lights.as_ref(), points.as_ref());
    for list in ["readings", "placements", "ambient"] {
        let list_at = At::Field(at, list);
        for (index, item) in items(tree, list).iter().enumerate() {
            let item_at = At::Index(&list_at, index);
            points_somewhere(item, "light", "light", lights, &item_at, reader);
            points_somewhere(item, "point", "point", points, &item_at, reader);
        }
    }
    if let Some(ratio) = tree.get("ratio") {
        let ratio_at = At::Field(at, "ratio");
        for field in ["key", "fill"] {
            points_somewhere(ratio, field, "light", lights, &ratio_at, reader);
        }
    }
    let points_at = At::Field(at, "points");
    for (index, point) in items(tree, "points").iter().enumerate() {
        if let Some(target) = point.get("target") {
            let point_at = At::Index(&points_at, index);
            let target_at = At::Field(&point_at, "target");
            points_somewhere(target, "to", "point", points, &target_at, reader);
        }
    }
}

fn items<'t, 'a>(tree: &'t Value<'a>, list: &str) -> &'t [Value<'a>] {
    match tree.get(list) {
        Some(Value::List(items)) => items,
        _ => &[],
    }
}

fn text<'t>(tree: &'t Value<'_>, field: &str) -> Option<&'t str> {
    tree.get(field)?.text()
}

/// The names of a list; `None` if one of them cannot be read, for it may be any.
fn names<'t>(tree: &'t Value<'_>, list: &str, at: &At<'_>, reader: &mut Reader) -> Option<Vec<&'t str>> {
    let list_at = At::Field(at, list);
    let (mut names, mut before) = (Vec::new(), HashSet::new());
    let mut complete = true;
    for (index, item) in items(tree, list).iter().enumerate() {
        match text(item, "name").filter(|name| is_name(name)) {
            Some(name) if !before.insert(name) => {
                let item_at = At::Index(&list_at, index);
                reader.noted::<()>(&At::Field(&item_at, "name"), || set::used_before(name));
            }
            Some(name) => names.push(name),
            None => complete = false,
        }
    }
    (complete && !names.is_empty()).then_some(names)
}

/// Whether a text may be a name.
fn is_name(text: &str) -> bool {
    (1..=NAME_MOST).contains(&text.chars().count())
}

/// The names of a list, in its order and to be looked up: there may be thousands in what is refused.
struct Known<'t> {
    in_order: Vec<&'t str>,
    all: HashSet<&'t str>,
}

impl<'t> Known<'t> {
    fn of(names: Vec<&'t str>) -> Self {
        Self { all: names.iter().copied().collect(), in_order: names }
    }
}

fn points_somewhere(
    item: &Value<'_>,
    field: &str,
    what: &str,
    known: Option<&Known<'_>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    if let (Some(name), Some(known)) = (text(item, field), known)
        && !known.all.contains(name)
    {
        reader.noted::<()>(&At::Field(at, field), || set::points_nowhere(what, name, &known.in_order));
    }
}

/// Notes every setting of a reading that is not on the scale of its unit: that of its light, where the request has no
/// other.
pub fn check_settings(tree: &Value<'_>, unit: Option<&Value<'_>>, at: &At<'_>, reader: &mut Reader) {
    let mut quiet = Reader::default();
    let mut read = |unit: &Value<'_>| Unit::read(unit, &At::Root, &mut quiet);
    let mut lights = HashMap::new();
    // A longer list is refused, and each of its units may have a scale of thousands of settings.
    for light in items(tree, "lights").iter().take(LIGHTS_MOST) {
        let unit = || light.get("unit").and_then(&mut read);
        lights.entry(text(light, "name")).or_insert_with(unit);
    }
    let unit = unit.and_then(read);
    let readings_at = At::Field(at, "readings");
    for (index, reading) in items(tree, "readings").iter().enumerate() {
        let of_light = || lights.get(&text(reading, "light"))?.as_ref();
        let unit = unit.as_ref().or_else(of_light);
        let setting = reading
            .get("setting")
            .and_then(|tree| SettingText::read(tree, &At::Root, &mut Reader::default()));
        if let (Some(unit), Some(setting)) = (unit, setting) {
            let reading_at = At::Index(&readings_at, index);
            setting.check(unit, &At::Field(&reading_at, "setting"), reader);
        }
    }
}
