//! The names that a request about a set defines and refers to. They are noted while it is read, so that a mistyped value
//! elsewhere does not hide a mistyped name: lights, points and settings are checked at once, targets of ratios when all
//! points are read.
//!
//! Lights and points are read before what refers to them, in the order in which a request type declares its fields. These
//! functions are called by `checked by` in `request!`, with what could be read of each field: `None` if it could not be
//! read, `Some(None)` if an optional one was left out.

use std::mem;

use crate::{
    light::{balance::ratio::SIDES, error::InvalidValue, unit::Unit},
    request::{fields::unit::SettingText, names::Names, place::At, reader::Reader},
};

/// Maximum number of lights in a set.
pub const MAX_LIGHTS: usize = 32;

/// Defines a light.
pub fn define_light(name: Option<&String>, unit: Option<&Unit>, at: &At<'_>, reader: &mut Reader) {
    let is_new = match name {
        Some(name) => reader.references().lights.add(name, unit.cloned()),
        None => {
            reader.references().lights.is_incomplete = true;
            true
        }
    };
    check_new(is_new, name, at, reader);
}

/// Defines a point.
pub fn define_point(name: Option<&String>, at: &At<'_>, reader: &mut Reader) {
    let is_new = match name {
        Some(name) => reader.references().points.add(name, None),
        None => {
            reader.references().points.is_incomplete = true;
            true
        }
    };
    check_new(is_new, name, at, reader);
}

fn check_new(is_new: bool, name: Option<&String>, at: &At<'_>, reader: &mut Reader) {
    if let (false, Some(name)) = (is_new, name) {
        let error = InvalidValue::DuplicateName { name: name.clone() };
        reader.push_fault::<()>(&At::Field(at, "name"), error);
    }
}

/// Checks the lights of a ratio. Its two sides are the points; a request that lists points as well is refused elsewhere.
pub fn check_ratio(key: Option<&String>, fill: Option<&String>, at: &At<'_>, reader: &mut Reader) {
    check_light(key, &At::Field(at, "key"), reader);
    check_light(fill, &At::Field(at, "fill"), reader);
    reader.references().points = Names::default();
    for side in SIDES {
        reader.references().points.add(side, None);
    }
}

/// Checks the light and the point of an entry.
pub fn check_placement(
    light: Option<&String>,
    point: Option<&Option<String>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    check_light(light, &At::Field(at, "light"), reader);
    check_point(point.and_then(Option::as_ref), at, reader);
}

/// Checks the light, the point and the setting of a reading.
pub fn check_reading(
    light: Option<&String>,
    point: Option<&Option<String>>,
    setting: Option<&SettingText>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    check_placement(light, point, at, reader);
    let unit = light.and_then(|light| reader.references().lights.unit(light));
    if let (Some(unit), Some(setting)) = (unit, setting)
        && let Err(error) = setting.find(unit)
    {
        reader.push_fault::<()>(&At::Field(at, "setting"), error);
    }
}

fn check_light(name: Option<&String>, at: &At<'_>, reader: &mut Reader) {
    if let Some(name) = name.filter(|name| reader.references().lights.is_unknown(name)) {
        let error = reader.references().lights.unknown("light", name);
        reader.push_fault::<()>(at, error);
    }
}

/// Checks the point of an entry.
pub fn check_point(name: Option<&String>, at: &At<'_>, reader: &mut Reader) {
    if let Some(name) = name.filter(|name| reader.references().points.is_unknown(name)) {
        let error = reader.references().points.unknown("point", name);
        reader.push_fault::<()>(&At::Field(at, "point"), error);
    }
}

/// Notes the point that a target refers to.
pub fn note_target(to: Option<&Option<String>>, at: &At<'_>, reader: &mut Reader) {
    if let Some(Some(to)) = to {
        reader.references().targets.push((At::Field(at, "to").pointer(), to.clone()));
    }
}

/// Checks the points that targets refer to, when all points are read.
pub fn check_targets(reader: &mut Reader) {
    for (pointer, to) in mem::take(&mut reader.references().targets) {
        if reader.references().points.is_unknown(&to) {
            let error = reader.references().points.unknown("point", &to);
            reader.push_fault_at(pointer, error);
        }
    }
}

/// Notes the unit whose settings the readings state.
pub fn note_unit(unit: &Unit, reader: &mut Reader) {
    reader.references().unit = Some(unit.clone());
}

/// Checks the setting of a reading of that unit.
pub fn check_setting(setting: Option<&SettingText>, at: &At<'_>, reader: &mut Reader) {
    if let (Some(unit), Some(setting)) = (reader.references().unit.as_ref(), setting)
        && let Err(error) = setting.find(unit)
    {
        reader.push_fault::<()>(&At::Field(at, "setting"), error);
    }
}
