//! The elements of a set to balance: lights, points, targets, a lighting ratio.

use crate::{
    light::{
        balance::{
            ratio::{Counting, LightingRatio},
            setup::{Control, PointTarget, Target},
        },
        quantity::{FNumber, Stops, bounds, kind::Kind},
        set::{
            Light, MeteringPoint, Optics,
            beam::Beam,
            geometry::{Direction, Position},
            modifier::Modifier,
            placement::Source,
        },
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{BelowFull, LightingRatioValue, Pops, SettingText, Weight},
        place::At,
        reader::{
            Read, Reader,
            lists::Item,
            values::{quantity, written},
            words::reads_word,
        },
        references::{self, MAX_LIGHTS},
        schema::{EntryId, Name, RatioInput},
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// A light in the set.
    pub struct LightInput {
        /// Your own id for this entry, returned with its result.
        pub id: Option<String> as EntryId,
        /// Its name in this request, 1 to 64 characters, unique among them.
        pub name: String as Name,
        /// The unit.
        pub unit: Unit,
        /// Its position. With it, the light reaches every point that has a position.
        pub position: Option<Position>,
        /// The position that it is aimed at; each point in turn if left out.
        pub aim: Option<Position>,
        /// How its beam falls off away from the axis; an even beam if left out.
        pub beam: Option<Beam>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        pub modifier_stops: Option<Modifier>,
        /// The face of its modifier. The finite-source factor is then applied as well.
        pub source: Option<Source>,
        /// Its lowest allowed setting, stops below full power, 0 to 16.
        pub max_stops_below_full: Option<BelowFull>,
        /// The setting that it must keep.
        pub fixed_setting: Option<SettingText>,
        /// Whether it may be switched off; false if left out. With `fixed_setting`, it is at that setting or off.
        pub may_be_off: Option<bool>,
        /// Flashes per exposure; 1 if left out. Its readings are of a single flash.
        pub pops: Option<Pops>,
    }
    checked by references::define_light(name, unit)
}

/// A light, and its constraints.
pub struct ControlledLight {
    /// The light.
    pub light: Light,
    /// Its constraints.
    pub control: Control,
}

looks_like!(ControlledLight as LightInput, Ratio as RatioInput, Target as TargetInput);

impl Read for ControlledLight {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LightInput::read(value, at, reader)?;
        let fixed = match &input.fixed_setting {
            Some(setting) => Some(setting.check(&input.unit, &At::Field(at, "fixed_setting"), reader)?),
            None => None,
        };
        if let (Some(fixed), Some(most)) = (fixed, input.max_stops_below_full)
            && fixed.get() > most.0 + 1e-9
        {
            return reader.push_fault(
                &At::Field(at, "fixed_setting"),
                Fault::BelowLeast { below: fixed.get(), most: most.0 },
            );
        }
        Some(Self {
            light: Light {
                id: input.id,
                name: input.name,
                unit: input.unit,
                position: input.position,
                optics: Optics {
                    aim: input.aim,
                    beam: input.beam,
                    modifier: input.modifier_stops,
                    source: input.source,
                },
            },
            control: Control {
                max_below: input.max_stops_below_full.map(|below| Stops::new_unchecked(below.0)),
                fixed,
                may_be_off: input.may_be_off.unwrap_or(false),
                pops: input.pops.map_or(1, |pops| pops.0),
            },
        })
    }
}

impl Item for ControlledLight {
    const MAX: usize = MAX_LIGHTS;
    const PLURAL: &'static str = "lights";
}

request! {
    /// The target at a point: exactly one of `f_number`, `stops`, or `ratio` with `to`.
    pub struct TargetInput {
        /// The f-number that a meter is to read there.
        pub f_number: Option<FNumber>,
        /// Stops relative to the working exposure.
        pub stops: Option<Stops>,
        /// The point named by `to` is to get this many times the light of this one: "3:1" is 3 there, 1 here. It relates the targets of the two points, not the light they get in the end.
        pub ratio: Option<Ratio>,
        /// The other point of the ratio.
        pub to: Option<String> as Name,
    }
    exactly one of "the target": f_number | stops | ratio & to
    checked by references::note_target(to)
}

/// A light ratio, as the number before ":1".
#[derive(Clone, Copy)]
pub struct Ratio(f64);

impl Read for Ratio {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        quantity(Kind::LightRatio, value, at, reader).map(Self)
    }

    fn expected() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}

impl Read for Target {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = TargetInput::read(value, at, reader)?;
        match (input.f_number, input.stops, input.ratio, input.to) {
            (Some(f_number), None, None, None) => Some(Self::FNumber(f_number)),
            (None, Some(stops), None, None) => Some(Self::Stops(stops)),
            (None, None, Some(Ratio(ratio)), Some(to)) => Some(Self::Ratio { ratio, to }),
            // Refused by the reader.
            _ => None,
        }
    }
}

request! {
    /// A metering point.
    pub struct PointInput {
        /// Your own id for this entry, returned with its result.
        pub id: Option<String> as EntryId,
        /// Its name in this request, 1 to 64 characters, unique among them.
        pub name: String as Name,
        /// Its position. With it, lights that have a position need no placement for this point.
        pub position: Option<Position>,
        /// The direction it faces; towards each light in turn if left out.
        pub normal: Option<Direction>,
        /// Its target.
        pub target: Target,
        /// Weight of its error, 0.01 to 100; 1 if left out.
        pub weight: Option<Weight>,
    }
    checked by references::define_point(name)
}

impl Item for PointInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "points";
}

reads_word!(Counting: Counting::ALL.map(|counting| (counting.text(), counting)));

request! {
    /// A lighting ratio between two lights, instead of points.
    pub struct LightingRatioInput {
        /// The ratio, 1:1 to 1000:1, as 3 or "3:1".
        pub value: LightingRatioValue,
        /// Name of the key light, which reaches the lit side.
        pub key: String as Name,
        /// Name of the fill light, which reaches both sides.
        pub fill: String as Name,
        /// How the ratio is defined; `sides` if left out.
        pub counting: Option<Counting>,
    }
    checked by references::check_ratio(key, fill)
}

impl PointInput {
    /// Splits it into the point and its target.
    pub fn split(self) -> (MeteringPoint, PointTarget) {
        let point =
            MeteringPoint { id: self.id, name: self.name, position: self.position, normal: self.normal };
        (point, PointTarget { target: self.target, weight: self.weight.map_or(1.0, |weight| weight.0) })
    }
}

impl LightingRatioInput {
    /// Finds the two lights by name.
    pub fn check(self, lights: &[Light], at: &At<'_>, reader: &mut Reader) -> Option<LightingRatio> {
        if lights.len() != 2 {
            return reader.push_fault(at, Fault::NotTwoLights);
        }
        // `references` reports a name that does not exist.
        let find = |name: &str| lights.iter().position(|light| light.name == name);
        let (key, fill) = (find(&self.key), find(&self.fill));
        let (key, fill) = (key?, fill?);
        if key == fill {
            return reader.push_fault(&At::Field(at, "fill"), Fault::KeyIsFill);
        }
        let counting = self.counting.unwrap_or(Counting::Sides);
        Some(LightingRatio { value: self.value.0, counting, key, fill })
    }
}

impl Read for LightingRatioValue {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let written = written(Kind::LightRatio, value, at, reader)?;
        let (value, bounds) = (written.number, bounds::LIGHTING_RATIO);
        if (0.0..1.0).contains(&value) {
            return reader.push_fault(at, Fault::RatioBelowOne { what: bounds.what, value, bounds });
        }
        reader.checked(at, bounds.check(value)).map(Self)
    }

    fn expected() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}
