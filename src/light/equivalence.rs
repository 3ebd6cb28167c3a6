//! Replaces one flash unit by another and keeps the exposure.
//!
//! Light is proportional to energy (common practice: one stop is a factor of two), to the square of the guide number
//! (ISO 1230), and to the inverse square of the distance (CIE e-ILV 17-25-104). A head on a pack is compared with the part
//! of the pack's energy that it gets where it is used.

mod doubt;
mod modifiers;
mod question;
mod reach;
mod remedies;

pub use self::{
    question::{ComparedBy, EquivalenceQuestion, Placed},
    reach::Reach,
};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    doubt::{CANDIDATE, REFERENCE},
    modifiers::Modifiers,
    question::SAME_STOPS,
};
use crate::light::{
    assumption::{self, Assumption, AssumptionKind},
    error::{Field, InvalidPart, InvalidValue, Part},
    id::Id,
    quantity::{Estimate, FNumber, Joules, Stops, constants::EFFICACY, nominal::Nominal},
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    remedy::Remedy,
    set::{exposure::FlashExposure, filter, packs, placement::intensity},
    uncertainty::{Cause, CauseShare, Uncertainty, half_widths, sureness},
    unit::{Fit, Setting, Unit, guide::estimated_energy, lamp, scale::Scale},
};

/// The result for one candidate.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = UnitMatch)]
pub struct Match {
    /// The client's id for the candidate.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// The candidate's name.
    pub name: Option<String>,
    /// Whether a setting comes within half a click of the required light.
    pub feasible: bool,
    /// The setting to dial; the nearest one if none is feasible.
    pub setting: Setting,
    /// Light at this setting minus the required light, stops; + is too bright.
    pub error_stops: Stops,
    /// The missing light if the candidate is too weak, stops; else 0.
    pub shortfall_stops: Stops,
    /// The excess light if the candidate cannot go low enough, stops; else 0.
    pub excess_stops: Stops,
    /// How much more light it gives at most than required, stops; 0 if it is too weak.
    pub headroom_stops: Stops,
    /// How much less light it gives at least than required, stops; 0 if it is too strong.
    pub footroom_stops: Stops,
    /// The energy that this candidate needs for the same light in one pop, before rounding to a click, J; null without a rated energy.
    pub matching_energy_j: Option<Joules>,
    /// The smallest feasible number of flashes; the number that comes nearest if none is feasible.
    pub pops: u32,
    /// The aperture for the same exposure with this candidate at full power, in one pop; null if no exposure is stated.
    pub full_power_f_number: Option<Nominal>,
    /// The quantity that the two units were compared by.
    pub compared_by: ComparedBy,
    /// The uncertainty of the candidate's light at its setting against that of the reference: of what is stated of both units, what they are compared by, their settings, repeatability, distances, modifiers, filters and packs. What both have in common cancels: the meter, the rating of units of one name, one kind of modifier, one distance. Null only if nothing is uncertain.
    pub uncertainty: Option<Uncertainty>,
    /// Changes that would make the candidate feasible; empty if it is.
    pub remedies: Vec<Remedy>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// The setting of each candidate that replaces the reference.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Equivalence {
    /// The setting of the reference.
    pub reference: Setting,
    /// The candidates, in the order of the request.
    pub candidates: Vec<Match>,
    /// Assumptions behind the answer.
    pub assumptions: Vec<Assumption>,
    /// Warnings about the whole question.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// Finds the matching setting of each candidate.
///
/// # Errors
///
/// Located at a unit that lacks a value for the comparison, or at a missing distance.
pub fn compare(question: &EquivalenceQuestion) -> Result<Equivalence, Vec<InvalidPart>> {
    let mut faults = Vec::new();
    if question.reference.distance.is_none() && question.candidates.iter().any(|c| c.distance.is_some()) {
        faults.push(InvalidValue::ReferenceDistanceMissing.in_part(Part::Reference(Field::Distance)));
    }
    let (mut candidates, mut usual) = (Vec::new(), Vec::new());
    for index in 0..question.candidates.len() {
        match question.answer(index) {
            Ok(answer) => candidates.push(match_candidate(question, index, answer, &mut usual)),
            Err((Side::Reference, error)) => {
                let fault = error.in_part(Part::Reference(Field::Unit));
                if !faults.contains(&fault) {
                    faults.push(fault);
                }
            }
            Err((Side::Candidate, error)) => faults.push(error.in_part(Part::Candidate(index, Field::Unit))),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut cautions = Vec::new();
    if candidates.iter().any(|c| c.pops > 3) {
        cautions.extend([CautionKind::Heat.into(), CautionKind::Photosensitivity.into()]);
    }
    let packs = question.assumed_alone.clone();
    let alone = (!packs.is_empty()).then_some(AssumptionKind::HeadAlone { packs });
    let is_by_energy = candidates.iter().any(Match::is_unsure_by_energy);
    let efficacy = is_by_energy.then_some(AssumptionKind::Efficacy { lm_per_j: EFFICACY });
    let all = || std::iter::once(&question.reference).chain(&question.candidates);
    let is_used = |pack| all().any(|placed| placed.unit.is_on(pack));
    Ok(Equivalence {
        reference: question.reference.unit.setting(question.setting),
        candidates,
        assumptions: alone.into_iter().chain(efficacy).map(Assumption::from).chain(usual).collect(),
        warnings: packs::unused(&question.packs, is_used).into_iter().collect(),
        cautions,
    })
}

impl Match {
    /// Whether the efficacies of the two units make it unsure.
    fn is_unsure_by_energy(&self) -> bool {
        let mut causes = self.uncertainty.iter().flat_map(|found| &found.causes);
        let matters =
            |share: &CauseShare| share.cause == Cause::Comparison && share.share.get() >= sureness::NOTICED;
        self.compared_by == ComparedBy::Energy && causes.any(matters)
    }
}

enum Side {
    Reference,
    Candidate,
}

/// The light of the candidate over that of the reference, both at full power, without modifiers and at equal distance.
struct Gain {
    stops: f64,
    by: ComparedBy,
    /// The half-widths of what both are compared by, beside their ratings: of the reference, then of the candidate.
    widths: [[f64; 2]; 2],
    warnings: Vec<WarningKind>,
}

fn gain(
    reference: &Placed,
    candidate: &Placed,
    asked: Option<ComparedBy>,
) -> Result<Gain, (Side, InvalidValue)> {
    let (r, c) = (&reference.unit, &candidate.unit);
    let both = |has: fn(&Unit) -> bool| has(r) && has(c);
    let guide = both(|unit| unit.guide_number.is_some() || unit.lamp.is_some());
    let light = guide && both(|unit| unit.coverage.is_some());
    let same_beam = light && r.coverage == c.coverage;
    let modifiers = Modifiers::of(reference, candidate);
    let by = asked.unwrap_or_else(|| {
        if guide && modifiers.cancel() {
            ComparedBy::GuideNumber
        } else if light {
            ComparedBy::Light
        } else if both(|unit| unit.energy.is_some()) || !guide {
            ComparedBy::Energy
        } else {
            ComparedBy::GuideNumber
        }
    });
    let mut warnings = Vec::new();
    let output_of = |unit: &Unit| -> Result<Output, InvalidValue> { output(unit, by) };
    let from = output_of(r).map_err(|error| (Side::Reference, error))?;
    let to = output_of(c).map_err(|error| (Side::Candidate, error))?;
    match by {
        ComparedBy::GuideNumber if !modifiers.cancel() => warnings.push(WarningKind::ModifierOnBeam),
        ComparedBy::GuideNumber if modifiers.change() && !same_beam => {
            warnings.push(WarningKind::SameModifierOnBeams);
        }
        ComparedBy::Energy if from.estimated => warnings.push(WarningKind::ReferenceEnergyEstimated),
        ComparedBy::Energy if to.estimated => warnings.push(WarningKind::CandidateEnergyEstimated),
        _ => {}
    }
    // An estimated energy already includes the range of the efficacy.
    let is_rated = by == ComparedBy::Energy && !from.estimated && !to.estimated;
    let widths = if is_rated {
        [reference, candidate].map(|placed| doubt::unless_stated(placed, half_widths(EFFICACY)))
    } else {
        [from.widths, to.widths]
    };
    let through = |placed: &Placed| placed.unit.through(placed.shutter);
    let before = through(reference).map_err(|lacking| (Side::Reference, lacking.into()))?;
    let after = through(candidate).map_err(|lacking| (Side::Candidate, lacking.into()))?;
    warnings.extend(modifiers.warning());
    let stops = to.log2 - from.log2 + (after.typical / before.typical).log2();
    Ok(Gain { stops, by, widths, warnings })
}

/// The output of a unit at full power (of a lamp in one second) in the compared quantity, as log2, with its half-widths down and up in stops.
struct Output {
    log2: f64,
    widths: [f64; 2],
    estimated: bool,
}

fn output(unit: &Unit, by: ComparedBy) -> Result<Output, InvalidValue> {
    let certain = |value: f64| Output { log2: value.log2(), widths: [0.0; 2], estimated: false };
    let lacks = |lacks| InvalidValue::NotComparable { unit: unit.name.clone(), by: by.text(), lacks };
    if let Some(lamp) = unit.lamp {
        let beam = intensity(lamp, unit, None).map(|candela| candela.map(lamp::square_of_a_second));
        let width = unit.coverage.map(|coverage| coverage.solid_angle().get());
        let of = |light: Estimate<f64>| Output {
            log2: light.typical.log2(),
            widths: half_widths(light),
            estimated: false,
        };
        return match by {
            ComparedBy::GuideNumber => beam.map(of).ok_or_else(|| lacks("its coverage beside the flux")),
            ComparedBy::Light => beam
                .zip(width)
                .map(|(beam, width)| of(beam.map(|beam| beam * width)))
                .ok_or_else(|| lacks("its coverage")),
            ComparedBy::Energy => Err(lacks("nothing that a lamp has: it stores no energy")),
        };
    }
    match by {
        ComparedBy::GuideNumber => unit
            .guide_number
            .map(|guide| certain(guide.get() * guide.get()))
            .ok_or_else(|| lacks("its guide_number")),
        ComparedBy::Light => match (unit.guide_number, unit.coverage) {
            (Some(guide), Some(coverage)) => {
                let share = coverage.share();
                let light = guide.get() * guide.get() * coverage.solid_angle().get();
                Ok(Output {
                    log2: light.log2(),
                    // The light in the coverage is known as well as the share of the lamp's that falls there.
                    widths: half_widths(share.inverse()),
                    estimated: false,
                })
            }
            _ => Err(lacks("its guide_number with a coverage")),
        },
        ComparedBy::Energy => match (unit.energy, unit.guide_number, unit.coverage) {
            (Some(energy), _, _) => Ok(certain(energy.get())),
            (None, Some(guide), Some(coverage)) => {
                let energy = estimated_energy(guide, coverage);
                Ok(Output { log2: energy.typical.log2(), widths: half_widths(energy), estimated: true })
            }
            _ => Err(lacks("its energy, or a coverage beside its guide_number to estimate it from")),
        },
    }
}

/// The setting and number of pops that come nearest to a required light.
struct Nearest {
    feasible: bool,
    below: Stops,
    error: f64,
    pops: u32,
}

fn nearest(unit: &Unit, wanted_below: f64, max_pops: u32) -> Nearest {
    let [brightest, _] = unit.ends();
    let most = unit.below(brightest);
    let with = |pops: u32| {
        let wanted = wanted_below + f64::from(pops).log2();
        let Fit { below, error, is_feasible } = unit.fit(wanted);
        Nearest { feasible: is_feasible, below, error, pops }
    };
    // Fewer pops fall short by more than half a click even at the most light; more pops only add excess.
    let lacking = most - unit.half_click(brightest).get() - SAME_STOPS - wanted_below;
    let fewest = lacking.exp2().ceil().clamp(1.0, f64::from(max_pops)) as u32;
    let found = with(fewest);
    if found.feasible || fewest == 1 {
        return found;
    }
    let before = with(fewest - 1);
    if before.error.abs() <= found.error.abs() { before } else { found }
}

/// The answer for one candidate: how it was compared, the light that it must give, and the nearest setting.
struct Answer {
    gain: Gain,
    /// The light required, stops below that of the candidate's full power.
    wanted_below: f64,
    found: Nearest,
}

impl EquivalenceQuestion {
    /// The exposure to hold; `None` if none is stated.
    fn held(&self) -> Option<FlashExposure> {
        self.hold.or(self.exposure)
    }

    /// The extra light that the exposure to hold needs over that of the reference, stops.
    fn needed(&self) -> f64 {
        let (from, held) = (self.exposure.or(self.hold), self.held());
        let change = from.zip(held).map_or(0.0, |(from, held)| {
            2.0 * (held.f_number.get() / from.f_number.get()).log2()
                - (held.iso.get() / from.iso.get()).log2()
        });
        // Without an exposure the lens has no corrected marks, and takes as much at any aperture.
        change - self.lens.stops(held.map_or(FNumber::new_unchecked(1.0), |held| held.f_number))
    }

    fn answer(&self, index: usize) -> Result<Answer, (Side, InvalidValue)> {
        let (reference, candidate) = (&self.reference, &self.candidates[index]);
        let gain = gain(reference, candidate, self.compare_by)?;
        let distance_loss = match (reference.distance, candidate.distance) {
            (Some(from), Some(to)) => 2.0 * (to.get() / from.get()).log2(),
            _ => 0.0,
        };
        let wanted_below = reference.unit.below(self.setting) + gain.stops + candidate.unit.offset.get()
            - reference.unit.offset.get()
            + Modifiers::of(reference, candidate).stops()
            + filter::stops(&candidate.filters)
            - filter::stops(&reference.filters)
            - distance_loss
            - self.needed();
        // What follows the exposure time is on once.
        let is_once = candidate.unit.follows_time(candidate.shutter);
        let found = nearest(&candidate.unit, wanted_below, if is_once { 1 } else { self.max_pops });
        Ok(Answer { gain, wanted_below, found })
    }
}

/// The result for one candidate; adds the half-widths that matter in it and were not stated.
fn match_candidate(
    question: &EquivalenceQuestion,
    index: usize,
    answer: Answer,
    usual: &mut Vec<Assumption>,
) -> Match {
    let candidate = &question.candidates[index];
    let unit = &candidate.unit;
    let remedies = remedies::find(question, index, &answer);
    let Answer { gain, wanted_below, found } = answer;
    let budget = question.budget(index, found.below, gain.by, gain.widths);
    assumption::add_new(usual, sureness::usual_between(&budget, CANDIDATE, REFERENCE));
    let missed = if found.feasible { 0.0 } else { found.error };
    let [brightest, darkest] = unit.ends().map(|end| unit.below(end));
    let wanted = wanted_below + f64::from(found.pops).log2();
    let at_least_0 = |stops: f64| Stops::new_unchecked(stops.max(0.0));
    let above_full = wanted_below - unit.below(Stops::ZERO);
    let full_power =
        question.held().map(|held| FNumber::new_unchecked(held.f_number.get() * (above_full / 2.0).exp2()));
    Match {
        id: candidate.id.clone(),
        name: candidate.name(),
        feasible: found.feasible,
        setting: unit.setting(found.below),
        error_stops: Stops::new_unchecked(found.error),
        shortfall_stops: at_least_0(-missed),
        excess_stops: at_least_0(missed),
        headroom_stops: at_least_0(wanted - brightest),
        footroom_stops: at_least_0(darkest - wanted),
        matching_energy_j: unit
            .energy
            .map(|full| Scale::energy_at(full, Stops::new_unchecked(unit.setting_for(wanted_below)))),
        pops: found.pops,
        full_power_f_number: full_power.map(|f_number| Nominal::f_number(f_number, question.rules.step)),
        compared_by: gain.by,
        uncertainty: budget.between(CANDIDATE, REFERENCE),
        remedies,
        warnings: gain
            .warnings
            .into_iter()
            .map(|kind| Remark::about(Part::Candidate(index, Field::Unit), kind))
            .collect(),
    }
}
