//! The assumptions behind an estimate. Their codes and texts are in `wording::phrases`.

use crate::light::{
    quantity::{
        Estimate, Stops,
        constants::{CONSTANT_C, CONSTANT_C_OTHER},
    },
    remark::Remark,
};

/// One assumption behind an estimate.
pub type Assumption = Remark<AssumptionKind>;

/// What is assumed.
#[derive(Debug, Clone, PartialEq)]
pub enum AssumptionKind {
    /// The luminous efficacy of a unit.
    Efficacy {
        /// Its range, lm·s per J.
        lm_per_j: Estimate<f64>,
    },
    /// The same, stated by the caller.
    EfficacyStated {
        /// Its range, lm·s per J.
        lm_per_j: Estimate<f64>,
    },
    /// The share of the lamp's light inside the coverage, roughly known for the coverage.
    LightInCoverage {
        /// Its range.
        share: Estimate<f64>,
    },
    /// The same, stated by the caller.
    LightInCoverageStated {
        /// Its range.
        share: Estimate<f64>,
    },
    /// The same, from the gain of the reflector.
    LightInCoverageDerived {
        /// Its range.
        share: Estimate<f64>,
    },
    /// The coverage is not known, and the estimate spans the usual reflectors.
    UsualReflectors,
    /// The incident-light constant C.
    ConstantC {
        /// The constant, lx·s·ISO.
        constant: f64,
        /// The other constant in use.
        other_constant: f64,
        /// How much greater the estimate would be by it.
        by_stops: Stops,
    },
    /// The same, stated by the caller.
    ConstantCStated {
        /// The constant, lx·s·ISO.
        constant: f64,
        /// The other constant in use.
        other_constant: f64,
        /// How much greater the estimate would be by it.
        by_stops: Stops,
    },
    /// The same, where that is the other constant in use itself.
    SecondConstantC {
        /// The constant, lx·s·ISO.
        constant: f64,
    },
    /// The beam is equally strong all over the coverage.
    EvenBeam,
    /// The unit is of the same kind as the known one, and both state their coverage.
    SameKind,
    /// The same, where not both coverages are stated.
    SameKindAndCoverage,
    /// The guide number of a light was estimated from its energy.
    GuideNumber {
        /// The light.
        light: String,
        /// The range of its guide number, m at ISO 100, to six digits.
        guide_number_m: Estimate<f64>,
    },
    /// The guide number of a light was read from a table by zoom.
    GuideByZoom {
        /// The light.
        light: String,
        /// The zoom, mm.
        zoom_mm: f64,
        /// The guide number there, m at ISO 100, to six digits.
        guide_number_m: f64,
    },
    /// The intensity of a lamp was estimated from its flux.
    LampIntensity {
        /// The light.
        light: String,
        /// Its range, cd, to six digits.
        intensity_cd: Estimate<f64>,
    },
    /// The loss on entering high-speed sync.
    HighSpeedSync {
        /// The light.
        light: String,
        /// Its range.
        loss_stops: Estimate<Stops>,
    },
    /// A light whose setting is not stated is at full power.
    FullPower {
        /// The light.
        light: String,
    },
    /// The falloff of a light's beam follows a model.
    BeamModel {
        /// The light.
        light: String,
        /// The angle from the axis at which the beam has half its strength, degrees, to six digits.
        half_power_at_deg: f64,
    },
    /// The effect of a modifier is known by its kind only.
    ModifierKind {
        /// The kind.
        kind: &'static str,
        /// Its effect.
        effect_stops: Estimate<Stops>,
    },
    /// The same, for one light of a set.
    ModifierKindOfLight {
        /// The light.
        light: String,
        /// The kind.
        kind: &'static str,
        /// Its effect.
        effect_stops: Estimate<Stops>,
    },
    /// The walls of a room send on an even light, roughly known.
    RoomLight {
        /// How far off it may be, either way, as a factor.
        factor: f64,
    },
    /// The efficiency of charging.
    ChargingEfficiency {
        /// Its range.
        efficiency: Estimate<f64>,
    },
    /// The power of modelling lamps that is not stated.
    ModellingLamp {
        /// Its range, W.
        power_w: Estimate<f64>,
    },
    /// The power factor.
    PowerFactor {
        /// Its range.
        power_factor: Estimate<f64>,
    },
    /// The power factor of devices.
    DevicePowerFactor {
        /// Its range.
        power_factor: Estimate<f64>,
    },
    /// The recycle time is proportional to the energy of the flash.
    RecycleInProportion,
    /// All units on circuits are at full power and recycle together.
    AllAtFullPower,
    /// A head has its pack to itself.
    HeadAlone {
        /// The packs.
        packs: Vec<String>,
    },
    /// The tone curve of a file is unknown.
    NoToneCurve {
        /// How much steeper than the curve of the colour space it is at the least.
        flattest: f64,
        /// The same at the most.
        steepest: f64,
    },
    /// The level of mid grey at the working exposure.
    GreyLevel {
        /// The level, to tenths.
        level: f64,
    },
    /// A level by the curve of a space alone.
    LevelByCurve {
        /// How much steeper than the curve of the colour space the tone curve is at the least.
        flattest: f64,
        /// The same at the most.
        steepest: f64,
    },
    /// The repeatability of a unit.
    Repeat {
        /// Its 95 % interval, ± stops.
        plus_minus_stops: Stops,
    },
    /// The same, stated by the caller.
    RepeatStated {
        /// Its 95 % interval, ± stops.
        plus_minus_stops: Stops,
    },
    /// How far numbers of a kind may be off that state no half-width.
    UsualWithin {
        /// The kind.
        what: &'static str,
        /// Its 95 % interval, ± stops.
        plus_minus_stops: f64,
    },
    /// The same, of lengths.
    UsualDistanceWithin {
        /// The kind.
        what: &'static str,
        /// Its 95 % interval, ± m.
        plus_minus_m: f64,
    },
    /// The same, of angles.
    UsualAngleWithin {
        /// The kind.
        what: &'static str,
        /// Its 95 % interval, ± degrees.
        plus_minus_deg: f64,
    },
    /// A reading that states no setting was taken at full power.
    ReadingAtFullPower,
    /// The last digit of the meter.
    MeterDigit {
        /// Its step.
        digit_stops: Stops,
    },
}

/// Adds those assumptions that are not among them yet.
pub fn add_new(all: &mut Vec<Assumption>, more: impl IntoIterator<Item = Assumption>) {
    for assumption in more {
        if !all.contains(&assumption) {
            all.push(assumption);
        }
    }
}

impl AssumptionKind {
    /// The usual constant C, for a number in proportion to it.
    pub fn usual_constant_c() -> Self {
        Self::constant_c((CONSTANT_C_OTHER / CONSTANT_C).log2())
    }

    /// The usual constant C, for the light of a lamp as N², which is in proportion to 1/C.
    pub fn constant_c_of_a_lamp() -> Self {
        Self::constant_c((CONSTANT_C / CONSTANT_C_OTHER).log2())
    }

    fn constant_c(by_stops: f64) -> Self {
        Self::ConstantC {
            constant: CONSTANT_C,
            other_constant: (CONSTANT_C_OTHER * 10.0).round() / 10.0,
            by_stops: Stops::new_unchecked(by_stops),
        }
    }
}
