//! The elements of a set to balance: lights, points, targets, a lighting ratio.

use utoipa::ToSchema;

use crate::{
    light::{
        balance::{
            ratio::{Counting, LightingRatio},
            setup::{Control, PointTarget, Target},
        },
        quantity::{FNumber, Stops, bounds, kind::Kind, significant},
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
        fields::{
            BeamInput, BelowFull, LightingRatioValue, Pops, SettingText, SourceInput, UnitInput, Weight,
        },
        place::At,
        reader::{Item, Read, Reader, quantity, reads, reads_word, written},
        references::LIGHTS_MOST,
        schema::{
            DirectionInput, EntryId, FNumberInput, LightingRatioNumber, ModifierInput, Name, PositionInput,
            RatioInput, SettingInput, StopsInput,
        },
        value::Value,
    },
};

/// A light of the set.
#[derive(ToSchema)]
pub struct LightInput {
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    pub id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(value_type = Name)]
    pub name: String,
    /// The unit.
    #[schema(value_type = UnitInput)]
    pub unit: Unit,
    /// Where it stands. It then lights every point whose position is known.
    #[schema(value_type = Option<PositionInput>)]
    pub position: Option<Position>,
    /// The place that it is aimed at; at each point if left out.
    #[schema(value_type = Option<PositionInput>)]
    pub aim: Option<Position>,
    /// How its beam falls off its axis; even if left out.
    #[schema(value_type = Option<BeamInput>)]
    pub beam: Option<Beam>,
    /// What its modifier does against the unit as it is rated: stops, negative where it darkens, or a kind out of `modifiers`.
    #[schema(value_type = Option<ModifierInput>)]
    pub modifier_stops: Option<Modifier>,
    /// The face of its modifier: the finite-source factor comes on top.
    #[schema(value_type = Option<SourceInput>)]
    pub source: Option<Source>,
    /// It may go no lower than so many stops below full, 0 to 16.
    pub max_stops_below_full: Option<BelowFull>,
    /// It stays at this setting.
    #[schema(value_type = Option<SettingInput>)]
    pub fixed_setting: Option<SettingText>,
    /// It may be switched off; false if left out. With `fixed_setting`: at that setting or off.
    pub may_be_off: Option<bool>,
    /// Flashes in one exposure; 1 if left out. Readings are of one flash.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    pub pops: Option<Pops>,
}
reads!(LightInput {
    id,
    name,
    unit,
    position,
    aim,
    beam,
    modifier_stops,
    source,
    max_stops_below_full,
    fixed_setting,
    may_be_off,
    pops
});

/// A light, and what may be done with it.
pub struct CheckedLight {
    /// The light.
    pub lamp: Light,
    /// What may be done with it.
    pub control: Control,
}

impl Read for CheckedLight {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = LightInput::read(tree, at, reader)?;
        let fixed = match &form.fixed_setting {
            Some(setting) => Some(setting.check(&form.unit, &At::Field(at, "fixed_setting"), reader)?),
            None => None,
        };
        if let (Some(fixed), Some(most)) = (fixed, form.max_stops_below_full)
            && fixed.get() > most.0 + 1e-9
        {
            return reader.fault(
                &At::Field(at, "fixed_setting"),
                format!("the setting is {} stops below full", significant(fixed.get())),
                format!("at most max_stops_below_full, {}", significant(most.0)),
            );
        }
        Some(Self {
            lamp: Light {
                id: form.id,
                name: form.name,
                unit: form.unit,
                position: form.position,
                outfit: Optics {
                    aim: form.aim,
                    beam: form.beam,
                    modifier: form.modifier_stops,
                    source: form.source,
                },
            },
            control: Control {
                max_below: form.max_stops_below_full.map(|below| Stops::new_unchecked(below.0)),
                fixed,
                may_be_off: form.may_be_off.unwrap_or(false),
                pops: form.pops.map_or(1, |pops| pops.0),
            },
        })
    }
}

impl Item for CheckedLight {
    const MOST: usize = LIGHTS_MOST;
    const WHAT: &'static str = "lights";
}

/// What is wanted at a point: exactly one of `f_number`, `stops`, or `ratio` with `to`.
#[derive(ToSchema)]
pub struct TargetInput {
    /// The aperture that a meter should read there.
    #[schema(value_type = Option<FNumberInput>)]
    pub f_number: Option<FNumber>,
    /// Stops against the working exposure.
    #[schema(value_type = Option<StopsInput>)]
    pub stops: Option<Stops>,
    /// The point named by `to` is to get this many times the light of this one: "3:1" is 3 there, 1 here. It binds the targets, not what is achieved.
    #[schema(value_type = Option<RatioInput>)]
    pub ratio: Option<Ratio>,
    /// The other point of the ratio.
    #[schema(value_type = Option<Name>)]
    pub to: Option<String>,
}
reads!(TargetInput { f_number, stops, ratio, to });

/// A ratio of light, to 1.
#[derive(Clone, Copy)]
pub struct Ratio(f64);

impl Read for Ratio {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        quantity(Kind::LightRatio, tree, at, reader).map(Self)
    }

    fn expected() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}

impl Read for Target {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = TargetInput::read(tree, at, reader)?;
        match (form.f_number, form.stops, form.ratio, form.to) {
            (Some(f_number), None, None, None) => Some(Self::FNumber(f_number)),
            (None, Some(stops), None, None) => Some(Self::Stops(stops)),
            (None, None, Some(Ratio(ratio)), Some(to)) => Some(Self::Ratio { ratio, to }),
            _ => reader.fault(
                at,
                "a target is told in exactly one way",
                "exactly one of f_number, stops, or ratio with to",
            ),
        }
    }
}

/// A metering point.
#[derive(ToSchema)]
pub struct PointInput {
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    pub id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(value_type = Name)]
    pub name: String,
    /// Where it is; with it, lights whose position is known need no placement.
    #[schema(value_type = Option<PositionInput>)]
    pub position: Option<Position>,
    /// Where it faces; each light if left out.
    #[schema(value_type = Option<DirectionInput>)]
    pub normal: Option<Direction>,
    /// What is wanted there.
    #[schema(value_type = TargetInput)]
    pub target: Target,
    /// What an error there counts, 0.01 to 100; 1 if left out.
    pub weight: Option<Weight>,
}
reads!(PointInput { id, name, position, normal, target, weight });

impl Item for PointInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "points";
}

reads_word!(Counting: Counting::ALL.map(|counting| (counting.text(), counting)));

/// A lighting ratio of two lights, instead of points.
#[derive(ToSchema)]
pub struct LightingRatioInput {
    /// The ratio, 1 to 1000 to 1, as 3 or "3:1".
    #[schema(value_type = LightingRatioNumber)]
    pub value: LightingRatioValue,
    /// Name of the key light, which reaches the lit side.
    #[schema(value_type = Name)]
    pub key: String,
    /// Name of the fill light, which reaches both sides.
    #[schema(value_type = Name)]
    pub fill: String,
    /// How the ratio is counted; `sides` if left out.
    pub counting: Option<Counting>,
}
reads!(LightingRatioInput { value, key, fill, counting });

impl PointInput {
    /// The point, and what is wanted there.
    pub fn parts(self) -> (MeteringPoint, PointTarget) {
        let spot =
            MeteringPoint { id: self.id, name: self.name, position: self.position, normal: self.normal };
        (spot, PointTarget { target: self.target, weight: self.weight.map_or(1.0, |weight| weight.0) })
    }
}

impl LightingRatioInput {
    pub fn check(self, lights: &[Light], at: &At<'_>, reader: &mut Reader) -> Option<LightingRatio> {
        if lights.len() != 2 {
            return reader.fault(
                at,
                "the shorthand is for two lights",
                "two lights, or points instead of ratio",
            );
        }
        // A name that is not there is told with all others.
        let find = |name: &str| lights.iter().position(|light| light.name == name);
        let (key, fill) = (find(&self.key), find(&self.fill));
        let (key, fill) = (key?, fill?);
        if key == fill {
            return reader.fault(&At::Field(at, "fill"), "key and fill are the same light", "two lights");
        }
        let counting = self.counting.unwrap_or(Counting::Sides);
        Some(LightingRatio { value: self.value.0, counting, key, fill })
    }
}

impl Read for LightingRatioValue {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let written = written(Kind::LightRatio, tree, at, reader)?;
        match bounds::LIGHTING_RATIO.check(written.number) {
            Ok(ratio) => Some(Self(ratio)),
            Err(mut wrong) => {
                if (0.0..1.0).contains(&written.number) {
                    wrong.expected.push_str("; the key is the brighter light, so swap key and fill");
                }
                reader.wrong(at, wrong)
            }
        }
    }

    fn expected() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}
