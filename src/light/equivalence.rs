//! Swap one unit for another and hold the picture.
//!
//! Light goes with energy (common practice: one stop is a factor of two), with the square of the guide
//! number (ISO 1230), and with the inverse square of the distance (CIE e-ILV 17-25-104).

mod remedies;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{FieldError, InvalidValue, Pointer},
    quantity::{
        FNumber, Joules, Metres, Stops, constants::EFFICACY, marks::Step, nominal::Nominal, units::Units,
        words::words,
    },
    remark::{Remark, Remedy},
    set::{exposure::FlashExposure, limits::Limits, modifier::Modifier},
    unit::{Setting, Unit, guide::estimated_energy, scale::Scale},
};

/// Two amounts of light closer than this are the same, stops.
const SAME_STOPS: f64 = 1e-9;

/// A unit in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// The unit.
    pub unit: Unit,
    /// Its distance from the subject.
    pub distance: Option<Metres>,
    /// What its modifier does, against the unit as it is rated.
    pub modifier: Option<Modifier>,
}

words! {
    /// What two units are compared by.
    pub enum ComparedBy as "ComparedBy" {
        /// Beams on their axes.
        GuideNumber = "guide_number",
        /// Light in the coverage, lm·s.
        Light = "light",
        /// Rated or estimated energy.
        Energy = "energy",
    }
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The unit to replace.
    pub reference: Placed,
    /// Its setting, stops below full.
    pub setting: Stops,
    /// The exposure at which it was right.
    pub exposure: FlashExposure,
    /// The exposure to hold.
    pub hold: FlashExposure,
    /// What may replace it.
    pub candidates: Vec<Placed>,
    /// Most flashes in one exposure.
    pub max_pops: u32,
    /// The comparison asked for.
    pub compare_by: Option<ComparedBy>,
    /// How far remedies may go.
    pub limits: Limits,
    /// The series of marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// One candidate's answer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = UnitMatch)]
pub struct Match {
    /// The caller's id of the candidate.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The candidate's name.
    pub name: Option<String>,
    /// Whether a setting comes within half a click of the wish.
    pub feasible: bool,
    /// What to dial; the nearest setting where none is feasible.
    pub setting: Setting,
    /// Achieved minus wanted after the click, stops; + is too bright.
    pub residual_stops: Stops,
    /// What is lacking where it is too weak, stops, else 0.
    pub shortfall_stops: Stops,
    /// What is too much where it cannot go low enough, stops, else 0.
    pub excess_stops: Stops,
    /// Rated energy on this candidate for the same light in one pop, before the click, J; null without a rated energy.
    pub matching_energy_j: Option<Joules>,
    /// The fewest flashes that are feasible; the number nearest to it where none is.
    pub pops: u32,
    /// The aperture at which this candidate at full power, in one pop, gives the same picture.
    pub full_power_f_number: Nominal,
    /// What the two were compared by.
    pub compared_by: ComparedBy,
    /// By how much the comparison may be off, either way, with every assumption at its worst end, stops; null where beams on their axes were compared and no kind of modifier was named.
    pub uncertainty_stops: Option<Stops>,
    /// What would do it, where it is not feasible.
    pub remedies: Vec<Remedy>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// What each candidate would have to be set to.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Equivalence {
    /// The reference's setting.
    pub reference: Setting,
    /// The candidates, in the order asked.
    pub candidates: Vec<Match>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// Answers. Faults stand at the unit that lacks what a comparison needs, or at a distance that is missing.
pub fn compare(question: &Question) -> Result<Equivalence, Vec<FieldError>> {
    let mut faults = Vec::new();
    let reference_place = Pointer::root().field("reference");
    if question.reference.distance.is_none() && question.candidates.iter().any(|c| c.distance.is_some()) {
        faults.push(
            InvalidValue::new(
                "a candidate states its distance, the reference does not",
                "the reference's distance too",
            )
            .at(&reference_place.field("distance")),
        );
    }
    let mut candidates = Vec::new();
    for (index, candidate) in question.candidates.iter().enumerate() {
        let place = Pointer::root().field("candidates").index(index).field("unit");
        match gain(&question.reference, candidate, question.compare_by) {
            Ok(gain) => candidates.push(matched(question, candidate, gain)),
            Err((Side::Reference, wrong)) => {
                let fault = wrong.at(&reference_place.field("unit"));
                if !faults.contains(&fault) {
                    faults.push(fault);
                }
            }
            Err((Side::Candidate, wrong)) => faults.push(wrong.at(&place)),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut cautions = Vec::new();
    if candidates.iter().any(|c| c.pops > 3) {
        cautions.extend([Remark::heat(), Remark::photosensitivity()]);
    }
    Ok(Equivalence { reference: question.reference.unit.setting(question.setting), candidates, cautions })
}

/// Where the reference has a modifier that changes its light, and of the candidate none is told.
fn modified_alone(reference: &Placed, candidate: &Placed) -> Option<Remark> {
    let changes = reference.modifier.is_some_and(|modifier| modifier.stops().typical != Stops::ZERO);
    (changes && candidate.modifier.is_none()).then(|| {
        Remark::new(
            "taken_without_modifier",
            "The reference has a modifier; this candidate states none and is taken as it is rated. If it goes into the same modifier, state that here as well.",
        )
    })
}

enum Side {
    Reference,
    Candidate,
}

/// How much more light the candidate gives than the reference, both at full power, bare and equally far.
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
    let of = |unit: &Unit| -> Result<Output, InvalidValue> { output(unit, by) };
    let from = of(r).map_err(|wrong| (Side::Reference, wrong))?;
    let to = of(c).map_err(|wrong| (Side::Candidate, wrong))?;
    let uncertainty = match by {
        ComparedBy::GuideNumber => {
            if modified {
                warnings.push(Remark::new(
                    "modifier_on_beam",
                    "A modifier swallows the whole beam and makes its own. With guide numbers alone the comparison holds only if both units fill the modifier alike; state coverages or energies.",
                ));
            }
            None
        }
        ComparedBy::Light => Some((from.spread.0 + to.spread.1).max(from.spread.1 + to.spread.0)),
        ComparedBy::Energy => {
            if from.estimated || to.estimated {
                let unit = if from.estimated { r } else { c };
                warnings.push(Remark::new(
                    "energy_estimated",
                    format!(
                        "{} states no energy: it was estimated from guide number and coverage, by typical assumptions.",
                        unit.called()
                    ),
                ));
            }
            // An estimate carries the efficacy already; two ratings may each be at the other's end.
            Some(match (from.estimated, to.estimated) {
                (false, false) => (EFFICACY.high / EFFICACY.low).log2(),
                _ => from.spread.0.max(from.spread.1) + to.spread.0.max(to.spread.1),
            })
        }
    };
    warnings.extend(modified_alone(reference, candidate));
    Ok(Gain { stops: to.log2 - from.log2, by, uncertainty, warnings })
}

/// The output of a unit at full power in one measure, as log2, with its spread down and up in stops.
struct Output {
    log2: f64,
    spread: (f64, f64),
    estimated: bool,
}

fn output(unit: &Unit, by: ComparedBy) -> Result<Output, InvalidValue> {
    let certain = |value: f64| Output { log2: value.log2(), spread: (0.0, 0.0), estimated: false };
    let lacks = |what: &str| {
        InvalidValue::new(format!("{} cannot be compared by {}", unit.called(), by.text()), what.to_owned())
    };
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

/// The nearest setting and pops for a wish of so many stops below full in one pop.
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
        // Between most and least light there is always a setting within half its click.
        let feasible =
            (most..=least).contains(&wanted) || residual.abs() <= unit.half_click(below).get() + SAME_STOPS;
        Nearest { feasible, below, residual, pops }
    };
    // With fewer even most light leaves more than half a click to wish for; with more there is only too much.
    let lacking = most - unit.half_click(brightest).get() - SAME_STOPS - wanted_below;
    let fewest = lacking.exp2().ceil().clamp(1.0, f64::from(max_pops)) as u32;
    let found = with(fewest);
    if found.feasible || fewest == 1 {
        return found;
    }
    let before = with(fewest - 1);
    if before.residual.abs() <= found.residual.abs() { before } else { found }
}

fn matched(question: &Question, candidate: &Placed, gain: Gain) -> Match {
    let unit = &candidate.unit;
    let reference = &question.reference;
    let modifier = |placed: &Placed| placed.modifier.map_or(0.0, |modifier| modifier.stops().typical.get());
    let farther = match (reference.distance, candidate.distance) {
        (Some(from), Some(to)) => 2.0 * (to.get() / from.get()).log2(),
        _ => 0.0,
    };
    // Light that the exposure to hold needs beyond the reference's exposure.
    let needed = 2.0 * (question.hold.f_number.get() / question.exposure.f_number.get()).log2()
        - (question.hold.iso.get() / question.exposure.iso.get()).log2();
    let wanted_below = reference.unit.below(question.setting) + gain.stops + unit.offset.get()
        - reference.unit.offset.get()
        + modifier(candidate)
        - modifier(reference)
        - farther
        - needed;
    // Kinds of modifier are roughly known, each to its own side at worst.
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
