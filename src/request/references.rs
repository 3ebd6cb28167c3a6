//! The names that a request about a set defines and refers to. They are noted while it is read, so that a mistyped value
//! elsewhere does not hide a mistyped name: lights, points and settings are checked at once, targets of ratios when all
//! points are read.
//!
//! Packs, lights and points are read before what refers to them, in the order in which a request type declares its fields. These
//! functions are called by `checked by` in `request!`, with what could be read of each field: `None` if it could not be
//! read, `Some(None)` if an optional one was left out.

use std::mem;

use crate::{
    light::{
        error::InvalidValue,
        id::Id,
        set::ratio::SIDES,
        unit::{Unit, pack::Pack},
    },
    request::{
        faults::FieldError,
        fields::unit::{LightSettingText, SettingText},
        names::{self, Names, References},
        place::At,
        reader::{Read, Reader, values::EntryName},
    },
    wording::fault::Fault,
};

/// Maximum number of lights in a set.
pub const MAX_LIGHTS: usize = 32;

/// The name of an entry: as stated, or the text of its id.
pub fn name_or_id(name: Option<String>, id: Option<&Id>) -> Option<String> {
    name.or_else(|| id.map(Id::name))
}

/// The name of an entry, which must have one or an id.
pub fn named(name: Option<String>, id: Option<&Id>, at: &At<'_>, reader: &mut Reader) -> Option<String> {
    name_or_id(name, id)
        .or_else(|| reader.push_fault_with(at, || Fault::Missing { expected: String::expected() }))
}

/// The index of a name in a list of `what`. A fault if it is not there.
pub fn find<'n>(
    name: &str,
    what: &'static str,
    list: impl Iterator<Item = &'n str> + Clone,
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<usize> {
    list.clone().position(|known| known == name).or_else(|| {
        reader.push_fault_with(at, || names::unknown(what, name, list.map(str::to_owned).collect()).into())
    })
}

/// Defines a pack, which is completed when all of it is read.
pub fn define_pack(id: Option<&Option<Id>>, name: Option<&Option<String>>, at: &At<'_>, reader: &mut Reader) {
    define(|references| &mut references.packs, (id, name), None, at, reader);
}

/// Completes a pack.
pub fn complete_pack(pack: &Pack, reader: &mut Reader) {
    reader.references().packs.complete(&pack.name, pack.clone());
}

/// Defines a light.
pub fn define_light(
    id: Option<&Option<Id>>,
    name: Option<&Option<String>>,
    unit: Option<&Unit>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    define(|references| &mut references.lights, (id, name), unit, at, reader);
}

/// Defines a point.
pub fn define_point(
    id: Option<&Option<Id>>,
    name: Option<&Option<String>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    define(|references| &mut references.points, (id, name), None, at, reader);
}

/// Defines a board.
pub fn define_reflector(
    id: Option<&Option<Id>>,
    name: Option<&Option<String>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    define(|references| &mut references.reflectors, (id, name), None, at, reader);
}

/// Defines a blocker.
pub fn define_blocker(
    id: Option<&Option<Id>>,
    name: Option<&Option<String>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    define(|references| &mut references.blockers, (id, name), None, at, reader);
}

fn define<T: Clone>(
    list: fn(&mut References) -> &mut Names<T>,
    (id, name): (Option<&Option<Id>>, Option<&Option<String>>),
    what: Option<&T>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    let names = list(reader.references());
    let (Some(id), Some(stated)) = (id, name) else {
        names.is_incomplete = true;
        return;
    };
    let Some(name) = name_or_id(stated.clone(), id.as_ref()) else {
        names.is_incomplete = true;
        named(None, None, &At::Field(at, "name"), reader);
        return;
    };
    if !names.add(&name, what.cloned()) {
        let at = At::Field(at, if stated.is_some() { "name" } else { "id" });
        reader.push_fault::<()>(&at, InvalidValue::DuplicateName { name });
    }
}

/// Checks the lights of a ratio. Its two sides are the points; a request that lists points as well is refused elsewhere.
pub fn check_ratio(key: Option<&EntryName>, fill: Option<&EntryName>, at: &At<'_>, reader: &mut Reader) {
    check_light(key, &At::Field(at, "key"), reader);
    check_light(fill, &At::Field(at, "fill"), reader);
    reader.references().points = Names::default();
    for side in SIDES {
        reader.references().points.add(side, None);
    }
}

/// Checks the light and the point of an entry.
pub fn check_placement(
    light: Option<&EntryName>,
    point: Option<&Option<EntryName>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    check_light(light, &At::Field(at, "light"), reader);
    check_point(point.and_then(Option::as_ref), at, reader);
}

/// Checks the light, the point and the setting of a reading.
pub fn check_reading(
    light: Option<&EntryName>,
    point: Option<&Option<EntryName>>,
    setting: Option<&SettingText>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    check_placement(light, point, at, reader);
    let unit = light.and_then(|light| reader.references().lights.get(&light.0));
    let error = wrong_setting(unit, setting);
    push_setting(error, at, reader);
}

/// Checks the light of a round, and its setting.
pub fn check_round_setting(
    light: Option<&EntryName>,
    setting: Option<&LightSettingText>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    check_light(light, &At::Field(at, "light"), reader);
    let unit = light.and_then(|light| reader.references().lights.get(&light.0));
    let error = setting.zip(unit).and_then(|(setting, unit)| setting.find(unit).err());
    push_setting(error, at, reader);
}

/// Checks the point of a reading of a round, and the lights that were on.
pub fn check_round_reading(
    point: Option<&EntryName>,
    lights: Option<&Option<Vec<EntryName>>>,
    at: &At<'_>,
    reader: &mut Reader,
) {
    check_point(point, at, reader);
    let at = At::Field(at, "lights");
    for (index, light) in lights.into_iter().flatten().flatten().enumerate() {
        check_light(Some(light), &At::Index(&at, index), reader);
    }
}

fn check_light(name: Option<&EntryName>, at: &At<'_>, reader: &mut Reader) {
    if let Some(EntryName(name)) = name {
        reader.check_name(at, "light", name, |references| &references.lights);
    }
}

/// Checks the point of an entry.
pub fn check_point(name: Option<&EntryName>, at: &At<'_>, reader: &mut Reader) {
    if let Some(EntryName(name)) = name {
        reader.check_name(&At::Field(at, "point"), "point", name, |references| &references.points);
    }
}

/// Notes the point that a target refers to.
pub fn note_target(to: Option<&Option<EntryName>>, at: &At<'_>, reader: &mut Reader) {
    if let Some(Some(EntryName(to))) = to {
        reader.references().targets.push((At::Field(at, "to").pointer(), to.clone()));
    }
}

/// Checks the points that targets refer to, when all points are read.
pub fn check_targets(reader: &mut Reader) {
    for (pointer, to) in mem::take(&mut reader.references().targets) {
        if reader.references().points.is_unknown(&to) {
            let fault = reader.references().points.unknown("point", &to).into();
            reader.push_located(FieldError { pointer, fault });
        }
    }
}

/// Notes the unit whose settings the readings state.
pub fn note_unit(unit: &Unit, reader: &mut Reader) {
    reader.references().unit = Some(unit.clone());
}

/// Checks the setting of a reading of that unit.
pub fn check_setting(setting: Option<&Option<SettingText>>, at: &At<'_>, reader: &mut Reader) {
    let error = wrong_setting(reader.references().unit.as_ref(), setting.and_then(Option::as_ref));
    push_setting(error, at, reader);
}

/// The error of a setting that is not on the scale of a unit, if both could be read.
fn wrong_setting(unit: Option<&Unit>, setting: Option<&SettingText>) -> Option<InvalidValue> {
    setting?.find(unit?).err()
}

fn push_setting(error: Option<InvalidValue>, at: &At<'_>, reader: &mut Reader) {
    if let Some(error) = error {
        reader.push_fault::<()>(&At::Field(at, "setting"), error);
    }
}
