//! The elements of a set: lights, points, readings, placements, ambient light.

use utoipa::ToSchema;

use crate::api::{
    objects::{
        AngleOfIncidence, BelowFull, Correction, LightingRatioValue, LuxValue, SettingText, Size, UnitInput,
        Weight,
    },
    read::{At, Item, Read, Reader, quantity, reads, reads_word, written},
    schema::{
        DistanceInput, FNumberInput, LightingRatioNumber, RatioInput, SettingInput, SizeInput, StopsInput,
    },
    tree::Tree,
};
use crate::light::{
    balance::{
        Counting, LightingRatio,
        setup::{Ambient, AmbientAmount, Light, MeteringPoint, Target},
    },
    bounds,
    kind::Kind,
    placement::Source,
    quantity::{FNumber, Lux, Metres, Stops, significant},
    unit::Unit,
};

/// A light of the set.
#[derive(ToSchema)]
pub struct LightInput {
    /// Your own name for this entry, given back with its result.
    #[schema(min_length = 1, max_length = 64)]
    pub id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(min_length = 1, max_length = 64)]
    pub name: String,
    /// The unit.
    #[schema(value_type = UnitInput)]
    pub unit: Unit,
    /// It may go no lower than so many stops below full, 0 to 16.
    pub max_stops_below_full: Option<BelowFull>,
    /// It stays at this setting.
    #[schema(value_type = Option<SettingInput>)]
    pub fixed_setting: Option<SettingText>,
    /// It may be switched off; false if left out. With `fixed_setting`: at that setting or off.
    pub may_be_off: Option<bool>,
}
reads!(LightInput { id, name, unit, max_stops_below_full, fixed_setting, may_be_off });

impl Read for Light {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
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
            id: form.id,
            name: form.name,
            unit: form.unit,
            max_below: form.max_stops_below_full.map(|below| Stops::computed(below.0)),
            fixed,
            may_be_off: form.may_be_off.unwrap_or(false),
        })
    }
}

impl Item for Light {
    const MOST: usize = 32;
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
    /// The point named by `to` gets this many times the light of this one: "3:1" is 3 there, 1 here.
    #[schema(value_type = Option<RatioInput>)]
    pub ratio: Option<Ratio>,
    /// The other point of the ratio.
    #[schema(min_length = 1, max_length = 64)]
    pub to: Option<String>,
}
reads!(TargetInput { f_number, stops, ratio, to });

/// A ratio of light, to 1.
#[derive(Clone, Copy)]
pub struct Ratio(f64);

impl Read for Ratio {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        quantity(Kind::LightRatio, tree, at, reader).map(Self)
    }

    fn wanted() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}

impl Read for Target {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
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
    #[schema(min_length = 1, max_length = 64)]
    pub id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(min_length = 1, max_length = 64)]
    pub name: String,
    /// What is wanted there.
    #[schema(value_type = TargetInput)]
    pub target: Target,
    /// What an error there counts, 0.01 to 100; 1 if left out.
    pub weight: Option<Weight>,
}
reads!(PointInput { id, name, target, weight });

impl Item for PointInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "points";
}

/// A meter's reading with one light alone.
#[derive(ToSchema)]
pub struct ReadingInput {
    /// The light's name.
    #[schema(min_length = 1, max_length = 64)]
    pub light: String,
    /// The point's name; may be left out in the two-light shorthand.
    #[schema(min_length = 1, max_length = 64)]
    pub point: Option<String>,
    /// The setting of the light.
    #[schema(value_type = SettingInput)]
    pub setting: SettingText,
    /// What the meter read, at the working ISO speed.
    #[schema(value_type = FNumberInput)]
    pub f_number: FNumber,
}
reads!(ReadingInput { light, point, setting, f_number });

impl Item for ReadingInput {
    const LEAST: usize = 0;
    const MOST: usize = 2048;
    const WHAT: &'static str = "readings";
}

/// The face of a source: exactly one of `disc_m` and `rectangle_m`.
#[derive(ToSchema)]
pub struct SourceInput {
    /// The diameter of a round face.
    #[schema(value_type = Option<SizeInput>)]
    pub disc_m: Option<Size>,
    /// The width and height of a rectangular face.
    #[schema(value_type = Option<Vec<SizeInput>>, min_items = 2, max_items = 2)]
    pub rectangle_m: Option<Sides>,
}
reads!(SourceInput { disc_m, rectangle_m });

pub struct Sides([Size; 2]);

impl Read for Sides {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, width and height";
        let Tree::List(items) = tree else {
            return reader.mistyped(at, tree, EXPECTED);
        };
        let [width, height] = items.as_slice() else {
            return reader.fault(at, format!("the list has {} elements", items.len()), EXPECTED);
        };
        let width = Size::read(width, &At::Index(at, 0), reader);
        let height = Size::read(height, &At::Index(at, 1), reader);
        Some(Self([width?, height?]))
    }
}

impl Read for Source {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = SourceInput::read(tree, at, reader)?;
        match (form.disc_m, form.rectangle_m) {
            (Some(Size(diameter)), None) => Some(Self::Disc { diameter }),
            (None, Some(Sides([Size(width), Size(height)]))) => Some(Self::Rectangle { width, height }),
            _ => {
                reader.fault(at, "a source is told in exactly one way", "exactly one of disc_m, rectangle_m")
            }
        }
    }
}

/// Where a light stands to a point.
#[derive(ToSchema)]
pub struct PlacementInput {
    /// The light's name.
    #[schema(min_length = 1, max_length = 64)]
    pub light: String,
    /// The point's name; may be left out in the two-light shorthand.
    #[schema(min_length = 1, max_length = 64)]
    pub point: Option<String>,
    /// From the light to the point.
    #[schema(value_type = DistanceInput)]
    pub distance: Metres,
    /// Angle between the light's direction and the point's normal, degrees, 0 to 90; 0 if left out.
    pub incidence_deg: Option<AngleOfIncidence>,
    /// What its modifier does against the unit as it is rated, stops; negative where it darkens.
    #[schema(value_type = Option<StopsInput>)]
    pub modifier_stops: Option<Correction>,
    /// The face of the modifier, where it is near: the finite-source factor comes on top.
    #[schema(value_type = Option<SourceInput>)]
    pub source: Option<Source>,
}
reads!(PlacementInput { light, point, distance, incidence_deg, modifier_stops, source });

impl Item for PlacementInput {
    const LEAST: usize = 0;
    const MOST: usize = 2048;
    const WHAT: &'static str = "placements";
}

/// Ambient light at a point: exactly one of `illuminance_lx` and `f_number`.
#[derive(ToSchema)]
pub struct AmbientInput {
    /// The point's name.
    #[schema(min_length = 1, max_length = 64)]
    pub point: String,
    /// Illuminance, lx, 0 to 1000000.
    pub illuminance_lx: Option<LuxValue>,
    /// A meter's reading at the working exposure time and ISO speed.
    #[schema(value_type = Option<FNumberInput>)]
    pub f_number: Option<FNumber>,
}
reads!(AmbientInput { point, illuminance_lx, f_number });

impl Item for AmbientInput {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "ambient entries";
}

impl Read for Ambient {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = AmbientInput::read(tree, at, reader)?;
        let amount = match (form.illuminance_lx, form.f_number) {
            (Some(lux), None) => AmbientAmount::Illuminance(Lux::computed(lux.0)),
            (None, Some(f_number)) => AmbientAmount::FNumber(f_number),
            _ => {
                return reader.fault(
                    at,
                    "ambient light is told in exactly one way",
                    "exactly one of illuminance_lx, f_number",
                );
            }
        };
        Some(Self { point: form.point, amount })
    }
}

impl Item for Ambient {
    const LEAST: usize = AmbientInput::LEAST;
    const MOST: usize = AmbientInput::MOST;
    const WHAT: &'static str = AmbientInput::WHAT;
}

/// How a lighting ratio is counted.
#[derive(ToSchema)]
#[schema(rename_all = "lowercase")]
#[expect(dead_code, reason = "stands in the OpenAPI document only")]
pub enum CountingWord {
    /// The fill reaches both sides: (key + fill) : fill.
    Sides,
    /// Each light metered alone: key : fill.
    Lights,
}

reads_word!(Counting: [Counting::Sides, Counting::Lights].map(|counting| (counting.text(), counting)));

/// A lighting ratio of two lights, instead of points.
#[derive(ToSchema)]
pub struct LightingRatioInput {
    /// The ratio, 1 to 1000 to 1, as 3 or "3:1".
    #[schema(value_type = LightingRatioNumber)]
    pub value: LightingRatioValue,
    /// Name of the key light, which reaches the lit side.
    #[schema(min_length = 1, max_length = 64)]
    pub key: String,
    /// Name of the fill light, which reaches both sides.
    #[schema(min_length = 1, max_length = 64)]
    pub fill: String,
    /// `sides` (if left out): (key + fill) : fill. `lights`: each metered alone.
    #[schema(value_type = Option<CountingWord>)]
    pub counting: Option<Counting>,
}
reads!(LightingRatioInput { value, key, fill, counting });

impl PointInput {
    pub fn checked(self) -> MeteringPoint {
        MeteringPoint {
            id: self.id,
            name: self.name,
            target: self.target,
            weight: self.weight.map_or(1.0, |weight| weight.0),
        }
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
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
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

    fn wanted() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}
