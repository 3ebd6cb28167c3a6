//! Remedies: changes that would make a set feasible. For each kind of change, the one that comes nearest to the targets
//! without being much greater than needed. Each is tried by balancing the changed set.

mod camera;
mod distance;
mod light;

use crate::light::{
    balance::{
        BalanceQuestion,
        problem::Problem,
        setup::{Prepared, prepare},
        solution::Solution,
        work::{Work, may_reach},
    },
    error::{Field, Part},
    quantity::{Stops, bounds},
    remedy::{self, Afterwards, Change, Edit, NewValue, Remedy, Sized, Subject, Then, To},
    set::ratio::LightingRatio,
};

/// Tries changes of a set.
struct Trials<'q> {
    question: &'q BalanceQuestion,
    prepared: &'q Prepared,
    work: &'q Work<'q>,
}

impl Trials<'_> {
    /// The worst error of the answer to the changed set, if it is feasible and was found to the end.
    fn answer(&self, edits: &[Edit]) -> Option<f64> {
        if !self.work.has_budget() {
            return None;
        }
        self.work.spend_trial();
        let prepared = prepare(&self.question.scene.with(edits)).ok()?;
        if !prepared.is_ratio_possible {
            return None;
        }
        self.work.answer(&prepared.problem, self.question.prefer, self.question.tolerance.get())
    }

    /// Whether the set may be feasible after a change of its problem: a quick check before it is tried.
    fn may_be_feasible(&self, change: impl FnOnce(&mut Problem)) -> bool {
        let mut problem = self.prepared.problem.clone();
        change(&mut problem);
        may_reach(&problem, self.question.tolerance.get())
    }

    /// Whether two lights have one setting.
    fn are_together(&self, light: usize, other: usize) -> bool {
        self.prepared.variables[light] == self.prepared.variables[other]
    }

    /// Whether no light before this one has the same setting: what changes it is tried once.
    fn is_first(&self, light: usize) -> bool {
        self.prepared.together(light).next() == Some(light)
    }

    /// The edits of a field of all lights that are set together with one.
    fn edit_together(&self, light: usize, field: Field, value: &NewValue) -> Vec<Edit> {
        let lights = self.prepared.together(light);
        lights.map(|light| Edit::new(Part::Light(light, Some(field)), value.clone())).collect()
    }

    /// Gives a light another gain at each point: `gain` has it by the index of the point and the present gain. Other heads
    /// on its pack keep theirs.
    fn regain(&self, problem: &mut Problem, light: usize, gain: impl Fn(usize, f64) -> f64) {
        let variable = self.prepared.variables[light];
        let own = |of: usize, point: usize| self.prepared.lit.gain[point][of].typical;
        for (index, point) in problem.metered_mut().enumerate() {
            let others = self.prepared.together(light).filter(|other| *other != light);
            let others: f64 = others.map(|other| own(other, index)).sum();
            point.gain[variable] = others + gain(index, own(light, index));
        }
    }

    /// A remedy with these changes, which leaves this error. `light` is the light that it changes.
    fn remedy(&self, stops: f64, light: Option<usize>, done: (Vec<Change>, Vec<Edit>), error: f64) -> Sized {
        let (changes, edits) = done;
        // A light that is held anew is not set again.
        let held = changes.iter().any(|change| matches!(change.to, To::Setting { .. } | To::Off));
        let lights = self.question.scene.lights.iter().enumerate();
        let is_held = |other: usize| held && light.is_some_and(|light| self.are_together(light, other));
        let mut open = lights.filter(|(index, it)| it.control.is_open() && !is_held(*index));
        let remedy = Remedy {
            changes,
            afterwards: if open.next().is_some() { Afterwards::Lights } else { Afterwards::Nothing },
            patch: edits.into(),
            then: Then::WorstError(Stops::new_unchecked(error)),
        };
        Sized { remedy, stops: stops.abs(), light }
    }
}

/// Finds the remedies, the smallest change first.
pub fn find(
    question: &BalanceQuestion,
    prepared: &Prepared,
    found: &Solution,
    work: &Work<'_>,
) -> Vec<Remedy> {
    let trials = Trials { question, prepared, work };
    // Work may run out, so the likeliest obstacles come first: held lights, camera and ratio, then lights at an end of
    // their range.
    let lights = 0..question.scene.lights.len();
    let firsts = lights.clone().filter(|light| trials.is_first(*light));
    let mut remedies: Vec<Sized> = firsts.filter_map(|light| light::setting(&trials, light)).collect();
    remedies.extend(camera::camera(&trials));
    remedies.extend(camera::exposure_time(&trials));
    remedies.extend(ratio(&trials));
    let is_at_end = |&light: &usize| {
        let variable = prepared.variables[light];
        let choice = found.choice[variable];
        choice == 0 || choice + 1 == prepared.settings[variable].len()
    };
    let (ends, others): (Vec<_>, Vec<_>) = lights.partition(is_at_end);
    for light in ends.into_iter().chain(others) {
        remedies.extend(distance::distance(&trials, light));
        remedies.extend(light::filter(&trials, light));
        if trials.is_first(light) {
            remedies.extend(light::pops(&trials, light));
        }
        remedies.extend(light::unit(&trials, light));
        if trials.is_first(light) {
            remedies.extend(light::off(&trials, light));
        }
    }
    let errors = prepared
        .problem
        .points
        .iter()
        .map(|point| point.error_stops(prepared.problem.achieved(&found.choice, point)));
    let worst = errors.max_by(|a, b| a.abs().total_cmp(&b.abs()));
    remedy::in_order(remedies, worst.is_some_and(|error| error > 0.0))
}

/// The nearest lighting ratio that is feasible, in steps of a quarter.
fn ratio(trials: &Trials<'_>) -> Option<Sized> {
    let LightingRatio { value, counting, .. } = trials.question.scene.ratio?;
    let others = (1..=64).flat_map(|k| [-f64::from(k) / 4.0, f64::from(k) / 4.0]).map(|step| value + step);
    let others = others.filter(|other| bounds::LIGHTING_RATIO.check(*other).is_ok());
    let edit = |ratio: f64| vec![Edit::new(Part::RatioValue, NewValue::Number(ratio))];
    let others = others.map(|other| ((other / value).log2(), other));
    let (stops, ratio, error) = remedy::nearest(others, |ratio| trials.answer(&edit(*ratio)))?;
    let to = To::Ratio { ratio, counting: counting.text() };
    let change = Change { subject: Subject::Whole, by_stops: None, to };
    Some(trials.remedy(stops, None, (vec![change], edit(ratio)), error))
}
