//! Guide number to energy and back: an estimate that lists every assumption.
//!
//! GN² = Q·S/C (ISO 1230 with the incident equation of ISO 2720:1974 for flash); light in the coverage
//! is Q·Ω; all of the lamp's light is that divided by the share inside the coverage; energy is light divided by
//! efficacy. A guide number describes a beam, a joule is stored electricity.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    quantity::{
        CandelaSeconds, Estimate, GuideFeet, GuideMetres, Joules, LumenSeconds, Steradians, Stops,
        constants::{CONSTANT_C, CONSTANT_C_OTHER, EFFICACY, FOOT_M},
    },
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    uncertainty::half_widths,
    unit::{
        Unit,
        coverage::Coverage,
        reflectors::{ReflectorEnergy, ReflectorGuide},
    },
};

/// What is estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Estimated {
    /// An energy, from a guide number.
    Energy,
    /// A guide number, from an energy.
    GuideNumber,
}

/// The inputs of an estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Basis {
    /// The width of the beam.
    pub coverage: Coverage,
    /// Luminous efficacy, lm·s per J; the usual range if `None`.
    pub efficacy: Option<Estimate<f64>>,
    /// Share of the lamp's light inside the coverage; the usual range if `None`.
    pub share: Option<Estimate<f64>>,
    /// Incident-light constant C.
    pub constant_c: f64,
}

impl Basis {
    /// The usual assumptions for a coverage.
    pub const fn usual(coverage: Coverage) -> Self {
        Self { coverage, efficacy: None, share: None, constant_c: CONSTANT_C }
    }

    fn efficacy(&self) -> Estimate<f64> {
        self.efficacy.unwrap_or(EFFICACY)
    }

    fn share(&self) -> Estimate<f64> {
        self.share.unwrap_or_else(|| self.coverage.share())
    }

    fn assumptions(&self, estimated: Estimated) -> Vec<Assumption> {
        let (lm_per_j, share, constant) = (self.efficacy(), self.share(), self.constant_c);
        let efficacy = match self.efficacy {
            Some(_) => AssumptionKind::EfficacyStated { lm_per_j },
            None => AssumptionKind::Efficacy { lm_per_j },
        };
        let share = match (self.share, self.coverage) {
            (Some(_), _) => AssumptionKind::LightInCoverageStated { share },
            (None, Coverage::Gain { .. }) => AssumptionKind::LightInCoverageDerived { share },
            (None, _) => AssumptionKind::LightInCoverage { share },
        };
        // Energy is proportional to C, the square of the guide number to 1/C.
        let by = (CONSTANT_C_OTHER / constant).log2();
        let by_stops = Stops::new_unchecked(match estimated {
            Estimated::Energy => by,
            Estimated::GuideNumber => -by,
        });
        let other_constant = (CONSTANT_C_OTHER * 10.0).round() / 10.0;
        let constant = if (constant - CONSTANT_C).abs() < 1e-9 {
            AssumptionKind::ConstantC { constant, other_constant, by_stops }
        } else if (constant - CONSTANT_C_OTHER).abs() < 0.05 {
            // Within rounding.
            AssumptionKind::SecondConstantC { constant }
        } else {
            AssumptionKind::ConstantCStated { constant, other_constant, by_stops }
        };
        [efficacy, share, constant, AssumptionKind::EvenBeam].map(Remark::from).into()
    }
}

/// A unit with known energy and guide number, to compare with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Its rated energy at full power.
    pub energy: Joules,
    /// Its actual guide number at full power.
    pub guide_number: GuideMetres,
    /// Its coverage.
    pub coverage: Option<Coverage>,
}

impl Known {
    /// From a unit that states both: the energy is the rated one, the guide number includes the measured offset and
    /// corrections. `None` if one is missing.
    pub fn of(unit: &Unit) -> Option<Self> {
        let departure = unit.offset.get() - unit.below(Stops::ZERO);
        let guide_number = GuideMetres::new_unchecked(unit.guide_number?.get() * (departure / 2.0).exp2());
        Some(Self { energy: unit.energy?, guide_number, coverage: unit.coverage })
    }
}

/// The estimated energy of a unit with a given guide number.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EnergyEstimate {
    /// The beam on its axis at full power, cd·s.
    pub beam_cd_s: CandelaSeconds,
    /// Solid angle of the coverage, sr; null if no coverage was given.
    pub solid_angle_sr: Option<Steradians>,
    /// Light inside the coverage, lm·s: beam times solid angle; null if no coverage was given.
    pub light_lm_s: Option<LumenSeconds>,
    /// Estimate of all of the lamp's light, lm·s; null if compared with a known unit.
    pub lamp_lm_s: Option<Estimate<LumenSeconds>>,
    /// Estimated stored energy at full power, J. Where no coverage is known, the range spans all usual reflectors.
    pub energy_j: Estimate<Joules>,
    /// The estimate for each of the usual reflectors; absent if a coverage or a known unit was given.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub by_coverage: Vec<ReflectorEnergy>,
    /// The assumptions of the estimate.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// The estimated guide number of a unit with a given energy.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GuideEstimate {
    /// The beam on its axis at full power, cd·s.
    pub beam_cd_s: Estimate<CandelaSeconds>,
    /// Solid angle of the coverage, sr; null if no coverage was given.
    pub solid_angle_sr: Option<Steradians>,
    /// Light inside the coverage, lm·s; null if no coverage was given.
    pub light_lm_s: Option<Estimate<LumenSeconds>>,
    /// All of the lamp's light, lm·s; null if compared with a known unit.
    pub lamp_lm_s: Option<Estimate<LumenSeconds>>,
    /// Estimated guide number at full power and ISO 100, m. Where no coverage is known, the range spans all usual reflectors.
    pub guide_number_m: Estimate<GuideMetres>,
    /// Estimated guide number at full power and ISO 100, ft.
    pub guide_number_ft: Estimate<GuideFeet>,
    /// The estimate for each of the usual reflectors; absent if a coverage or a known unit was given.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub by_coverage: Vec<ReflectorGuide>,
    /// The assumptions of the estimate.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// The beam of a guide number: Q = GN²·C/S at ISO 100, cd·s.
fn beam(guide_number: f64, constant_c: f64) -> f64 {
    guide_number * guide_number * constant_c / 100.0
}

/// The guide number of a beam: GN = √(Q·S/C) at ISO 100, m.
fn guide_number(beam: f64, constant_c: f64) -> f64 {
    (beam * 100.0 / constant_c).sqrt()
}

/// Energy from a guide number at full power, by the usual assumptions, J.
pub fn estimated_energy(guide_number: GuideMetres, coverage: Coverage) -> Estimate<f64> {
    let basis = Basis::usual(coverage);
    let light = beam(guide_number.get(), basis.constant_c) * coverage.solid_angle().get();
    Estimate::exact(light).times(basis.share().times(basis.efficacy()).inverse())
}

/// Guide number from an energy at full power, by the usual assumptions, m at ISO 100.
pub fn estimated_guide_number(energy: Joules, coverage: Coverage) -> Estimate<f64> {
    guide_square(energy, coverage.share(), coverage.solid_angle().get()).map(f64::sqrt)
}

/// The square of the guide number from an energy at full power, when `share` of the light falls into the solid angle; by
/// the usual efficacy and C.
pub fn guide_square(energy: Joules, share: Estimate<f64>, solid_angle_sr: f64) -> Estimate<f64> {
    let beam = share.times(EFFICACY).map(|part| energy.get() * part / solid_angle_sr);
    beam.map(|beam| guide_number(beam, CONSTANT_C).powi(2))
}

/// Energy at full power from a guide number stated for `setting` (0 is full power, -2 a quarter).
pub fn energy_of(guide: GuideMetres, setting: Stops, basis: &Basis) -> EnergyEstimate {
    let full = guide.get() * (-setting.get() / 2.0).exp2();
    let beam = beam(full, basis.constant_c);
    let omega = basis.coverage.solid_angle();
    let light = beam * omega.get();
    let (share, efficacy) = (basis.share(), basis.efficacy());
    let lamp = share.inverse().map(|part| light * part);
    EnergyEstimate {
        beam_cd_s: CandelaSeconds::new_unchecked(beam),
        solid_angle_sr: Some(omega),
        light_lm_s: Some(LumenSeconds::new_unchecked(light)),
        lamp_lm_s: Some(lamp.map(LumenSeconds::new_unchecked)),
        energy_j: lamp.times(efficacy.inverse()).map(Joules::new_unchecked),
        by_coverage: Vec::new(),
        assumptions: basis.assumptions(Estimated::Energy),
        warnings: warnings(Some(basis.coverage)),
        cautions: vec![CautionKind::StoredCharge.into()],
    }
}

/// Guide number at full power from an energy stated for `setting` (0 is full power, -2 a quarter).
pub fn guide_of(energy: Joules, setting: Stops, basis: &Basis) -> GuideEstimate {
    let full = energy.get() * (-setting.get()).exp2();
    let omega = basis.coverage.solid_angle();
    let (share, efficacy) = (basis.share(), basis.efficacy());
    let lamp = efficacy.map(|efficacy| full * efficacy);
    let light = lamp.times(share);
    let beam = light.map(|light| light / omega.get());
    let guide = beam.map(|beam| guide_number(beam, basis.constant_c));
    GuideEstimate {
        beam_cd_s: beam.map(CandelaSeconds::new_unchecked),
        solid_angle_sr: Some(omega),
        light_lm_s: Some(light.map(LumenSeconds::new_unchecked)),
        lamp_lm_s: Some(lamp.map(LumenSeconds::new_unchecked)),
        guide_number_m: guide.map(GuideMetres::new_unchecked),
        guide_number_ft: guide.map(|guide| GuideFeet::new_unchecked(guide / FOOT_M)),
        by_coverage: Vec::new(),
        assumptions: basis.assumptions(Estimated::GuideNumber),
        warnings: warnings(None),
        cautions: vec![CautionKind::StoredCharge.into()],
    }
}

/// Solid angle of one coverage over that of another; 1 if either is unknown.
fn solid_angle_ratio(coverage: Option<Coverage>, known: Option<Coverage>) -> f64 {
    match (coverage, known) {
        (Some(own), Some(known)) => own.solid_angle().get() / known.solid_angle().get(),
        _ => 1.0,
    }
}

/// Energy at full power by comparison with a known unit.
pub fn energy_against(
    guide: GuideMetres,
    setting: Stops,
    coverage: Option<Coverage>,
    known: &Known,
    constant_c: f64,
) -> EnergyEstimate {
    let full = guide.get() * (-setting.get() / 2.0).exp2();
    let energy = known.energy.get()
        * (full / known.guide_number.get()).powi(2)
        * solid_angle_ratio(coverage, known.coverage);
    let beam = beam(full, constant_c);
    let omega = coverage.map(Coverage::solid_angle);
    EnergyEstimate {
        beam_cd_s: CandelaSeconds::new_unchecked(beam),
        solid_angle_sr: omega,
        light_lm_s: omega.map(|omega| LumenSeconds::new_unchecked(beam * omega.get())),
        lamp_lm_s: None,
        energy_j: Estimate::exact(Joules::new_unchecked(energy)),
        by_coverage: Vec::new(),
        assumptions: vec![same_kind(coverage, known)],
        warnings: warnings(None),
        cautions: vec![CautionKind::StoredCharge.into()],
    }
}

/// Guide number at full power by comparison with a known unit.
pub fn guide_against(
    energy: Joules,
    setting: Stops,
    coverage: Option<Coverage>,
    known: &Known,
    constant_c: f64,
) -> GuideEstimate {
    let full = energy.get() * (-setting.get()).exp2();
    let guide = known.guide_number.get()
        * (full / known.energy.get() / solid_angle_ratio(coverage, known.coverage)).sqrt();
    let beam = beam(guide, constant_c);
    let omega = coverage.map(Coverage::solid_angle);
    GuideEstimate {
        beam_cd_s: Estimate::exact(CandelaSeconds::new_unchecked(beam)),
        solid_angle_sr: omega,
        light_lm_s: omega.map(|omega| Estimate::exact(LumenSeconds::new_unchecked(beam * omega.get()))),
        lamp_lm_s: None,
        guide_number_m: Estimate::exact(GuideMetres::new_unchecked(guide)),
        guide_number_ft: Estimate::exact(GuideFeet::new_unchecked(guide / FOOT_M)),
        by_coverage: Vec::new(),
        assumptions: vec![same_kind(coverage, known)],
        warnings: warnings(None),
        cautions: vec![CautionKind::StoredCharge.into()],
    }
}

impl EnergyEstimate {
    /// With what was stated known to this half-width, stops of light.
    #[must_use]
    pub fn within(mut self, half_width: f64) -> Self {
        let joules = |energy: Estimate<Joules>| wider(energy, half_width, Joules::get, Joules::new_unchecked);
        self.energy_j = joules(self.energy_j);
        let lumens = |lamp| wider(lamp, half_width, LumenSeconds::get, LumenSeconds::new_unchecked);
        self.lamp_lm_s = self.lamp_lm_s.map(lumens);
        self.by_coverage.iter_mut().for_each(|each| each.energy_j = joules(each.energy_j));
        self
    }
}

impl GuideEstimate {
    /// With what was stated known to this half-width, stops of light.
    #[must_use]
    pub fn within(mut self, half_width: f64) -> Self {
        // The light goes with the square of the guide number.
        let metres = |guide| wider(guide, half_width / 2.0, GuideMetres::get, GuideMetres::new_unchecked);
        let feet = |guide| wider(guide, half_width / 2.0, GuideFeet::get, GuideFeet::new_unchecked);
        let lumens = |light| wider(light, half_width, LumenSeconds::get, LumenSeconds::new_unchecked);
        self.guide_number_m = metres(self.guide_number_m);
        self.guide_number_ft = feet(self.guide_number_ft);
        self.beam_cd_s =
            wider(self.beam_cd_s, half_width, CandelaSeconds::get, CandelaSeconds::new_unchecked);
        self.lamp_lm_s = self.lamp_lm_s.map(lumens);
        self.light_lm_s = self.light_lm_s.map(lumens);
        for each in &mut self.by_coverage {
            each.guide_number_m = metres(each.guide_number_m);
            each.guide_number_ft = feet(each.guide_number_ft);
        }
        self
    }
}

/// An estimate with one more half-width, stops of its own.
fn wider<T: Copy>(
    estimate: Estimate<T>,
    half_width: f64,
    get: impl Fn(T) -> f64,
    new: impl Fn(f64) -> T,
) -> Estimate<T> {
    if half_width > 0.0 {
        estimate.map(get).times(Estimate::within(1.0, half_width)).map(new)
    } else {
        estimate
    }
}

fn same_kind(coverage: Option<Coverage>, known: &Known) -> Assumption {
    let has_coverages = coverage.is_some() && known.coverage.is_some();
    if has_coverages { AssumptionKind::SameKind } else { AssumptionKind::SameKindAndCoverage }.into()
}

/// Warnings about guide numbers; for a coverage by focal length or angles, also that the widest setting is best.
/// What makes an estimate uncertain, the widest first, with its half-width in stops. `None` is the value that was given, if
/// that is sure within `given` stops only.
pub fn causes(assumptions: &[Assumption], given: f64) -> Vec<(Option<&AssumptionKind>, f64)> {
    let assumed = assumptions.iter().map(|assumption| {
        let half_width = match &assumption.kind {
            // The reflectors differ by more than all the rest.
            AssumptionKind::UsualReflectors => f64::INFINITY,
            AssumptionKind::Efficacy { lm_per_j: it }
            | AssumptionKind::EfficacyStated { lm_per_j: it }
            | AssumptionKind::LightInCoverage { share: it }
            | AssumptionKind::LightInCoverageStated { share: it }
            | AssumptionKind::LightInCoverageDerived { share: it } => {
                half_widths(*it).into_iter().sum::<f64>() / 2.0
            }
            _ => 0.0,
        };
        (Some(&assumption.kind), half_width)
    });
    let mut causes: Vec<_> =
        assumed.chain([(None, given)]).filter(|(_, half_width)| *half_width > 1e-9).collect();
    causes.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    causes
}

fn warnings(coverage: Option<Coverage>) -> Vec<Warning> {
    let mut warnings = vec![WarningKind::BeamIsNotEnergy.into()];
    if coverage.is_some_and(|coverage| coverage.focal_length_35_mm().is_some()) {
        warnings.push(WarningKind::WidestSettingIsBetter.into());
    }
    warnings
}
