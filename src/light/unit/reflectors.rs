//! Guide number to energy and back where no coverage is known: by the usual reflectors, side by side.
//!
//! A bare bulb sends its light all round: gain 1, all of the light (derived). The others are reflectors for the fields of
//! common lenses on 36 x 24 mm (common practice), with the shares of `coverage.rs` (from memory, rough). Which of them a
//! unit has is not known, so the answer spans all.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    quantity::{
        CandelaSeconds, Estimate, GuideFeet, GuideMetres, Joules, LumenSeconds, Number, Steradians, Stops,
        constants::FRAME_MM, words::words,
    },
    unit::{
        coverage::Coverage,
        guide::{Basis, EnergyEstimate, GuideEstimate, energy_of, guide_of},
    },
};

words! {
    /// A usual reflector of a flash.
    pub enum Reflector as "UsualReflector" {
        /// A bulb without a reflector, which lights all round alike.
        BareBulb = "bare_bulb",
        /// A reflector for the field of a 35 mm lens on 36 x 24 mm.
        Wide = "35_mm",
        /// The same for a 50 mm lens.
        Normal = "50_mm",
        /// The same for a 105 mm lens.
        Long = "105_mm",
    }
}

/// The reflector whose estimate is the typical one (our judgement: guide numbers and heads are mostly stated for it).
const TYPICAL: Reflector = Reflector::Wide;

impl Reflector {
    /// The width of its beam.
    fn coverage(self) -> Coverage {
        let lens = |focal_length_mm| Coverage::FocalLength { focal_length_mm, frame_mm: FRAME_MM };
        match self {
            Self::BareBulb => Coverage::Gain { gain: 1.0 },
            Self::Wide => lens(35.0),
            Self::Normal => lens(50.0),
            Self::Long => lens(105.0),
        }
    }
}

/// What is assumed of a unit whose coverage is not known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnyCoverage {
    /// Luminous efficacy, lm·s per J; the usual range if `None`.
    pub efficacy: Option<Estimate<f64>>,
    /// Incident-light constant C.
    pub constant_c: f64,
}

impl AnyCoverage {
    fn basis(self, reflector: Reflector) -> Basis {
        Basis {
            coverage: reflector.coverage(),
            efficacy: self.efficacy,
            share: None,
            constant_c: self.constant_c,
        }
    }
}

/// The estimated energy of a unit, if it has this reflector.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReflectorEnergy {
    /// The reflector.
    pub coverage: Reflector,
    /// Solid angle of its coverage, sr.
    pub solid_angle_sr: Steradians,
    /// Share of the lamp's light inside the coverage, 0 to 1.
    pub light_in_coverage: Estimate<Number>,
    /// Estimated stored energy at full power, J.
    pub energy_j: Estimate<Joules>,
}

/// The estimated guide number of a unit, if it has this reflector.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReflectorGuide {
    /// The reflector.
    pub coverage: Reflector,
    /// Solid angle of its coverage, sr.
    pub solid_angle_sr: Steradians,
    /// Share of the lamp's light inside the coverage, 0 to 1.
    pub light_in_coverage: Estimate<Number>,
    /// Estimated guide number at full power and ISO 100, m.
    pub guide_number_m: Estimate<GuideMetres>,
    /// Estimated guide number at full power and ISO 100, ft.
    pub guide_number_ft: Estimate<GuideFeet>,
}

/// Energy at full power from a guide number stated for `setting` (0 is full power, -2 a quarter).
pub fn energy_of_any(guide: GuideMetres, setting: Stops, assumed: AnyCoverage) -> EnergyEstimate {
    let of = |reflector| energy_of(guide, setting, &assumed.basis(reflector));
    let typical = of(TYPICAL);
    let by_coverage = Reflector::ALL.map(|reflector| {
        let coverage = reflector.coverage();
        ReflectorEnergy {
            coverage: reflector,
            solid_angle_sr: coverage.solid_angle(),
            light_in_coverage: coverage.share().map(Number::new_unchecked),
            energy_j: of(reflector).energy_j,
        }
    });
    let lamps = Reflector::ALL.map(of).into_iter().filter_map(|estimate| estimate.lamp_lm_s);
    EnergyEstimate {
        solid_angle_sr: None,
        light_lm_s: None,
        lamp_lm_s: typical.lamp_lm_s.map(|typical| span(typical, lamps, LumenSeconds::get)),
        energy_j: span(typical.energy_j, by_coverage.iter().map(|each| each.energy_j), Joules::get),
        assumptions: of_any(typical.assumptions),
        by_coverage: by_coverage.into(),
        ..typical
    }
}

/// Guide number at full power from an energy stated for `setting` (0 is full power, -2 a quarter).
pub fn guide_of_any(energy: Joules, setting: Stops, assumed: AnyCoverage) -> GuideEstimate {
    let of = |reflector| guide_of(energy, setting, &assumed.basis(reflector));
    let typical = of(TYPICAL);
    let by_coverage = Reflector::ALL.map(|reflector| {
        let coverage = reflector.coverage();
        let GuideEstimate { guide_number_m, guide_number_ft, .. } = of(reflector);
        ReflectorGuide {
            coverage: reflector,
            solid_angle_sr: coverage.solid_angle(),
            light_in_coverage: coverage.share().map(Number::new_unchecked),
            guide_number_m,
            guide_number_ft,
        }
    });
    let beams = Reflector::ALL.map(of).into_iter().map(|estimate| estimate.beam_cd_s);
    let metres = by_coverage.iter().map(|each| each.guide_number_m);
    let feet = by_coverage.iter().map(|each| each.guide_number_ft);
    GuideEstimate {
        beam_cd_s: span(typical.beam_cd_s, beams, CandelaSeconds::get),
        solid_angle_sr: None,
        light_lm_s: None,
        guide_number_m: span(typical.guide_number_m, metres, GuideMetres::get),
        guide_number_ft: span(typical.guide_number_ft, feet, GuideFeet::get),
        assumptions: of_any(typical.assumptions),
        by_coverage: by_coverage.into(),
        ..typical
    }
}

/// From the lowest end of all to the highest, with the typical value of one.
fn span<T: Copy>(
    typical: Estimate<T>,
    all: impl Iterator<Item = Estimate<T>>,
    get: impl Fn(T) -> f64,
) -> Estimate<T> {
    all.fold(typical, |span, each| Estimate {
        low: if get(each.low) < get(span.low) { each.low } else { span.low },
        high: if get(each.high) > get(span.high) { each.high } else { span.high },
        ..span
    })
}

/// The assumptions with the usual reflectors in place of the share inside one coverage.
fn of_any(assumptions: Vec<Assumption>) -> Vec<Assumption> {
    let of = |assumption: Assumption| match assumption.kind {
        AssumptionKind::LightInCoverage { .. } => AssumptionKind::UsualReflectors.into(),
        _ => assumption,
    };
    assumptions.into_iter().map(of).collect()
}
