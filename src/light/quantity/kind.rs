//! The kinds of quantity that can be converted to stops.

use std::{borrow::Cow, f64::consts::LOG10_2};

use crate::light::quantity::{
    bounds::{self, Bounds},
    marks::{self, Engraved, Step},
};

/// A kind of quantity that changes exposure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Aperture.
    FNumber,
    /// Exposure time.
    ExposureTime,
    /// ISO speed.
    Iso,
    /// Flash energy.
    Energy,
    /// Fraction of full power.
    PowerFraction,
    /// Percentage of full energy.
    Percent,
    /// Distance of a light.
    Distance,
    /// Guide number, metres at ISO 100.
    GuideNumber,
    /// Optical density of a filter.
    OpticalDensity,
    /// Filter factor: light without the filter over light with it.
    FilterFactor,
    /// Light ratio, a : 1.
    LightRatio,
    /// Exposure value of a camera's setting.
    ExposureValue,
    /// Illuminance, lux.
    Illuminance,
    /// Share of the light that a surface sends back.
    Reflectance,
}

impl Kind {
    /// All kinds, in the order of the documentation.
    pub const ALL: [Self; 14] = [
        Self::FNumber,
        Self::ExposureTime,
        Self::Iso,
        Self::Energy,
        Self::PowerFraction,
        Self::Percent,
        Self::Distance,
        Self::GuideNumber,
        Self::OpticalDensity,
        Self::FilterFactor,
        Self::LightRatio,
        Self::ExposureValue,
        Self::Illuminance,
        Self::Reflectance,
    ];

    /// The name in requests and answers.
    pub const fn name(self) -> &'static str {
        match self {
            Self::FNumber => "f_number",
            Self::ExposureTime => "exposure_time",
            Self::Iso => "iso",
            Self::Energy => "energy",
            Self::PowerFraction => "power_fraction",
            Self::Percent => "percent",
            Self::Distance => "distance",
            Self::GuideNumber => "guide_number",
            Self::OpticalDensity => "optical_density",
            Self::FilterFactor => "filter_factor",
            Self::LightRatio => "light_ratio",
            Self::ExposureValue => "exposure_value",
            Self::Illuminance => "illuminance",
            Self::Reflectance => "reflectance",
        }
    }

    /// The name in a sentence, with its article.
    pub const fn name_in_words(self) -> &'static str {
        match self {
            Self::FNumber => "an f-number",
            Self::ExposureTime => "an exposure time",
            Self::Iso => "an ISO speed",
            Self::Energy => "an energy",
            Self::PowerFraction => "a power fraction",
            Self::Percent => "a percentage",
            Self::Distance => "a distance",
            Self::GuideNumber => "a guide number",
            Self::OpticalDensity => "an optical density",
            Self::FilterFactor => "a filter factor",
            Self::LightRatio => "a light ratio",
            Self::ExposureValue => "an exposure value",
            Self::Illuminance => "an illuminance",
            Self::Reflectance => "a reflectance",
        }
    }

    /// The other kind that states the same thing: a filter by its density or by its factor.
    pub const fn alike(self) -> Option<Self> {
        match self {
            Self::OpticalDensity => Some(Self::FilterFactor),
            Self::FilterFactor => Some(Self::OpticalDensity),
            _ => None,
        }
    }

    /// The kind with this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// The accepted range.
    pub const fn bounds(self) -> Bounds {
        match self {
            Self::FNumber => bounds::F_NUMBER,
            Self::ExposureTime => bounds::EXPOSURE_TIME,
            Self::Iso => bounds::ISO,
            Self::Energy => bounds::ENERGY,
            Self::PowerFraction => bounds::POWER_FRACTION,
            Self::Percent => bounds::PERCENT,
            Self::Distance => bounds::DISTANCE,
            Self::GuideNumber => bounds::GUIDE_NUMBER,
            Self::OpticalDensity => bounds::OPTICAL_DENSITY,
            Self::FilterFactor => bounds::FILTER_FACTOR,
            Self::LightRatio => bounds::LIGHT_RATIO,
            Self::ExposureValue => bounds::EXPOSURE_VALUE,
            Self::Illuminance => bounds::ILLUMINANCE_IN_STOPS,
            Self::Reflectance => bounds::REFLECTANCE,
        }
    }

    /// A description of the accepted notation, with examples.
    pub const fn expected(self) -> &'static str {
        match self {
            Self::FNumber => "an f-number, as 5.6, \"f/5.6\" or \"f/8 +0.3\"",
            Self::ExposureTime => "an exposure time, as 0.5 (seconds), \"1/200\" or \"2 s\"",
            Self::Iso => "an ISO speed, as 200 or \"ISO 200\"",
            Self::Energy => "an energy, as 600 (joules), \"600 J\" or \"600 Ws\"",
            Self::PowerFraction => "a part of full power, as 0.25, \"1/4\" or \"1/4 +0.3\"",
            Self::Percent => "a percentage, as 62 or \"62 %\"",
            Self::Distance => {
                "a distance with its unit, as 2.5 (metres), \"2.5 m\", \"250 cm\" or \"8 ft 6 in\""
            }
            Self::GuideNumber => "a guide number, as \"GN 40\" (metres) or \"GN 131 ft\"",
            Self::OpticalDensity => "a density, as \"ND 0.9\" (a decimal point makes it a density)",
            Self::FilterFactor => "a filter factor, as \"ND8\" (a whole number makes it a factor)",
            Self::LightRatio => "a light ratio, as 3 or \"3:1\"",
            Self::ExposureValue => "an exposure value, as 12 or \"EV 12\"",
            Self::Illuminance => "an illuminance, as 800 (lux), \"800 lx\" or \"200 fc\"",
            Self::Reflectance => "a reflectance, as 0.18 (a share) or \"18 %\"",
        }
    }

    /// The engraved series, or `None` if the kind has none.
    pub const fn engraved(self) -> Option<Engraved> {
        match self {
            Self::FNumber => Some(Engraved::FNumber),
            Self::ExposureTime => Some(Engraved::ExposureTime),
            Self::Iso => Some(Engraved::Iso),
            Self::OpticalDensity => Some(Engraved::OpticalDensity),
            Self::FilterFactor => Some(Engraved::FilterFactor),
            _ => None,
        }
    }

    /// Exposure in stops relative to the base of the kind (f/1, 1 s, ISO 100, 1 J, full power,
    /// 1 m, GN 1, no filter, 1 : 1, EV 0, 1 lx, all of the light). Sources: APEX (published: CIPA DC-008) for aperture, time,
    /// ISO and exposure value, which is a camera's setting: the higher it is, the less light comes in; the inverse-square law
    /// for distance; 10^-D for density.
    pub fn exposure_stops(self, value: f64) -> f64 {
        match self {
            Self::FNumber | Self::Distance => -2.0 * value.log2(),
            Self::GuideNumber => 2.0 * value.log2(),
            Self::Iso | Self::Percent => (value / 100.0).log2(),
            Self::ExposureTime
            | Self::Energy
            | Self::PowerFraction
            | Self::LightRatio
            | Self::Illuminance
            | Self::Reflectance => value.log2(),
            Self::ExposureValue => -value,
            Self::OpticalDensity => -value / LOG10_2,
            Self::FilterFactor => -value.log2(),
        }
    }

    /// The value with this exposure: the inverse of [`Self::exposure_stops`].
    pub fn value_at(self, exposure_stops: f64) -> f64 {
        match self {
            Self::FNumber | Self::Distance => (-exposure_stops / 2.0).exp2(),
            Self::GuideNumber => (exposure_stops / 2.0).exp2(),
            Self::Iso | Self::Percent => 100.0 * exposure_stops.exp2(),
            Self::ExposureTime
            | Self::Energy
            | Self::PowerFraction
            | Self::LightRatio
            | Self::Illuminance
            | Self::Reflectance => exposure_stops.exp2(),
            Self::ExposureValue => -exposure_stops,
            Self::OpticalDensity => -exposure_stops * LOG10_2,
            Self::FilterFactor => (-exposure_stops).exp2(),
        }
    }

    /// The nearest mark, in a form that requests accept, and its error in stops; + is brighter. `None` if the kind has no
    /// marks or the value lies beyond them.
    pub fn mark_for(self, value: f64, step: Step) -> Option<(Cow<'static, str>, f64)> {
        let wanted = self.exposure_stops(value);
        if self == Self::PowerFraction {
            return fraction_mark(wanted, step).map(|(text, off_by)| (text.into(), off_by));
        }
        marks::nearest(self.engraved()?, step, wanted)
            .map(|mark| (mark.text.as_str().into(), mark.exposure_stops - wanted))
    }
}

/// The nearest power fraction in this step, as `1/4` or `1/4 +1/3`; the darker one in a tie.
fn fraction_mark(wanted: f64, step: Step) -> Option<(String, f64)> {
    let per_stop = step.per_stop();
    let below = (-wanted * f64::from(per_stop) + 0.5 + 1e-9).floor().max(0.0);
    (below <= 20.0 * f64::from(per_stop)).then_some(())?;
    let below = below as i32;
    let whole = (below + per_stop - 1) / per_stop;
    let above = whole * per_stop - below;
    let base = format!("1/{}", 1_u64 << whole);
    let text = if above == 0 { base } else { format!("{base} +{above}/{per_stop}") };
    Some((text, -f64::from(below) / f64::from(per_stop) - wanted))
}
