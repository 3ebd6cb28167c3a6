//! Remedies: changes that would make a shot feasible. Each is tried by assigning the units of the changed shot again.

use crate::light::{
    error::{Field, Part, ShotPart},
    kit::{
        answer::RoleResult,
        missing::Missing,
        question::{KitQuestion, KitUnit, RoleTarget, Shot, Stock},
        shot::{Assigned, assign_shot, can_reach},
    },
    quantity::{FNumber, GuideMetres, Metres, Stops, kind::Kind},
    remedy::{self, Afterwards, Change, Edit, Named, NewValue, Remedy, Sized, Subject, Then, To, nearest},
    set::{
        camera::{self, Turn},
        filter::NeutralDensity,
    },
    unit::Unit,
};

/// Tries changes of one shot, and of the kit for it.
struct Trials<'q> {
    question: &'q KitQuestion,
    shot: &'q Shot,
    index: usize,
    /// The units of the roles in the shot before.
    before: &'q [(String, usize)],
}

/// A shot and the kit for it after changes.
struct Changed {
    kit: Option<Vec<KitUnit>>,
    shot: Shot,
}

impl Trials<'_> {
    /// The shot and the kit after changes. A new value that is not for this part leaves it as it is.
    fn changed(&self, edits: &[Edit]) -> Changed {
        let mut changed = Changed { kit: None, shot: self.shot.clone() };
        let shot = &mut changed.shot;
        for Edit { part, value } in edits {
            match (*part, value) {
                (Part::Shot(_, ShotPart::FNumber), NewValue::FNumber(to)) => shot.exposure.f_number = *to,
                (Part::Shot(_, ShotPart::Iso), NewValue::Iso(iso)) => shot.exposure.iso = *iso,
                (Part::Shot(_, ShotPart::LensFilters), NewValue::AddFilter(filter)) => {
                    shot.lens.filters.push(filter.filter());
                }
                (Part::Shot(_, ShotPart::Role(role, _)), value) => {
                    let role = &mut shot.roles[role];
                    match value {
                        NewValue::FNumber(f_number) => role.target = RoleTarget::FNumber(*f_number),
                        NewValue::Metres(distance) => role.placement.distance = *distance,
                        NewValue::Count(pops) => role.pops = *pops,
                        NewValue::AddFilter(filter) => role.filters.push(filter.filter()),
                        _ => {}
                    }
                }
                (Part::Kit(_), NewValue::AddUnit(unit)) => {
                    let kit = changed.kit.get_or_insert_with(|| self.question.kit.clone());
                    let entry = kit.len();
                    kit.push(KitUnit {
                        name: format!("borrowed {entry}"),
                        id: None,
                        unit: (**unit).clone(),
                        entry,
                    });
                }
                _ => {}
            }
        }
        changed
    }

    /// The lights of the changed shot, if it is feasible.
    fn answer(&self, edits: &[Edit]) -> Option<Vec<RoleResult>> {
        let Changed { kit, shot } = self.changed(edits);
        let with = |kit| Stock { kit, packs: &self.question.packs };
        let with_kit = with(kit.as_deref().unwrap_or(&self.question.kit));
        if !can_reach(with_kit, &shot) {
            return None;
        }
        // With other units the shots before have others as well.
        let before = kit.as_ref().map(|kit| {
            let mut before = Vec::new();
            for (index, shot) in self.question.shots[..self.index].iter().enumerate() {
                before = assign_shot(with(kit), shot, &before, index == 0).by_role(shot);
            }
            before
        });
        let before = before.as_deref().unwrap_or(self.before);
        let Assigned { lights, .. } = assign_shot(with_kit, &shot, before, self.index == 0);
        (!lights.iter().any(RoleResult::is_missed)).then_some(lights)
    }

    /// The error that is left, in size: of one role, or the worst of all.
    fn error(&self, edits: &[Edit], role: Option<usize>) -> Option<f64> {
        Some(error(&self.answer(edits)?, role).abs())
    }

    fn part(&self, part: ShotPart) -> Part {
        Part::Shot(self.index, part)
    }

    fn subject(&self, role: Option<usize>) -> Subject {
        let shot = Named::new(&self.shot.name, self.shot.id.as_ref());
        match role.map(|role| &self.shot.roles[role]) {
            None => Subject::Shot(shot),
            Some(role) => Subject::Role { shot, role: Named::new(&role.name, role.id.as_ref()) },
        }
    }

    /// A remedy with these changes.
    fn remedy(
        &self,
        stops: f64,
        role: Option<usize>,
        changes: Vec<Change>,
        edits: Vec<Edit>,
    ) -> Option<Sized> {
        let left = Stops::new_unchecked(error(&self.answer(&edits)?, role));
        let remedy = Remedy {
            changes,
            afterwards: Afterwards::Units,
            patch: edits.into(),
            then: match role {
                Some(_) => Then::Error(left),
                None => Then::WorstError(Stops::new_unchecked(left.get().abs())),
            },
        };
        Some(Sized { remedy, stops: stops.abs(), light: role })
    }

    /// The nearest of some changes of a part, each with its edits and what is done.
    fn nearest<C>(
        &self,
        role: Option<usize>,
        candidates: Vec<(f64, C)>,
        edits: impl Fn(&C) -> Vec<Edit>,
        changes: impl Fn(&C) -> Vec<Change>,
    ) -> Option<Sized> {
        let (stops, found, _) = nearest(candidates, |candidate| self.error(&edits(candidate), role))?;
        self.remedy(stops, role, changes(&found), edits(&found))
    }
}

/// The error of one role, or the worst of all.
fn error(lights: &[RoleResult], role: Option<usize>) -> f64 {
    let error = |light: &RoleResult| light.error_stops.map_or(0.0, Stops::get);
    match role {
        Some(role) => error(&lights[role]),
        None => lights.iter().map(error).max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or_default(),
    }
}

/// Finds the remedies of a shot, the smallest change first, given its lights with their units, what they lack, and how many
/// units the kit has room for.
pub fn find(
    question: &KitQuestion,
    index: usize,
    before: &[(String, usize)],
    Assigned { lights, units, .. }: &Assigned,
    (missing, room): (&[Missing], usize),
) -> Vec<Remedy> {
    let trials = Trials { question, shot: &question.shots[index], index, before };
    let mut all: Vec<Sized> = exposure(&trials);
    all.extend(filter(&trials, None));
    for (role, _) in lights.iter().enumerate().filter(|(_, light)| light.is_missed()) {
        all.extend(distance(&trials, role));
        all.extend(filter(&trials, Some(role)));
        all.extend(pops(&trials, role));
    }
    if missing.len() <= room {
        all.extend(borrowed(&trials, lights, units, missing));
    }
    remedy::in_order(all, lights.iter().any(RoleResult::is_too_strong))
}

/// The aperture with the roles whose target is an f-number, the ISO speed, and both if neither does it alone.
fn exposure(trials: &Trials<'_>) -> Vec<Sized> {
    let (shot, limits, rules) = (trials.shot, &trials.question.limits, trials.question.rules);
    let lens = camera::turns(Kind::FNumber, shot.exposure.f_number.get(), limits, rules);
    let iso = camera::turns(Kind::Iso, shot.exposure.iso.get(), limits, rules);
    let of = |turn: &Turn| -> Vec<Edit> {
        if turn.to.kind == Kind::Iso {
            return vec![turn.edit(trials.part(ShotPart::Iso))];
        }
        let targets = shot.roles.iter().enumerate().filter_map(|(index, role)| {
            let RoleTarget::FNumber(f_number) = role.target else { return None };
            let to = rules.sendable(Kind::FNumber, f_number.get() * (-turn.stops / 2.0).exp2());
            let part = trials.part(ShotPart::Role(index, Field::FNumber));
            Some(Edit::new(part, NewValue::FNumber(FNumber::new_unchecked(to))))
        });
        std::iter::once(turn.edit(trials.part(ShotPart::FNumber))).chain(targets).collect()
    };
    let find = |candidates: Vec<Vec<&Turn>>| {
        let stops = |turns: &[&Turn]| turns.iter().map(|turn| turn.stops).sum();
        let candidates = candidates.into_iter().map(|turns| (stops(&turns), turns)).collect();
        let edits = |turns: &Vec<&Turn>| turns.iter().flat_map(|turn| of(turn)).collect();
        let changes =
            |turns: &Vec<&Turn>| turns.iter().map(|turn| turn.change(trials.subject(None))).collect();
        trials.nearest(None, candidates, edits, changes)
    };
    let single = |turns: &[Turn]| find(turns.iter().map(|turn| vec![turn]).collect());
    let all: Vec<Sized> = [single(&lens), single(&iso)].into_iter().flatten().collect();
    if !all.is_empty() {
        return all;
    }
    let pairs = camera::both(&lens, &iso).into_iter().map(|(lens, iso)| vec![lens, iso]);
    find(pairs.collect()).into_iter().collect()
}

/// A filter on the light of a role or on the lens, or two if none does it alone.
fn filter(trials: &Trials<'_>, role: Option<usize>) -> Option<Sized> {
    let rules = trials.question.rules;
    let part = trials.part(match role {
        Some(role) => ShotPart::Role(role, Field::Filters),
        None => ShotPart::LensFilters,
    });
    let choices = trials.question.limits.filters(|density| NeutralDensity::new(density, rules));
    choices.into_iter().find_map(|choices| {
        let effect = |filters: &[NeutralDensity]| filters.iter().map(|filter| filter.stops.get()).sum();
        let candidates = choices.into_iter().map(|filters| (effect(&filters), filters)).collect();
        let edit = |filter: &NeutralDensity| Edit::new(part, NewValue::AddFilter(*filter));
        let change = |filter: &NeutralDensity| Change {
            subject: trials.subject(role),
            by_stops: Some(filter.stops),
            to: To::Filter(*filter),
        };
        let edits = |filters: &Vec<NeutralDensity>| filters.iter().map(edit).collect();
        trials.nearest(role, candidates, edits, |filters| filters.iter().map(change).collect())
    })
}

/// The light of a role nearer or farther.
fn distance(trials: &Trials<'_>, role: usize) -> Option<Sized> {
    let (limits, units) = (&trials.question.limits, trials.question.rules.units);
    let from = trials.shot.roles[role].placement.distance;
    let part = trials.part(ShotPart::Role(role, Field::Distance));
    let stops = |to: &Metres| 2.0 * (from.get() / to.get()).log2();
    [2, 3].into_iter().find_map(|digits| {
        let places = units.distances_about(from, digits).into_iter();
        let places = places.filter(|to| limits.allows_distance(to.get())).map(|to| (stops(&to), to));
        let change = |to: &Metres| Change {
            subject: trials.subject(Some(role)),
            by_stops: Some(Stops::new_unchecked(stops(to))),
            to: To::Distance { from, to: *to, point: None, has_others: false, units },
        };
        let edits = |to: &Metres| vec![Edit::new(part, NewValue::Metres(*to))];
        trials.nearest(Some(role), places.collect(), edits, |to| vec![change(to)])
    })
}

/// More flashes in one exposure, up to the limit.
fn pops(trials: &Trials<'_>, role: usize) -> Option<Sized> {
    let own = trials.shot.roles[role].pops;
    let part = trials.part(ShotPart::Role(role, Field::Pops));
    let stops = |pops: &u32| (f64::from(*pops) / f64::from(own)).log2();
    let candidates = (own + 1..=trials.question.limits.max_pops).map(|pops| (stops(&pops), pops)).collect();
    let change = |pops: &u32| Change {
        subject: trials.subject(Some(role)),
        by_stops: Some(Stops::new_unchecked(stops(pops))),
        to: To::Pops(*pops),
    };
    let edits = |pops: &u32| vec![Edit::new(part, NewValue::Count(*pops))];
    trials.nearest(Some(role), candidates, edits, |pops| vec![change(pops)])
}

/// The units to borrow: one for each role whose unit is missing or too weak. `None` if some light is too strong, or no
/// unit would reach.
fn borrowed(
    trials: &Trials<'_>,
    lights: &[RoleResult],
    units: &[Option<usize>],
    missing: &[Missing],
) -> Option<Sized> {
    let missed: Vec<usize> = (0..lights.len()).filter(|role| lights[*role].is_missed()).collect();
    if missing.len() < missed.len() {
        return None;
    }
    let mut done = (Vec::new(), Vec::new());
    for role in &missed {
        // Another head would give no more than the pack does.
        let own = units[*role].map(|unit| &trials.question.kit[unit].unit).filter(|unit| unit.head.is_none());
        let lack = missing.iter().find(|lack| lack.role == lights[*role].role)?;
        let (unit, to) = match own {
            Some(own) => like(own, lack.shortfall_stops.get())?,
            None => with_guide(&lights[*role].role, lack.guide_number_m?),
        };
        let by_stops = own.map(|_| lack.shortfall_stops);
        done.0.push(Change { subject: trials.subject(Some(*role)), by_stops, to });
        done.1.push(Edit::new(Part::Kit(None), NewValue::AddUnit(Box::new(unit))));
    }
    let (changes, edits) = done;
    // What it lacks is what has to be borrowed.
    let stops = missing.iter().map(|lack| lack.shortfall_stops.get()).fold(0.0, f64::max);
    trials.remedy(stops, missed.first().copied().filter(|_| missed.len() == 1), changes, edits)
}

/// A unit like this one, stronger by so many stops.
fn like(own: &Unit, stops: f64) -> Option<(Unit, To)> {
    let unit = own.stronger(stops, own.energy.is_none())?;
    let to = match (unit.energy, unit.guide_number) {
        (Some(energy), _) => To::Energy { energy, like: own.name.clone(), replaces: false },
        (None, guide) => To::Guide { guide: guide?, replaces: false },
    };
    Some((unit, to))
}

/// Any unit of at least this guide number, rounded up to two digits.
fn with_guide(role: &str, guide: GuideMetres) -> (Unit, To) {
    let unit = 10_f64.powi(guide.get().log10().floor() as i32 - 1);
    let guide = GuideMetres::new_unchecked((guide.get() / unit - 1e-9).ceil() * unit);
    let unit = Unit { name: Some(role.to_owned()), guide_number: Some(guide), ..Unit::unknown() };
    (unit, To::Guide { guide, replaces: false })
}
