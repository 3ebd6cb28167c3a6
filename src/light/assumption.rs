//! The assumptions behind an estimate. Their texts are in `wording::phrases`.

use crate::light::{
    quantity::{Estimate, words::coded},
    set::modifier::ModifierKind,
};

coded! {
    /// One assumption behind an estimate.
    pub enum Assumption {
        /// The luminous efficacy of a unit.
        Efficacy {
            /// Its range, lm·s per J.
            lm_per_j: Estimate<f64>,
            /// Whether the caller stated it.
            is_stated: bool,
        } = "efficacy_lm_per_j",
        /// The share of the lamp's light inside the coverage.
        LightInCoverage {
            /// Its range.
            share: Estimate<f64>,
            /// Where it comes from.
            origin: ShareOrigin,
        } = "light_in_coverage",
        /// The incident-light constant C.
        ConstantC {
            /// The constant, lx·s·ISO.
            constant: f64,
            /// What is estimated with it.
            estimated: Estimated,
        } = "constant_c",
        /// The beam is equally strong all over the coverage.
        EvenBeam = "even_beam",
        /// The unit is of the same kind as the known one.
        SameKind {
            /// Whether both coverages are stated.
            has_coverages: bool,
        } = "same_kind_as_known_unit",
        /// The guide number of a light was estimated from its energy.
        GuideNumber {
            /// The light.
            light: String,
            /// The range of its guide number, m at ISO 100, to six digits.
            guide_number_m: Estimate<f64>,
        } = "guide_number_m",
        /// The falloff of a light's beam follows a model.
        BeamModel {
            /// The light.
            light: String,
            /// The angle from the axis at which the beam has half its strength, degrees, to six digits.
            half_power_at_deg: f64,
        } = "beam_model",
        /// The effect of a modifier is known by its kind only.
        ModifierKind {
            /// The light, if there are several.
            light: Option<String>,
            /// The kind.
            kind: &'static ModifierKind,
        } = "modifier_stops",
        /// The efficiency of charging.
        ChargingEfficiency {
            /// Its range.
            range: Estimate<f64>,
        } = "charging_efficiency",
        /// The power factor.
        PowerFactor {
            /// Its range.
            range: Estimate<f64>,
        } = "power_factor",
        /// The recycle time is proportional to the energy of the flash.
        RecycleInProportion = "recycle_s",
        /// The tone curve of a file is unknown.
        NoToneCurve {
            /// How much steeper than the curve of the colour space it may be, from flat to steep.
            contrast: [f64; 2],
        } = "no_tone_curve",
        /// The repeatability of a unit.
        Repeat {
            /// Its 95 % interval, ± stops.
            plus_minus_stops: f64,
            /// Whether the caller stated it.
            is_stated: bool,
        } = "repeat_plus_minus_stops",
        /// The last digit of the meter.
        MeterDigit {
            /// Whether it shows thirds of a stop rather than tenths.
            is_thirds: bool,
        } = "meter_digit_stops",
    }

    /// The name in answers.
    pub fn name
}

/// Where the share of the light inside a coverage comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShareOrigin {
    /// The caller stated it.
    Stated,
    /// It follows from the gain of the reflector.
    Derived,
    /// It is roughly known for the coverage.
    FromMemory,
}

/// What is estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Estimated {
    /// An energy, from a guide number.
    Energy,
    /// A guide number, from an energy.
    GuideNumber,
}
