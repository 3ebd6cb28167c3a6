//! A light of a set.

use crate::{
    light::{
        id::Id,
        quantity::Stops,
        set::{
            Light, Optics,
            beam::Beam,
            control::{Control, LightSetting},
            filter::Filter,
            geometry::Position,
            modifier::Modifier,
            placement::Source,
        },
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{BelowFull, FocalLength, LightSettingText, Pops, zoomed_if_stated},
        place::At,
        reader::{Read, Reader, lists::Item},
        references::{self, MAX_LIGHTS},
        schema::Name,
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// A light in the set.
    struct LightInput {
        /// Your own id for this entry, returned wherever the light is named.
        id: Option<Id>,
        /// Its name in this request, 1 to 64 characters, unique among them; the text of its `id` if left out.
        name: Option<String> as Name,
        /// The unit.
        unit: Unit,
        /// Where it stands today. A balance may change it unless `hold` is true; a prediction takes it as it is, and full power if it is left out. "off" is read too. On a pack with one setting it is the pack's, and enough if one light states it; the same holds for `hold` and `max_stops_below_full`.
        setting: Option<LightSettingText>,
        /// Whether a balance must keep its `setting`; false if left out.
        hold: Option<bool>,
        /// Whether a balance may switch it off; false if left out. A pack with one setting is switched off if all lights on it may be. With `hold`, it is at its setting or off.
        may_be_off: Option<bool>,
        /// Its lowest setting in a balance, stops below full power, 0 to 16.
        max_stops_below_full: Option<BelowFull>,
        /// Flashes per exposure; 1 if left out. Its readings are of a single flash. A lamp has none.
        pops: Option<Pops>,
        /// The zoom of its head, as a focal length on 36 x 24 mm, mm. A table of guide numbers is read there; it is the coverage of a unit that states none. It is the light on the axis; what is off it is the `beam`'s.
        zoom_mm: Option<FocalLength>,
        /// Filters on it. Its placements lose by them; readings were taken with them.
        filters: Option<Vec<Filter>>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
        /// Its position. With it, the light reaches every point that has a position.
        position: Option<Position>,
        /// The position that it is aimed at; each point in turn if left out.
        aim: Option<Position>,
        /// How its beam falls off away from the axis. If left out, a light without `source` is even, and a face falls off with the cosine; "even" switches that off.
        beam: Option<Beam>,
        /// The face of its modifier, turned to its `aim`. The light is then summed over its area: each part with its own distance and angles, and only what is above a point's horizon. A rectangle's width is level and its height runs up; along y if it is aimed straight up or down.
        source: Option<Source>,
    }
    checked by references::define_light(id, name, unit)
}

/// A light that was read.
pub struct LightEntry(pub Light);

looks_like!(LightEntry as LightInput);

impl Read for LightEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LightInput::read(value, at, reader)?;
        let unit = zoomed_if_stated(input.unit, input.zoom_mm, at, reader)?;
        let pops = input.pops.map_or(1, |pops| pops.0);
        if pops > 1 && unit.lamp.is_some() {
            return reader.push_fault(&At::Field(at, "pops"), Fault::PopsOfLamp);
        }
        let setting_at = At::Field(at, "setting");
        if matches!(value.get("setting"), Some(Value::Null)) {
            // In an answer, null means a light that is off; in a request, a setting left out means full power.
            return reader.push_fault(&setting_at, Fault::OffOrFullPower);
        }
        let setting = match &input.setting {
            Some(setting) => Some(setting.check(&unit, &setting_at, reader)?),
            None => None,
        };
        let hold = input.hold.unwrap_or(false);
        if hold && setting.is_none() {
            return reader.push_fault(
                &setting_at,
                Fault::Missing { expected: "setting, which goes with hold".to_owned() },
            );
        }
        if let (true, Some(LightSetting::Below(held)), Some(most)) =
            (hold, setting, input.max_stops_below_full)
            && held.get() > most.0 + 1e-9
        {
            return reader.push_fault(&setting_at, Fault::BelowLeast { below: held.get(), most: most.0 });
        }
        Some(Self(Light {
            name: references::name_or_id(input.name, input.id.as_ref())?,
            id: input.id,
            unit,
            position: input.position,
            optics: Optics {
                aim: input.aim,
                beam: input.beam,
                modifier: input.modifier_stops,
                source: input.source,
            },
            filters: input.filters.unwrap_or_default(),
            control: Control {
                setting,
                hold,
                may_be_off: input.may_be_off.unwrap_or(false),
                max_below: input.max_stops_below_full.map(|below| Stops::new_unchecked(below.0)),
                pops,
            },
        }))
    }
}

impl Item for LightEntry {
    const MAX: usize = MAX_LIGHTS;
    const PLURAL: &'static str = "lights";
}
