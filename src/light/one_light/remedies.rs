//! Remedies for a light that does not reach what is asked. Each is tried by answering the changed question.

use crate::light::{
    error::{Field, Part},
    one_light::{Found, Known, OneLightQuestion, Solved},
    quantity::{FNumber, Stops, kind::Kind},
    remedy::{self, Afterwards, Change, Edit, Named, NewValue, Remedy, Sized, Subject, Then, To, nearest},
    set::{camera, filter::NeutralDensity},
};

impl OneLightQuestion {
    /// The question after changes. A new value that is not for this part leaves it as it is.
    #[must_use]
    fn with(&self, edits: &[Edit]) -> Self {
        let mut question = self.clone();
        for Edit { part, value } in edits {
            match (*part, value) {
                (Part::Own(Field::FNumber), NewValue::FNumber(to)) => question.f_number = Some(*to),
                (Part::Own(Field::Iso), NewValue::Iso(to)) => question.iso = *to,
                (Part::Own(Field::Distance), NewValue::Metres(to)) => question.distance = Some(*to),
                (Part::Own(Field::Setting), NewValue::Label(label)) => {
                    question.below = question.unit.scale.setting(label).ok();
                }
                (Part::Own(Field::Pops), NewValue::Count(pops)) => question.pops = *pops,
                (Part::Own(Field::Filters), NewValue::AddFilter(filter)) => {
                    question.filters.push(filter.filter());
                }
                (Part::LensFilters, NewValue::AddFilter(filter)) => {
                    question.lens.filters.push(filter.filter());
                }
                (Part::Own(Field::Unit), NewValue::Unit(unit)) => question.unit = (**unit).clone(),
                (Part::Own(Field::GuideNumber), NewValue::Guide(guide)) => {
                    question.unit.guide_number = Some(*guide);
                }
                (Part::Metered(Field::FNumber), NewValue::FNumber(to)) => {
                    if let Known::Metered { f_number, .. } = &mut question.known {
                        *f_number = *to;
                    }
                }
                _ => {}
            }
        }
        question
    }

    /// The error that is left after changes, if the changed question is feasible.
    fn error_after(&self, edits: &[Edit]) -> Option<f64> {
        let found = self.with(edits).found().ok()?;
        found.feasible.then_some(found.error)
    }

    fn subject(&self) -> Subject {
        Subject::Light(Named { name: self.unit.name.clone(), id: None })
    }

    /// The remedy with these changes; `None` if it does not make the question feasible.
    fn remedy(&self, stops: f64, is_at_light: bool, changes: Vec<Change>, edits: Vec<Edit>) -> Option<Sized> {
        let found = self.with(&edits).found().ok().filter(|found| found.feasible)?;
        let is_set = found.solved_for == Some(Solved::Setting);
        let label = found.below.filter(|_| is_set).map(|below| self.unit.scale.label(below));
        let remedy = Remedy {
            changes,
            afterwards: label.map_or(Afterwards::Nothing, |label| Afterwards::Unit { label, pops: 1 }),
            patch: edits.into(),
            then: Then::Error(Stops::new_unchecked(found.error)),
        };
        Some(Sized { remedy, stops: stops.abs(), light: is_at_light.then_some(0) })
    }

    /// The remedy by the candidate that comes nearest. `change` is what is done for one of them, and its edits.
    fn nearest<C>(
        &self,
        candidates: impl IntoIterator<Item = (f64, C)>,
        is_at_light: bool,
        done: impl Fn(&C) -> (Vec<Change>, Vec<Edit>),
    ) -> Option<Sized> {
        let (stops, found, _) = nearest(candidates, |it| self.error_after(&done(it).1).map(f64::abs))?;
        let (changes, edits) = done(&found);
        self.remedy(stops, is_at_light, changes, edits)
    }
}

/// The remedies; none if the question is feasible.
pub fn find(question: &OneLightQuestion, found: &Found) -> Vec<Remedy> {
    if found.feasible {
        return Vec::new();
    }
    let is_too_strong = found.error > 0.0;
    let lens_filter = || filter(question, &Subject::Whole, Part::LensFilters, false);
    let mut all =
        vec![setting(question, found), aperture(question, found), iso(question), distance(question, found)];
    if is_too_strong {
        let own = || filter(question, &question.subject(), Part::Own(Field::Filters), true);
        all.extend([(!question.is_metered()).then(own).flatten(), lens_filter()]);
    } else {
        all.extend([pops(question), unit(question, -found.error)]);
    }
    remedy::in_order(all.into_iter().flatten().collect(), is_too_strong)
}

/// Another setting, where one is given that is not right.
fn setting(question: &OneLightQuestion, found: &Found) -> Option<Sized> {
    let held = question.below?;
    let fit = OneLightQuestion { below: None, ..question.clone() }.found().ok()?;
    let to = fit.below.filter(|_| fit.solved_for == Some(Solved::Setting))?;
    let unit = &question.unit;
    let change = Change {
        subject: question.subject(),
        by_stops: Some(Stops::new_unchecked(unit.below(held) - unit.below(to))),
        to: To::Setting { to: unit.setting(to), held_at: unit.setting(held) },
    };
    let edit = Edit::new(Part::Own(Field::Setting), NewValue::Label(unit.scale.label(to)));
    question.remedy(found.error, true, vec![change], vec![edit])
}

fn aperture(question: &OneLightQuestion, found: &Found) -> Option<Sized> {
    let turns = camera::turns(Kind::FNumber, found.f_number, &question.limits, question.rules);
    question.nearest(turns.iter().map(|turn| (turn.stops, turn)), false, |turn| {
        (vec![turn.change(Subject::Whole)], vec![turn.edit(Part::Own(Field::FNumber))])
    })
}

/// Another ISO speed, and with it what was metered at the old one.
fn iso(question: &OneLightQuestion) -> Option<Sized> {
    let turns = camera::turns(Kind::Iso, question.iso.get(), &question.limits, question.rules);
    question.nearest(turns.iter().map(|turn| (turn.stops, turn)), false, |turn| {
        let reading = match question.known {
            Known::Metered { f_number, .. } => {
                let value = f_number.get() * (turn.stops / 2.0).exp2();
                let value = question.rules.sendable(Kind::FNumber, value);
                Some(Edit::new(
                    Part::Metered(Field::FNumber),
                    NewValue::FNumber(FNumber::new_unchecked(value)),
                ))
            }
            Known::Rated { .. } => None,
        };
        let edits = std::iter::once(turn.edit(Part::Own(Field::Iso))).chain(reading).collect();
        (vec![turn.change(Subject::Whole)], edits)
    })
}

fn distance(question: &OneLightQuestion, found: &Found) -> Option<Sized> {
    let from = found.distance?;
    let units = question.rules.units;
    [2, 3].into_iter().find_map(|digits| {
        let places = units.distances_about(from, digits).into_iter();
        let places = places.filter(|to| question.limits.allows_distance(to.get()));
        let places = places.map(|to| (2.0 * (from.get() / to.get()).log2(), to));
        question.nearest(places, true, |to| {
            let change = Change {
                subject: question.subject(),
                by_stops: Some(Stops::new_unchecked(2.0 * (from.get() / to.get()).log2())),
                to: To::Distance { from, to: *to, point: None, has_others: false, units },
            };
            (vec![change], vec![Edit::new(Part::Own(Field::Distance), NewValue::Metres(*to))])
        })
    })
}

/// A filter, or two if none does it alone.
fn filter(question: &OneLightQuestion, subject: &Subject, part: Part, is_at_light: bool) -> Option<Sized> {
    let choices = question.limits.filters(|density| NeutralDensity::new(density, question.rules));
    choices.into_iter().find_map(|choices| {
        let effect =
            |filters: &[NeutralDensity]| filters.iter().map(|filter| filter.stops.get()).sum::<f64>();
        let candidates = choices.into_iter().map(|filters| (effect(&filters), filters));
        question.nearest(candidates, is_at_light, |filters| {
            let change = |filter: &NeutralDensity| Change {
                subject: subject.clone(),
                by_stops: Some(filter.stops),
                to: To::Filter(*filter),
            };
            let edit = |filter: &NeutralDensity| Edit::new(part, NewValue::AddFilter(*filter));
            (filters.iter().map(change).collect(), filters.iter().map(edit).collect())
        })
    })
}

/// More flashes in one exposure, up to the limit.
fn pops(question: &OneLightQuestion) -> Option<Sized> {
    if question.unit.follows_time(question.shutter) {
        return None;
    }
    let size = |pops: u32| (f64::from(pops) / f64::from(question.pops)).log2();
    let candidates = question.pops + 1..=question.limits.max_pops;
    question.nearest(candidates.map(|pops| (size(pops), pops)), true, |pops| {
        let by_stops = Some(Stops::new_unchecked(size(*pops)));
        let change = Change { subject: question.subject(), by_stops, to: To::Pops(*pops) };
        (vec![change], vec![Edit::new(Part::Own(Field::Pops), NewValue::Count(*pops))])
    })
}

/// A stronger unit of the same kind, or a greater guide number.
fn unit(question: &OneLightQuestion, lack: f64) -> Option<Sized> {
    let Known::Rated { by_guide_alone } = question.known else { return None };
    let own = &question.unit;
    let stronger = own.stronger(lack, own.energy.is_none())?;
    let like = own.name.clone();
    let to = match (stronger.energy, stronger.guide_number) {
        (Some(energy), _) => To::Energy { energy, like, replaces: true },
        (None, guide) => To::Guide { guide: guide?, replaces: true },
    };
    let edit = if by_guide_alone {
        Edit::new(Part::Own(Field::GuideNumber), NewValue::Guide(stronger.guide_number?))
    } else {
        Edit::new(Part::Own(Field::Unit), NewValue::Unit(Box::new(stronger)))
    };
    let change = Change { subject: question.subject(), by_stops: Some(Stops::new_unchecked(lack)), to };
    question.remedy(lack, true, vec![change], vec![edit])
}
