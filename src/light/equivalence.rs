//! Replaces one flash unit by another and keeps the exposure.
//!
//! Light is proportional to energy (common practice: one stop is a factor of two), to the square of the guide number
//! (ISO 1230), and to the inverse square of the distance (CIE e-ILV 17-25-104).

mod remedies;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{Field, InvalidPart, InvalidValue, Part},
    quantity::{
        FNumber, Joules, Metres, Stops, constants::EFFICACY, marks::Step, nominal::Nominal, units::Units,
        words::words,
    },
    remark::Remark,
    remedy::Remedy,
    set::{exposure::FlashExposure, limits::Limits, modifier::Modifier},
    unit::{Setting, Unit, guide::estimated_energy, scale::Scale},
};

/// Two amounts of light closer than this count as equal, stops.
const SAME_STOPS: f64 = 1e-9;

/// A unit with its distance and modifier.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The client's id for this entry.
    pub id: Option<String>,
    /// The unit.
    pub unit: Unit,
    /// Its distance from the subject.
    pub distance: Option<Metres>,
    /// The effect of its modifier, relative to the unit as rated.
    pub modifier: Option<Modifier>,
}

words! {
    /// The quantity that two units are compared by.
    pub enum ComparedBy as "ComparedBy" {
        /// Guide number: the beams on their axes.
        GuideNumber = "guide_number",
        /// Light inside the coverage, lm·s.
        Light = "light",
        /// Rated or estimated energy.
        Energy = "energy",
    }
}

/// A reference unit, the exposure to hold, and the candidates to replace the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct EquivalenceQuestion {
    /// The unit to replace.
    pub reference: Placed,
    /// Its setting, stops below full power.
    pub setting: Stops,
    /// The exposure at which the reference is correct.
    pub exposure: FlashExposure,
    /// The exposure to hold.
    pub hold: FlashExposure,
    /// The units that may replace it.
    pub candidates: Vec<Placed>,
    /// The largest number of flashes in one exposure.
    pub max_pops: u32,
    /// The requested comparison; chosen automatically if `None`.
    pub compare_by: Option<ComparedBy>,
    /// The limits of remedies.
    pub limits: Limits,
    /// The step of the series of marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// The result for one candidate.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = UnitMatch)]
pub struct Match {
    /// The client's id for the candidate.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The candidate's name.
    pub name: Option<String>,
    /// Whether a setting comes within half a click of the required light.
    pub feasible: bool,
    /// The setting to dial; the nearest one if none is feasible.
    pub setting: Setting,
    /// Light at this setting minus the required light, stops; + is too bright.
    pub residual_stops: Stops,
    /// The missing light if the candidate is too weak, stops; else 0.
    pub shortfall_stops: Stops,
    /// The excess light if the candidate cannot go low enough, stops; else 0.
    pub excess_stops: Stops,
    /// The energy that this candidate needs for the same light in one pop, before rounding to a click, J; null without a rated energy.
    pub matching_energy_j: Option<Joules>,
    /// The smallest feasible number of flashes; the number that comes nearest if none is feasible.
    pub pops: u32,
    /// The aperture for the same exposure with this candidate at full power, in one pop.
    pub full_power_f_number: Nominal,
    /// The quantity that the two units were compared by.
    pub compared_by: ComparedBy,
    /// The uncertainty of the comparison, ± stops, with every assumption at its worst end; null if guide numbers were compared and no kind of modifier was named.
    pub uncertainty_stops: Option<Stops>,
    /// Changes that would make the candidate feasible; empty if it is.
    pub remedies: Vec<Remedy>,
    /// Warnings.
    pub warnings: Vec<Remark>,
}

/// The setting of each candidate that replaces the reference.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Equivalence {
    /// The setting of the reference.
    pub reference: Setting,
    /// The candidates, in the order of the request.
    pub candidates: Vec<Match>,
    /// Safety cautions.
    pub cautions: Vec<Remark>,
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
    let mut candidates = Vec::new();
    for (index, candidate) in question.candidates.iter().enumerate() {
        match gain(&question.reference, candidate, question.compare_by) {
            Ok(gain) => candidates.push(match_candidate(question, candidate, gain)),
            Err((Side::Reference, error)) => {
                let fault = error.in_part(Part::Reference(Field::Unit));
                if !faults.contains(&fault) {
                    faults.push(fault);
                }
            }
            Err((Side::Candidate, error)) => faults.push(error.in_part(Part::Candidate(index))),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut cautions = Vec::new();
    if candidates.iter().any(|c| c.pops > 3) {
        cautions.extend([Remark::Heat, Remark::Photosensitivity]);
    }
    Ok(Equivalence { reference: question.reference.unit.setting(question.setting), candidates, cautions })
}

/// The warning if the reference has a modifier that changes its light and the candidate states none.
fn missing_modifier_warning(reference: &Placed, candidate: &Placed) -> Option<Remark> {
    let changes = reference.modifier.is_some_and(|modifier| modifier.stops().typical != Stops::ZERO);
    (changes && candidate.modifier.is_none()).then_some(Remark::CandidateWithoutModifier)
}

enum Side {
    Reference,
    Candidate,
}

/// The light of the candidate over that of the reference, both at full power, without modifiers and at equal distance.
struct Gain {
    stops: f64,
    by: ComparedBy,
    uncertainty: Option<f64>,
    warnings: Vec<Remark>,
}

fn gain(
    reference: &Placed,
    candidate: &Placed,
    asked: Option<ComparedBy>,
) -> Result<Gain, (Side, InvalidValue)> {
    let (r, c) = (&reference.unit, &candidate.unit);
    let both = |has: fn(&Unit) -> bool| has(r) && has(c);
    let guide = both(|unit| unit.guide_number.is_some());
    let light = guide && both(|unit| unit.coverage.is_some());
    let modified = reference.modifier.is_some() || candidate.modifier.is_some();
    let by = asked.unwrap_or_else(|| {
        if guide && !modified {
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
    let uncertainty = match by {
        ComparedBy::GuideNumber => {
            if modified {
                warnings.push(Remark::ModifierOnBeam);
            }
            None
        }
        ComparedBy::Light => Some((from.spread.0 + to.spread.1).max(from.spread.1 + to.spread.0)),
        ComparedBy::Energy => {
            if from.estimated || to.estimated {
                let unit = if from.estimated { r } else { c };
                warnings.push(Remark::UnitEnergyEstimated { unit: unit.name.clone() });
            }
            // An estimate already includes the range of the efficacy. Two rated units may lie at opposite ends of it.
            Some(match (from.estimated, to.estimated) {
                (false, false) => (EFFICACY.high / EFFICACY.low).log2(),
                _ => from.spread.0.max(from.spread.1) + to.spread.0.max(to.spread.1),
            })
        }
    };
    warnings.extend(missing_modifier_warning(reference, candidate));
    Ok(Gain { stops: to.log2 - from.log2, by, uncertainty, warnings })
}

/// The output of a unit at full power in the compared quantity, as log2, with its uncertainty down and up in stops.
struct Output {
    log2: f64,
    spread: (f64, f64),
    estimated: bool,
}

fn output(unit: &Unit, by: ComparedBy) -> Result<Output, InvalidValue> {
    let certain = |value: f64| Output { log2: value.log2(), spread: (0.0, 0.0), estimated: false };
    let lacks = |lacks| InvalidValue::NotComparable { unit: unit.name.clone(), by: by.text(), lacks };
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
                    spread: ((share.high / share.typical).log2(), (share.typical / share.low).log2()),
                    estimated: false,
                })
            }
            _ => Err(lacks("its guide_number with a coverage")),
        },
        ComparedBy::Energy => match (unit.energy, unit.guide_number, unit.coverage) {
            (Some(energy), _, _) => Ok(certain(energy.get())),
            (None, Some(guide), Some(coverage)) => {
                let energy = estimated_energy(guide, coverage);
                Ok(Output {
                    log2: energy.typical.log2(),
                    spread: ((energy.typical / energy.low).log2(), (energy.high / energy.typical).log2()),
                    estimated: true,
                })
            }
            _ => Err(lacks("its energy, or a coverage beside its guide_number to estimate it from")),
        },
    }
}

/// The setting and number of pops that come nearest to a required light.
struct Nearest {
    feasible: bool,
    below: Stops,
    residual: f64,
    pops: u32,
}

fn nearest(unit: &Unit, wanted_below: f64, max_pops: u32) -> Nearest {
    let [brightest, darkest] = unit.ends();
    let (most, least) = (unit.below(brightest), unit.below(darkest));
    let with = |pops: u32| {
        let wanted = wanted_below + f64::from(pops).log2();
        let below = unit.nearest(wanted);
        let residual = wanted - unit.below(below);
        // Between the most and the least light some setting is always within half its click.
        let feasible =
            (most..=least).contains(&wanted) || residual.abs() <= unit.half_click(below).get() + SAME_STOPS;
        Nearest { feasible, below, residual, pops }
    };
    // Fewer pops fall short by more than half a click even at the most light; more pops only add excess.
    let lacking = most - unit.half_click(brightest).get() - SAME_STOPS - wanted_below;
    let fewest = lacking.exp2().ceil().clamp(1.0, f64::from(max_pops)) as u32;
    let found = with(fewest);
    if found.feasible || fewest == 1 {
        return found;
    }
    let before = with(fewest - 1);
    if before.residual.abs() <= found.residual.abs() { before } else { found }
}

fn match_candidate(question: &EquivalenceQuestion, candidate: &Placed, gain: Gain) -> Match {
    let unit = &candidate.unit;
    let reference = &question.reference;
    let modifier = |placed: &Placed| placed.modifier.map_or(0.0, |modifier| modifier.stops().typical.get());
    let distance_loss = match (reference.distance, candidate.distance) {
        (Some(from), Some(to)) => 2.0 * (to.get() / from.get()).log2(),
        _ => 0.0,
    };
    // The extra light that the exposure to hold needs over the reference's exposure, stops.
    let needed = 2.0 * (question.hold.f_number.get() / question.exposure.f_number.get()).log2()
        - (question.hold.iso.get() / question.exposure.iso.get()).log2();
    let wanted_below = reference.unit.below(question.setting) + gain.stops + unit.offset.get()
        - reference.unit.offset.get()
        + modifier(candidate)
        - modifier(reference)
        - distance_loss
        - needed;
    // Kinds of modifier are known only roughly; at worst their errors add.
    let spread = |placed: &Placed| {
        let stops = placed.modifier?.kind()?.stops;
        let [low, typical, high] = [stops.low, stops.typical, stops.high].map(Stops::get);
        Some((typical - low).max(high - typical))
    };
    let uncertainty = [gain.uncertainty, spread(reference), spread(candidate)]
        .into_iter()
        .flatten()
        .reduce(|sum, part| sum + part);
    let found = nearest(unit, wanted_below, question.max_pops);
    let lacking = if found.feasible { 0.0 } else { -found.residual };
    let remedies =
        if found.feasible { Vec::new() } else { remedies::find(question, candidate, wanted_below, &found) };
    let full_power = {
        let above_full = wanted_below - unit.below(Stops::ZERO);
        FNumber::new_unchecked(question.hold.f_number.get() * (above_full / 2.0).exp2())
    };
    Match {
        id: candidate.id.clone(),
        name: unit.name.clone(),
        feasible: found.feasible,
        setting: unit.setting(found.below),
        residual_stops: Stops::new_unchecked(found.residual),
        shortfall_stops: Stops::new_unchecked(lacking.max(0.0)),
        excess_stops: Stops::new_unchecked((-lacking).max(0.0)),
        matching_energy_j: unit
            .energy
            .map(|full| Scale::energy_at(full, Stops::new_unchecked(unit.setting_for(wanted_below)))),
        pops: found.pops,
        full_power_f_number: Nominal::f_number(full_power, question.step),
        compared_by: gain.by,
        uncertainty_stops: uncertainty.map(Stops::new_unchecked),
        remedies,
        warnings: gain.warnings,
    }
}
