//! Remedies for a candidate that is not feasible. Each is tried by answering the changed question.

use crate::light::{
    equivalence::{Answer, ComparedBy, EquivalenceQuestion},
    error::{Field, Part},
    quantity::{FNumber, Iso, Metres, Stops, kind::Kind},
    remedy::{self, Afterwards, Change, Edit, Named, NewValue, Remedy, Sized, Subject, Then, To, nearest},
    set::{
        camera::{self, Turn},
        exposure::FlashExposure,
        filter::NeutralDensity,
    },
};

impl EquivalenceQuestion {
    /// The question after changes. A new value that is not for this part leaves it as it is.
    #[must_use]
    fn with(&self, edits: &[Edit]) -> Self {
        let mut question = self.clone();
        for Edit { part, value } in edits {
            match (*part, value) {
                (Part::FNumber, NewValue::FNumber(f_number)) => {
                    if let Some(held) = question.own_hold() {
                        held.f_number = *f_number;
                    }
                }
                (Part::Iso, NewValue::Iso(iso)) => {
                    if let Some(held) = question.own_hold() {
                        held.iso = *iso;
                    }
                }
                (Part::LensFilters, NewValue::AddFilter(filter)) => {
                    question.lens.filters.push(filter.filter());
                }
                (Part::MaxPops, NewValue::Count(pops)) => question.max_pops = *pops,
                (Part::Candidate(index, _), NewValue::Metres(distance)) => {
                    question.candidates[index].distance = Some(*distance);
                }
                (Part::Candidate(index, _), NewValue::AddFilter(filter)) => {
                    question.candidates[index].filters.push(filter.filter());
                }
                (Part::Candidate(index, _), NewValue::Unit(unit)) => {
                    question.candidates[index].unit = (**unit).clone();
                }
                _ => {}
            }
        }
        question
    }

    /// The exposure to hold, as one of its own. `None` if the reference states no exposure: then there is nothing to
    /// change it against.
    fn own_hold(&mut self) -> Option<&mut FlashExposure> {
        let exposure = self.exposure?;
        Some(self.hold.get_or_insert(exposure))
    }
}

/// Tries changes for one candidate.
struct Trials<'q> {
    question: &'q EquivalenceQuestion,
    index: usize,
}

impl Trials<'_> {
    /// The answer to the changed question, if it is feasible.
    fn answer(&self, edits: &[Edit]) -> Option<Answer> {
        let answer = self.question.with(edits).answer(self.index).ok()?;
        answer.found.feasible.then_some(answer)
    }

    /// The error that is left, in size, if the changed question is feasible.
    fn error(&self, edits: &[Edit]) -> Option<f64> {
        self.answer(edits).map(|answer| answer.found.error.abs())
    }

    fn candidate(&self) -> Subject {
        let candidate = &self.question.candidates[self.index];
        Subject::Candidate(Named { name: candidate.name(), id: candidate.id.clone() })
    }

    /// A remedy with these changes. `is_at_candidate` if they are not at the camera.
    fn remedy(
        &self,
        stops: f64,
        is_at_candidate: bool,
        changes: Vec<Change>,
        edits: Vec<Edit>,
    ) -> Option<Sized> {
        let changed = self.question.with(&edits);
        let found = changed.answer(self.index).ok()?.found;
        let label = changed.candidates[self.index].unit.scale.label(found.below);
        let remedy = Remedy {
            changes,
            afterwards: Afterwards::Unit { label, pops: found.pops },
            patch: edits.into(),
            then: Then::Error(Stops::new_unchecked(found.error)),
        };
        Some(Sized { remedy, stops: stops.abs(), light: is_at_candidate.then_some(self.index) })
    }
}

/// The remedies for a candidate; none if it is feasible.
pub fn find(question: &EquivalenceQuestion, index: usize, answer: &Answer) -> Vec<Remedy> {
    if answer.found.feasible {
        return Vec::new();
    }
    let trials = Trials { question, index };
    let is_too_strong = answer.found.error > 0.0;
    let mut all: Vec<Option<Sized>> = Vec::new();
    all.extend(exposure(&trials));
    all.push(distance(&trials));
    if is_too_strong {
        all.push(filter(&trials, &trials.candidate(), Part::Candidate(index, Field::Filters)));
        all.push(filter(&trials, &Subject::Whole, Part::LensFilters));
    } else {
        all.push(pops(&trials));
        all.push(unit(&trials, answer));
    }
    remedy::in_order(all.into_iter().flatten().collect(), is_too_strong)
}

/// The exposure to hold by another aperture, by another ISO speed, and by both if neither does it alone. None if the
/// reference states no exposure.
fn exposure(trials: &Trials<'_>) -> Vec<Option<Sized>> {
    let question = trials.question;
    let Some(held) = question.exposure.and(question.held()) else { return Vec::new() };
    let (limits, rules) = (&question.limits, question.rules);
    let lens = camera::turns(Kind::FNumber, held.f_number.get(), limits, rules);
    let iso = camera::turns(Kind::Iso, held.iso.get(), limits, rules);
    // An exposure that the request does not state yet is stated whole.
    let edits = |turns: &[&Turn]| -> Vec<Edit> {
        let edit = |part: Part, kind: Kind, own: NewValue| {
            let turned = turns.iter().find(|turn| turn.to.kind == kind).map(|turn| turn.edit(part));
            // An ISO speed of 100 need not be stated.
            let is_stated = part == Part::FNumber || held.iso != Iso::BASE;
            turned.or_else(|| (question.hold.is_none() && is_stated).then(|| Edit::new(part, own)))
        };
        let f_number =
            NewValue::FNumber(FNumber::new_unchecked(rules.sendable(Kind::FNumber, held.f_number.get())));
        let iso = NewValue::Iso(Iso::new_unchecked(rules.sendable(Kind::Iso, held.iso.get())));
        [edit(Part::FNumber, Kind::FNumber, f_number), edit(Part::Iso, Kind::Iso, iso)]
            .into_iter()
            .flatten()
            .collect()
    };
    let of = |candidates: Vec<Vec<&Turn>>| {
        let sum = |turns: &[&Turn]| turns.iter().map(|turn| turn.stops).sum();
        let candidates = candidates.into_iter().map(|turns| (sum(&turns), turns));
        let (stops, turns, _) = nearest(candidates, |turns| trials.error(&edits(turns)))?;
        let changes = turns.iter().map(|turn| turn.change(Subject::Whole)).collect();
        trials.remedy(stops, false, changes, edits(&turns))
    };
    let single = |turns: &[Turn]| of(turns.iter().map(|turn| vec![turn]).collect());
    let all = vec![single(&lens), single(&iso)];
    if all.iter().any(Option::is_some) {
        return all;
    }
    let pairs = camera::both(&lens, &iso).into_iter().map(|(lens, iso)| vec![lens, iso]);
    vec![of(pairs.collect())]
}

/// The candidate nearer or farther. Without a distance of its own it is at that of the reference.
fn distance(trials: &Trials<'_>) -> Option<Sized> {
    let question = trials.question;
    let from = question.candidates[trials.index].distance.or(question.reference.distance)?;
    let edits =
        |to: Metres| vec![Edit::new(Part::Candidate(trials.index, Field::Distance), NewValue::Metres(to))];
    [2, 3].into_iter().find_map(|digits| {
        let places = question.rules.units.distances_about(from, digits).into_iter();
        let places = places.filter(|to| question.limits.allows_distance(to.get()));
        let places = places.map(|to| (2.0 * (from.get() / to.get()).log2(), to));
        let (stops, to, _) = nearest(places, |to| trials.error(&edits(*to)))?;
        let to_place = To::Distance { from, to, point: None, has_others: false, units: question.rules.units };
        let change =
            Change { subject: trials.candidate(), by_stops: Some(Stops::new_unchecked(stops)), to: to_place };
        trials.remedy(stops, true, vec![change], edits(to))
    })
}

/// A filter, or two if none does it alone.
fn filter(trials: &Trials<'_>, subject: &Subject, part: Part) -> Option<Sized> {
    let rules = trials.question.rules;
    let choices = trials.question.limits.filters(|density| NeutralDensity::new(density, rules));
    choices.into_iter().find_map(|choices| {
        let edits = |filters: &[NeutralDensity]| -> Vec<Edit> {
            filters.iter().map(|filter| Edit::new(part, NewValue::AddFilter(*filter))).collect()
        };
        let effect = |filters: &[NeutralDensity]| filters.iter().map(|filter| filter.stops.get()).sum();
        let candidates = choices.into_iter().map(|filters| (effect(&filters), filters));
        let (stops, filters, _) = nearest(candidates, |filters| trials.error(&edits(filters)))?;
        let change = |filter: &NeutralDensity| Change {
            subject: subject.clone(),
            by_stops: Some(filter.stops),
            to: To::Filter(*filter),
        };
        let changes = filters.iter().map(change).collect();
        trials.remedy(stops, *subject != Subject::Whole, changes, edits(&filters))
    })
}

/// More flashes in one exposure, up to the limit.
fn pops(trials: &Trials<'_>) -> Option<Sized> {
    let edits = |most: u32| vec![Edit::new(Part::MaxPops, NewValue::Count(most))];
    let most = trials.question.max_pops;
    let candidates = most + 1..=trials.question.limits.max_pops;
    let size = |pops: u32| (f64::from(pops) / f64::from(most)).log2();
    // With a higher limit the answer takes the fewest that do it.
    let (_, pops, _) =
        nearest(candidates.map(|pops| (size(pops), pops)), |pops| trials.error(&edits(*pops)))?;
    let fired = trials.answer(&edits(pops))?.found.pops;
    let change = Change {
        subject: trials.candidate(),
        by_stops: Some(Stops::new_unchecked(f64::from(fired).log2())),
        to: To::Pops(fired),
    };
    trials.remedy(f64::from(fired).log2(), true, vec![change], edits(pops))
}

/// A stronger unit of the same kind; none for a head, which gives what its pack does.
fn unit(trials: &Trials<'_>, answer: &Answer) -> Option<Sized> {
    let own = Some(&trials.question.candidates[trials.index].unit).filter(|own| own.head.is_none())?;
    let lack = -answer.found.error;
    let by_guide = answer.gain.by == ComparedBy::GuideNumber || own.energy.is_none();
    let stronger = own.stronger(lack, by_guide)?;
    let to = match (stronger.guide_number.filter(|_| by_guide), stronger.energy) {
        (Some(guide), _) => To::Guide { guide, replaces: true },
        (None, energy) => To::Energy { energy: energy?, like: None, replaces: true },
    };
    let edits =
        vec![Edit::new(Part::Candidate(trials.index, Field::Unit), NewValue::Unit(Box::new(stronger)))];
    trials.error(&edits)?;
    let change = Change { subject: trials.candidate(), by_stops: Some(Stops::new_unchecked(lack)), to };
    trials.remedy(lack, true, vec![change], edits)
}
