//! Objects that many requests share: units, scales, coverages, guide numbers, exposures, limits.
//!
//! Each is a form, read by its shape, and a `check` that makes the domain's type of it.

use utoipa::ToSchema;

use super::{
    read::{At, Item, Read, Reader, number, reads, whole, word},
    schema::{
        DistanceInput, EnergyInput, ExposureTimeInput, FNumberInput, IsoInput, SettingInput, StopsInput,
    },
    tree::Tree,
};
use crate::light::{
    bounds,
    constants::{DEFAULT_CLICK, FOOT_M, FRAME_MM},
    coverage::Coverage,
    equivalence::FlashExposure,
    kind::Kind,
    limits::Limits,
    notation,
    quantity::{Estimate, FNumber, GuideMetres, Iso, Joules, Metres, Seconds, Stops},
    scale::{Grid, Scale, Style},
    unit::Unit,
};

/// A number in the bounds of one row of the table.
macro_rules! bounded {
    ($($(#[$doc:meta])* $name:ident: $bounds:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy)]
        pub struct $name(pub f64);

        impl Read for $name {
            fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                number(tree, bounds::$bounds, at, reader).map(Self)
            }

            fn wanted() -> String {
                format!("a number, {}", bounds::$bounds.range())
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                super::schema::number(bounds::$bounds).into()
            }
        }

        impl ToSchema for $name {}
    )+};
}

bounded!(
    /// A guide number's value, in its own unit and ISO speed.
    GuideValue: GUIDE_NUMBER,
    /// A focal length, mm.
    FocalLength: FOCAL_LENGTH,
    /// The full angle of a cone, degrees.
    ConeAngle: CONE,
    /// On-axis intensity over that of an isotropic source of equal flux.
    GainValue: GAIN,
    /// The label on a dial.
    DialLabel: DIAL_LABEL,
    /// A linear step of a power control, in percent or joules.
    LinearStep: LINEAR_STEP,
    /// The constant C, lx·s.
    ConstantC: CONSTANT_C,
    /// The level of a grey patch.
    PatchLevel: PATCH_LEVEL,
    /// Stops below full power.
    BelowFull: BELOW_FULL,
    /// What an error at a point counts.
    Weight: WEIGHT,
    /// Illuminance, lx.
    LuxValue: ILLUMINANCE,
    /// Angle of incidence, degrees.
    AngleOfIncidence: INCIDENCE,
    /// Time limit, ms.
    TimeLimit: TIME_LIMIT,
);

/// A lighting ratio, to 1.
#[derive(Clone, Copy)]
pub struct LightingRatioValue(pub f64);

/// The size of a source.
#[derive(Clone, Copy)]
pub struct Size(pub Metres);

impl Read for Size {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let written = super::read::written(Kind::Distance, tree, at, reader)?;
        match bounds::SIZE.check(written.number) {
            Ok(size) => Some(Self(Metres::computed(size))),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }
}

/// A tolerance, stops.
#[derive(Clone, Copy)]
pub struct Tolerance(pub Stops);

impl Read for Tolerance {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let stops = Stops::read(tree, at, reader)?;
        match bounds::TOLERANCE.check(stops.get()) {
            Ok(_) => Some(Self(stops)),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }
}

/// Two numbers in the bounds of one row of the table.
fn pair(tree: &Tree<'_>, bounds: bounds::Bounds, at: &At<'_>, reader: &mut Reader) -> Option<[f64; 2]> {
    let Tree::List(items) = tree else {
        return reader.mistyped(at, tree, "a list of two numbers");
    };
    let [first, second] = items.as_slice() else {
        return reader.fault(at, format!("the list has {} elements", items.len()), "a list of two numbers");
    };
    let first = number(first, bounds, &At::Index(at, 0), reader);
    let second = number(second, bounds, &At::Index(at, 1), reader);
    Some([first?, second?])
}

macro_rules! pair_of {
    ($(#[$doc:meta])* $name:ident: $bounds:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy)]
        pub struct $name([f64; 2]);

        impl Read for $name {
            fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                pair(tree, bounds::$bounds, at, reader).map(Self)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                super::schema::pair(super::schema::number(bounds::$bounds).into())
            }
        }

        impl ToSchema for $name {}
    };
}
pair_of!(
    /// The sides of a frame, mm.
    FrameSides: FRAME_SIDE
);
pair_of!(
    /// Two full angles, across and up, degrees.
    AnglePair: ANGLE
);

/// The unit of a guide number.
#[derive(Clone, Copy, ToSchema)]
#[schema(rename_all = "lowercase")]
pub enum GuideUnit {
    /// Metres.
    M,
    /// Feet.
    Ft,
}

impl Read for GuideUnit {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        word(tree, &[("m", Self::M), ("ft", Self::Ft)], at, reader)
    }
}

/// How wide a beam is: exactly one of `focal_length_mm`, `angles_deg`, `cone_deg`, `gain`.
#[derive(ToSchema)]
pub struct CoverageInput {
    /// The focal length whose field the beam covers, mm.
    focal_length_mm: Option<FocalLength>,
    /// The frame for which the focal length holds, mm; 36 x 24 if left out.
    frame_mm: Option<FrameSides>,
    /// The two full angles of the beam, across and up, degrees.
    angles_deg: Option<AnglePair>,
    /// The full angle of a round beam, degrees.
    cone_deg: Option<ConeAngle>,
    /// On-axis intensity over that of an isotropic source of equal flux.
    gain: Option<GainValue>,
}
reads!(CoverageInput { focal_length_mm, frame_mm, angles_deg, cone_deg, gain });

impl Read for Coverage {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = CoverageInput::read(tree, at, reader)?;
        let coverage = match (form.focal_length_mm, form.angles_deg, form.cone_deg, form.gain) {
            (Some(FocalLength(focal_length_mm)), None, None, None) => Self::FocalLength {
                focal_length_mm,
                frame_mm: form.frame_mm.map_or(FRAME_MM, |frame| frame.0),
            },
            (None, Some(AnglePair([horizontal_deg, vertical_deg])), None, None) => {
                Self::Angles { horizontal_deg, vertical_deg }
            }
            (None, None, Some(ConeAngle(cone_deg)), None) => Self::Cone { cone_deg },
            (None, None, None, Some(GainValue(gain))) => Self::Gain { gain },
            _ => {
                return reader.fault(
                    at,
                    "a coverage is told in exactly one way",
                    "exactly one of focal_length_mm, angles_deg, cone_deg, gain",
                );
            }
        };
        if form.frame_mm.is_some() && form.focal_length_mm.is_none() {
            return reader.fault(
                &At::Field(at, "frame_mm"),
                "a frame goes with a focal length only",
                "focal_length_mm beside it, or no frame_mm",
            );
        }
        Some(coverage)
    }
}

/// A guide number.
#[derive(ToSchema)]
pub struct GuideNumberInput {
    /// Its value, in `unit`.
    value: GuideValue,
    /// Metres or feet.
    unit: GuideUnit,
    /// The ISO speed it is stated for; 100 if left out.
    #[schema(value_type = Option<IsoInput>)]
    iso: Option<Iso>,
    /// The coverage at which it was stated.
    #[schema(value_type = Option<CoverageInput>)]
    coverage: Option<Coverage>,
}
reads!(GuideNumberInput { value, unit, iso, coverage });

/// A guide number with the coverage that stood in it.
pub struct Guide {
    /// In metres at ISO 100.
    pub number: GuideMetres,
    /// Its coverage.
    pub coverage: Option<Coverage>,
}

impl Read for Guide {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = GuideNumberInput::read(tree, at, reader)?;
        let metres = match form.unit {
            GuideUnit::M => form.value.0,
            GuideUnit::Ft => form.value.0 * FOOT_M,
        };
        // GN goes with the square root of the ISO speed (ISO 1230).
        let iso = form.iso.unwrap_or(Iso::BASE).get();
        match GuideMetres::new(metres / (iso / 100.0).sqrt()) {
            Ok(number) => Some(Self { number, coverage: form.coverage }),
            Err(wrong) => reader.wrong(&At::Field(at, "value"), wrong),
        }
    }

    fn wanted() -> String {
        "a guide number, as {\"value\": 40, \"unit\": \"m\", \"iso\": 100}".to_owned()
    }
}

/// What is printed on a power control.
#[derive(Clone, Copy, ToSchema)]
#[schema(rename_all = "lowercase")]
pub enum ScaleStyle {
    /// Labels one stop apart.
    Dial,
    /// Fractions of full power.
    Fraction,
    /// Percent of full energy.
    Percent,
    /// Joules.
    Joules,
}

impl Read for ScaleStyle {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let words = [
            ("dial", Self::Dial),
            ("fraction", Self::Fraction),
            ("percent", Self::Percent),
            ("joules", Self::Joules),
        ];
        word(tree, &words, at, reader)
    }
}

/// A power scale. Dials need `full` and `least`; the others `least` only.
#[derive(ToSchema)]
pub struct ScaleInput {
    /// What is printed on the control.
    style: ScaleStyle,
    /// For a dial: the label at full power; labels may run up or down.
    full: Option<DialLabel>,
    /// The least setting: a dial's label, a fraction as "1/128", a percentage, or joules. At most 16 stops below full.
    #[schema(value_type = SettingInput)]
    least: SettingText,
    /// The smallest step in stops; 1/10 if neither this nor `step` is given.
    #[schema(value_type = Option<StopsInput>)]
    click: Option<Stops>,
    /// For percent and joules: the smallest step, in percent or joules, counted down from full.
    step: Option<LinearStep>,
}
reads!(ScaleInput { style, full, least, click, step });

impl ScaleInput {
    fn check(self, energy: Option<Joules>, at: &At<'_>, reader: &mut Reader) -> Option<Scale> {
        let linear = matches!(self.style, ScaleStyle::Percent | ScaleStyle::Joules);
        if let (Some(_), false) = (self.full, matches!(self.style, ScaleStyle::Dial)) {
            let at = At::Field(at, "full");
            return reader.fault(&at, "only a dial has a label at full", "no full on this scale");
        }
        let grid = match (self.click, self.step) {
            (Some(_), Some(_)) => {
                let at = At::Field(at, "step");
                return reader.fault(&at, "both click and step are given", "one of click, step");
            }
            (_, Some(_)) if !linear => {
                let at = At::Field(at, "step");
                return reader.fault(
                    &at,
                    "a linear step goes with percent or joules only",
                    "click, in stops",
                );
            }
            (_, Some(step)) => Grid::Linear(step.0),
            (click, None) => {
                let click = click.map_or(DEFAULT_CLICK, Stops::get);
                if let Err(wrong) = bounds::CLICK.check(click) {
                    return reader.wrong(&At::Field(at, "click"), wrong);
                }
                Grid::Click(click)
            }
        };
        let least_at = At::Field(at, "least");
        let least = self.least.0;
        let style = match self.style {
            ScaleStyle::Dial => {
                let Some(DialLabel(full)) = self.full else {
                    let at = At::Field(at, "full");
                    return reader.fault(&at, "a dial needs its label at full power", DialLabel::wanted());
                };
                let Some(least) = notation::bare_number(&least) else {
                    return reader.fault(&least_at, "this is not a dial's label", DialLabel::wanted());
                };
                if let Err(wrong) = bounds::DIAL_LABEL.check(least) {
                    return reader.wrong(&least_at, wrong);
                }
                Style::Dial { full, least }
            }
            ScaleStyle::Fraction => {
                Style::Fraction { least: positive(Kind::PowerFraction, &least, &least_at, reader)? }
            }
            ScaleStyle::Percent => {
                Style::Percent { least: positive(Kind::Percent, &least, &least_at, reader)? }
            }
            ScaleStyle::Joules => {
                let least = positive(Kind::Energy, &least, &least_at, reader)?;
                let Some(full) = energy else {
                    return reader.fault(
                        at,
                        "a scale in joules needs the unit's energy",
                        "energy beside the scale",
                    );
                };
                if least >= full.get() {
                    return reader.fault(
                        &least_at,
                        "the least energy is not under the full one",
                        "less than the unit's energy",
                    );
                }
                Style::Joules { full: full.get(), least }
            }
        };
        Scale::new(style, grid).map_or_else(|wrong| reader.wrong(at, wrong), Some)
    }
}

/// A value of a kind in a text that may be a bare number.
fn positive(kind: Kind, text: &str, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    let value = match notation::bare_number(text) {
        Some(number) => Ok(number),
        None => notation::read(kind, text).map(|written| written.number * written.beyond_stops.exp2()),
    };
    match value.and_then(|value| kind.bounds().check(value)) {
        Ok(value) => Some(value),
        Err(wrong) => reader.wrong(at, wrong),
    }
}

/// A label on a unit's own scale: a text, or a number as it stands on the scale.
#[derive(Clone)]
pub struct SettingText(pub String);

impl Read for SettingText {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match tree {
            Tree::Number(number) => Some(Self(number.to_string())),
            // A setting out of an answer is taken by its label.
            Tree::Object(_) => match tree.get("label") {
                Some(label @ Tree::Text(_)) => Self::read(label, &At::Field(at, "label"), reader),
                _ => reader.mistyped(at, tree, &Self::wanted()),
            },
            Tree::Text(text) if (1..=64).contains(&text.len()) => Some(Self(text.clone().into_owned())),
            _ => reader.mistyped(at, tree, &Self::wanted()),
        }
    }

    fn wanted() -> String {
        "a label on the unit's own scale, as \"7.3\", \"1/16\", \"62 %\", \"150 J\" or \"-2 stops\""
            .to_owned()
    }
}

impl SettingText {
    /// The setting on a unit's scale, stops below full.
    pub fn check(&self, unit: &Unit, at: &At<'_>, reader: &mut Reader) -> Option<Stops> {
        let found = match (unit.scale.is_continuous(), unit.energy) {
            // With no scale, joules are as good as any other way to tell the power.
            (true, Some(full)) => match notation::read(Kind::Energy, &self.0) {
                Ok(written) if written.number > 0.0 => {
                    unit.scale.setting(&format!("{} stops", (written.number / full.get()).log2()))
                }
                _ => unit.scale.setting(&self.0),
            },
            _ => unit.scale.setting(&self.0),
        };
        found.map_or_else(|wrong| reader.wrong(at, wrong), Some)
    }
}

/// A flash unit: `energy` at full power, or `guide_number`, or both.
#[derive(ToSchema)]
pub struct UnitInput {
    /// What the photographer calls it, 1 to 64 characters; names need not be unique.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// Energy at full power.
    #[schema(value_type = Option<EnergyInput>)]
    energy: Option<Joules>,
    /// Guide number at full power.
    #[schema(value_type = Option<GuideNumberInput>)]
    guide_number: Option<Guide>,
    /// How wide its beam is; may also stand in `guide_number`.
    #[schema(value_type = Option<CoverageInput>)]
    coverage: Option<Coverage>,
    /// Its power scale; continuously variable over 8 stops if left out.
    scale: Option<ScaleInput>,
    /// Measured departure of its light from the rating, stops, applied after; 0 if left out.
    #[schema(value_type = Option<StopsInput>)]
    offset_stops: Option<Correction>,
}
reads!(UnitInput { name, energy, guide_number, coverage, scale, offset_stops });

impl Read for Unit {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = UnitInput::read(tree, at, reader)?;
        if form.energy.is_none() && form.guide_number.is_none() {
            return reader.fault(at, "the unit states no output", "energy, or guide_number, or both");
        }
        let inner = form.guide_number.as_ref().and_then(|guide| guide.coverage);
        if inner.is_some() && form.coverage.is_some() {
            return reader.fault(
                &At::Field(at, "coverage"),
                "the coverage is given twice, here and in guide_number",
                "one coverage",
            );
        }
        let scale = match form.scale {
            Some(scale) => scale.check(form.energy, &At::Field(at, "scale"), reader)?,
            None => Scale::continuous(),
        };
        Some(Self {
            name: form.name,
            energy: form.energy,
            guide_number: form.guide_number.map(|guide| guide.number),
            coverage: inner.or(form.coverage),
            scale,
            offset: form.offset_stops.map_or(Stops::ZERO, |offset| offset.0),
        })
    }

    fn wanted() -> String {
        "a unit, as {\"name\": \"north head\", \"energy\": \"600 J\"}".to_owned()
    }
}

/// Stops that a modifier, an offset or a meter may be off by.
#[derive(Clone, Copy)]
pub struct Correction(pub Stops);

impl Read for Correction {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let stops = Stops::read(tree, at, reader)?;
        match bounds::CORRECTION.check(stops.get()) {
            Ok(_) => Some(Self(stops)),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }
}

/// An aperture and an ISO speed. Flash does not depend on the exposure time; it may stand here all the same.
#[derive(ToSchema)]
pub struct ExposureInput {
    /// Aperture.
    #[schema(value_type = FNumberInput)]
    pub f_number: FNumber,
    /// ISO speed; 100 if left out.
    #[schema(value_type = Option<IsoInput>)]
    pub iso: Option<Iso>,
    /// Exposure time; matters to ambient light only.
    #[schema(value_type = Option<ExposureTimeInput>)]
    pub exposure_time: Option<Seconds>,
}
reads!(ExposureInput { f_number, iso, exposure_time });

impl ExposureInput {
    /// What of it matters to flash.
    pub fn flash(&self) -> FlashExposure {
        FlashExposure { f_number: self.f_number, iso: self.iso.unwrap_or(Iso::BASE) }
    }
}

/// How far remedies may go.
#[derive(ToSchema)]
pub struct LimitsInput {
    /// Widest and smallest aperture.
    #[schema(value_type = Option<Vec<FNumberInput>>, min_items = 2, max_items = 2)]
    f_number: Option<Range<FNumber>>,
    /// Lowest and highest ISO speed.
    #[schema(value_type = Option<Vec<IsoInput>>, min_items = 2, max_items = 2)]
    iso: Option<Range<Iso>>,
    /// Nearest and farthest distance of a light.
    #[schema(value_type = Option<Vec<DistanceInput>>, min_items = 2, max_items = 2)]
    distance: Option<Range<Metres>>,
    /// Most flashes in one exposure.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    max_pops: Option<Pops>,
}
reads!(LimitsInput { f_number, iso, distance, max_pops });

impl Read for Limits {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = LimitsInput::read(tree, at, reader)?;
        let usual = Self::default();
        Some(Self {
            f_number: form.f_number.map_or(usual.f_number, |range| range.0),
            iso: form.iso.map_or(usual.iso, |range| range.0),
            distance: form.distance.map_or(usual.distance, |range| range.0),
            max_pops: form.max_pops.map_or(usual.max_pops, |pops| pops.0),
        })
    }
}

/// Least and greatest of a quantity.
pub struct Range<T>([T; 2]);

impl<T: Read + PartialOrd + Copy> Read for Range<T> {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, the lesser first";
        let Tree::List(items) = tree else {
            return reader.mistyped(at, tree, EXPECTED);
        };
        let [first, second] = items.as_slice() else {
            return reader.fault(at, format!("the list has {} elements", items.len()), EXPECTED);
        };
        let first = T::read(first, &At::Index(at, 0), reader);
        let second = T::read(second, &At::Index(at, 1), reader);
        let (first, second) = (first?, second?);
        if first <= second {
            Some(Self([first, second]))
        } else {
            reader.fault(at, "the first is greater than the second", EXPECTED)
        }
    }
}

/// Flashes in one exposure.
#[derive(Clone, Copy)]
pub struct Pops(pub u32);

impl Read for Pops {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        whole(tree, bounds::POPS, at, reader).map(Self)
    }
}

/// An assumption stated by the caller: one number, or low, typical and high.
#[derive(Clone, Copy)]
pub struct Stated(Estimate<f64>);

/// Three ends of an assumption.
#[derive(ToSchema)]
#[expect(dead_code, reason = "stands in the OpenAPI document only")]
pub struct StatedRange {
    /// The least.
    low: f64,
    /// The typical value.
    typical: f64,
    /// The greatest.
    high: f64,
}

impl Stated {
    /// Within the bounds of an assumption.
    pub fn check(self, bounds: bounds::Bounds, at: &At<'_>, reader: &mut Reader) -> Option<Estimate<f64>> {
        for (name, value) in [("low", self.0.low), ("typical", self.0.typical), ("high", self.0.high)] {
            if let Err(wrong) = bounds.check(value) {
                return if self.0.low < self.0.high {
                    reader.wrong(&At::Field(at, name), wrong)
                } else {
                    reader.wrong(at, wrong)
                };
            }
        }
        Some(self.0)
    }
}

impl Read for Stated {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        struct Ends {
            low: Plain,
            typical: Plain,
            high: Plain,
        }
        reads!(Ends { low, typical, high });
        if let Tree::Number(value) = tree {
            return Some(Self(Estimate::exact(*value)));
        }
        let ends = Ends::read(tree, at, reader)?;
        let estimate = Estimate { low: ends.low.0, typical: ends.typical.0, high: ends.high.0 };
        if estimate.low <= estimate.typical && estimate.typical <= estimate.high {
            Some(Self(estimate))
        } else {
            reader.fault(at, "the three are not in order", "low, typical and high in rising order")
        }
    }
}

struct Plain(f64);

impl Read for Plain {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match tree {
            Tree::Number(value) => Some(Self(*value)),
            _ => reader.mistyped(at, tree, "a number"),
        }
    }
}

impl Item for String {
    const MOST: usize = 64;
    const WHAT: &'static str = "names";
}
