//! What would make a set feasible: for each kind of change the smallest that does, and for a fixed light what the
//! balance would make of it; each solved again.

use std::time::{Duration, Instant};

use super::{
    HeldBack, Question,
    clock::Budget,
    problem::Problem,
    ratio::LightingRatio,
    search::{Found, Prefer, reaches, search},
    setup::{Control, Prepared, Set, Target, levels, settings},
};
use crate::light::{
    bounds, camera,
    interrupt::Interrupt,
    kind::Kind,
    quantity::{Metres, Number, Stops, significant},
    remark::{By, Change, Remedy},
    set::{AmbientAmount, Known},
};

/// Most time for remedies, and for what holds the result back: no more than the search may take.
const TIME: Duration = Duration::from_millis(200);

/// When to end with remedies that begin now.
pub fn deadline(question: &Question) -> Instant {
    Instant::now() + question.time_limit.min(TIME)
}

/// Nodes of one trial: the same request tries the same.
const NODES: u64 = 4000;
/// A gain that is worth a word, stops.
const NOTICED: f64 = 0.02;
/// Most remedies told.
const MOST: usize = 8;

/// A remedy with the size of its change, stops.
type Remedied = (f64, Remedy);

/// Tries changed problems.
struct Trials<'q> {
    question: &'q Question,
    deadline: Instant,
    interrupt: &'q dyn Interrupt,
}

impl<'q> Trials<'q> {
    /// What a trial may take.
    fn budget(&self) -> Budget<'q> {
        Budget { nodes: NODES, deadline: Some(self.deadline), interrupt: self.interrupt }
    }

    /// What is to be done after a change, where one of the lights may be turned, `but` one left aside.
    fn anew(&self, but: Option<usize>) -> &'static str {
        let mut controls = self.question.set.controls.iter().enumerate();
        let is_open = controls.any(|(light, control)| Some(light) != but && control.is_open());
        if is_open { ", and set the lights anew" } else { "" }
    }

    /// A changed problem with what its ratio wants; none where no lights make that, or no time is left.
    fn aimed(&self, ratio: Option<LightingRatio>, mut problem: Problem) -> Option<Problem> {
        // What the shadow side wants follows the lit side, the ambient light and who reaches where.
        let is_possible = ratio.is_none_or(|ratio| ratio.aim(&mut problem));
        (is_possible && Instant::now() < self.deadline).then_some(problem)
    }

    /// Whether a changed problem is feasible with the ratio that is asked for.
    fn works(&self, problem: Problem) -> bool {
        self.works_with(self.question.ratio, problem)
    }

    fn works_with(&self, ratio: Option<LightingRatio>, problem: Problem) -> bool {
        let Some(problem) = self.aimed(ratio, problem) else {
            return false;
        };
        if problem.has_even_weights() || matches!(self.question.prefer, Prefer::LeastEnergy { .. }) {
            return reaches(&problem, self.question.tolerance.get(), self.budget());
        }
        // With weights the best answer may pass by one within the tolerance.
        let found = search(&problem, Prefer::Accuracy, self.budget());
        self.question.tolerates(problem.worst_error_stops(&found.choice))
    }
}

/// The remedies, the smallest change first.
pub fn find(
    question: &Question,
    prepared: &Prepared,
    found: &Found,
    deadline: Instant,
    interrupt: &dyn Interrupt,
) -> Vec<Remedy> {
    let trials = Trials { question, deadline, interrupt };
    // What is likeliest to be in the way comes first, for time may run out: lights that are fixed, and lights at an end
    // of their range.
    let lights = 0..question.set.scene.lamps.len();
    let mut remedies: Vec<Remedied> =
        lights.clone().filter_map(|light| power(&trials, prepared, light)).collect();
    remedies.extend(exposure(&trials, prepared));
    remedies.extend(exposure_time(&trials, prepared));
    remedies.extend(ratio(&trials, prepared));
    let is_at_end = |&light: &usize| {
        let choice = found.choice[light];
        choice == 0 || choice + 1 == prepared.settings[light].len()
    };
    let (ends, others): (Vec<_>, Vec<_>) = lights.partition(is_at_end);
    for light in ends.into_iter().chain(others) {
        remedies.extend(distance(&trials, prepared, light));
        remedies.extend(pops(&trials, prepared, light));
    }
    remedies.sort_by(|a, b| a.0.total_cmp(&b.0));
    remedies.truncate(MOST);
    remedies.into_iter().map(|(_, remedy)| remedy).collect()
}

/// Which lights' ranges hold the result back: with a stop more beyond the end, the worst error is less.
pub fn held_back(
    question: &Question,
    prepared: &Prepared,
    found: &Found,
    deadline: Instant,
    interrupt: &dyn Interrupt,
) -> HeldBack {
    let mut held = HeldBack::default();
    for (light, lamp) in question.set.scene.lamps.iter().enumerate() {
        let levels = &prepared.problem.lights[light];
        let last = levels.power.len() - 1;
        let fixed = question.set.controls[light].fixed.is_some();
        for (end, list) in [(0, &mut held.at_full), (last, &mut held.at_least)] {
            if found.choice[light] != end || fixed || levels.power[end] <= 0.0 || Instant::now() >= deadline {
                continue;
            }
            let mut problem = prepared.problem.clone();
            let beyond = if end == 0 { 2.0 } else { 0.5 };
            let (power, energy) = (levels.power[end], levels.energy_j[end]);
            let wider = &mut problem.lights[light];
            for (values, value) in [(&mut wider.power, power), (&mut wider.energy_j, energy)] {
                // In tenths of a stop, as many a control clicks.
                for tenth in 1..=10 {
                    let more = value * f64::powf(beyond, f64::from(tenth) / 10.0);
                    let at = if end == 0 { 0 } else { values.len() };
                    values.insert(at, more);
                }
            }
            let budget = Budget { nodes: NODES, deadline: Some(deadline), interrupt };
            if search(&problem, Prefer::Accuracy, budget).score.worst < found.score.worst - NOTICED {
                list.push(lamp.name.clone());
            }
        }
    }
    held
}

/// The smallest change of exposure, darker or brighter: aperture, ISO speed, neutral density.
fn exposure(trials: &Trials<'_>, prepared: &Prepared) -> Vec<Remedied> {
    let set = &trials.question.set;
    let works = |stops: f64| {
        let mut problem = prepared.problem.clone();
        // Opening the lens, all points need less light, ambient included.
        problem.points.iter_mut().for_each(|point| point.target *= (-stops).exp2());
        trials.works(problem)
    };
    let then = |_| trials.anew(None).to_owned();
    let reach = (camera::MOST_STOPS, set.step);
    let remedies = camera::remedies(set.scene.exposure, &set.limits, reach, &works, &then);
    let absolute = set.wishes.iter().any(|wish| matches!(wish.target, Target::FNumber(_)));
    let metered = set.scene.contributions.iter().any(|c| matches!(c.known, Known::Reading { .. }))
        || has_metered_ambient(set);
    let told = |mut remedy: Remedy| {
        if absolute {
            camera::mind_metered(&mut remedy);
        }
        if metered {
            camera::mind_readings(&mut remedy);
        }
        (remedy.by.in_stops().unwrap_or_default().abs(), remedy)
    };
    remedies.into_iter().map(told).collect()
}

/// What a change of the exposure time means for ambient light that was metered.
const AMBIENT_READINGS: &str = " Readings of ambient light hold for the exposure time at which they were taken: meter anew, or move them alike.";

/// Whether ambient light was metered, which holds for one exposure time and ISO speed.
fn has_metered_ambient(set: &Set) -> bool {
    set.scene.ambient.iter().any(|entry| matches!(entry.amount, AmbientAmount::FNumber(_)))
}

/// Shorter or longer, where ambient light is what spoils it: flash does not depend on the time.
fn exposure_time(trials: &Trials<'_>, prepared: &Prepared) -> Option<Remedied> {
    let set = &trials.question.set;
    let time = set.scene.exposure_time?;
    if set.scene.ambient.is_empty() {
        return None;
    }
    let works = |stops: f64| {
        let mut problem = prepared.problem.clone();
        problem.points.iter_mut().for_each(|point| point.ambient *= stops.exp2());
        trials.works(problem)
    };
    let marks = camera::marks(Kind::ExposureTime, time.get(), camera::MOST_STOPS, set.step);
    let mut marks = marks.into_iter().filter(|turn| bounds::EXPOSURE_TIME.check(turn.value).is_ok());
    let turn = marks.find(|turn| works(turn.stops))?;
    let stops = turn.stops;
    let (change, beware) = if stops < 0.0 {
        ("Shorten", "no shorter than the camera's flash sync time")
    } else {
        ("Lengthen", "mind blur by ambient light")
    };
    let remedy = Remedy {
        change: Change::ExposureTime,
        by: By::stops(Stops::computed(stops)),
        detail: format!(
            "{change} the exposure time {turn}{}; {beware}. Only ambient light changes.{}",
            trials.anew(None),
            if has_metered_ambient(set) { AMBIENT_READINGS } else { "" }
        ),
    };
    Some((stops.abs(), remedy))
}

/// One light nearer or farther by the least factor that does, in steps of a sixth of a stop.
fn distance(trials: &Trials<'_>, prepared: &Prepared, light: usize) -> Option<Remedied> {
    let set = &trials.question.set;
    let lamp = &set.scene.lamps[light];
    let own_pops = f64::from(set.controls[light].pops);
    let placements: Vec<_> = prepared.lit.placements.iter().filter(|(_, lamp, _)| *lamp == light).collect();
    let metered = set
        .scene
        .contributions
        .iter()
        .any(|c| c.light == lamp.name && matches!(c.known, Known::Reading { .. }));
    // A reading does not say how far the light was.
    let first = placements.first().filter(|_| !metered)?;
    let to = |from: Metres, factor: f64| set.units.moved(from, Metres::computed(from.get() * factor));
    let twelfths = (1..=24).flat_map(|k| [-k, k]);
    let factor = twelfths.map(|k| (f64::from(k) / 12.0).exp2()).find(|factor| {
        let mut problem = prepared.problem.clone();
        placements.iter().all(|(spot, _, placement)| {
            let mut moved = placement.clone();
            moved.distance = to(placement.distance, *factor);
            if let Some(light_there) = moved.light(&lamp.unit, set.scene.exposure.iso) {
                problem.points[*spot].gain[light] = light_there.typical * own_pops;
            }
            set.limits.takes_distance(moved.distance.get())
        }) && trials.works(problem)
    })?;
    let from = first.2.distance;
    let to = to(from, factor);
    let name = &lamp.name;
    let others =
        if placements.len() > 1 { " (from its first point; its other distances in proportion)" } else { "" };
    let remedy = Remedy {
        change: Change::Distance,
        by: By::distance(to, set.units),
        detail: format!(
            "Move \"{name}\" from {} to {}{others}{}.",
            set.units.said(from),
            set.units.said(to),
            trials.anew(None),
        ),
    };
    Some((2.0 * factor.log2().abs(), remedy))
}

/// One light with more flashes in one exposure.
fn pops(trials: &Trials<'_>, prepared: &Prepared, light: usize) -> Option<Remedied> {
    let set: &Set = &trials.question.set;
    let own = set.controls[light].pops;
    let unit = &set.scene.lamps[light].unit;
    let has_ambient = !set.scene.ambient.is_empty();
    // From the first flash to the last the shutter stays open, and the unit recycles at full power at the longest.
    let recycle = unit.feeding.recycle_s(Stops::ZERO);
    let open = |pops: u32| Some(recycle? * f64::from(pops - 1));
    let longer = |pops: u32| match (open(pops), set.scene.exposure_time) {
        (Some(open), Some(time)) => (open / time.get()).max(1.0),
        _ => 1.0,
    };
    let pops = (own + 1..=set.limits.max_pops.min(own.saturating_mul(16))).find(|&pops| {
        let mut problem = prepared.problem.clone();
        let more = f64::from(pops) / f64::from(own);
        for point in &mut problem.points {
            point.gain[light] *= more;
            point.ambient *= longer(pops);
        }
        trials.works(problem)
    })?;
    let is_longer = longer(pops) > 1.0;
    let told = match (has_ambient, open(pops)) {
        (false, _) => String::new(),
        (true, Some(open)) => format!(
            " At full power that takes {} s, in which ambient light gathers; it is reckoned with{}.{}",
            significant((open * 100.0).round() / 100.0),
            if is_longer { ": set the exposure time to that" } else { "" },
            if is_longer && has_metered_ambient(set) { AMBIENT_READINGS } else { "" }
        ),
        (true, None) => {
            " Ambient light gathers as long as the shutter is open for it: keep it out between the flashes."
                .to_owned()
        }
    };
    let name = &set.scene.lamps[light].name;
    let remedy = Remedy {
        change: Change::Pops,
        by: By::pops(pops),
        detail: format!("Fire \"{name}\" {pops} times in one exposure{}.{told}", trials.anew(None)),
    };
    // A longer exposure is a change as well.
    Some(((f64::from(pops) / f64::from(own)).log2() + longer(pops).log2(), remedy))
}

/// A light that is fixed, turned to what the balance chooses if it may.
fn power(trials: &Trials<'_>, prepared: &Prepared, light: usize) -> Option<Remedied> {
    let question = trials.question;
    let set = &question.set;
    let (lamp, control) = (&set.scene.lamps[light], set.controls[light]);
    let fixed = control.fixed?;
    // Where it may be off, that was tried already.
    let settings = settings(&lamp.unit, Control { fixed: None, may_be_off: false, ..control });
    let mut problem = prepared.problem.clone();
    problem.lights[light] = levels(&lamp.unit, &settings, control.pops);
    let problem = trials.aimed(question.ratio, problem)?;
    let found = search(&problem, question.prefer, trials.budget());
    if !question.tolerates(problem.worst_error_stops(&found.choice)) {
        return None;
    }
    let to = settings[found.choice[light]]?;
    let stops = lamp.unit.below(fixed) - lamp.unit.below(to);
    let remedy = Remedy {
        change: Change::Power,
        by: By::stops(Stops::computed(stops)),
        detail: format!(
            "Let \"{}\" be turned to {}{}; it is fixed at {}{}.",
            lamp.name,
            lamp.unit.scale.label(to),
            trials.anew(Some(light)),
            lamp.unit.scale.label(fixed),
            if control.may_be_off { " or off" } else { "" }
        ),
    };
    Some((stops.abs(), remedy))
}

/// The nearest ratio that can be had, in steps of a quarter.
fn ratio(trials: &Trials<'_>, prepared: &Prepared) -> Option<Remedied> {
    let ratio = trials.question.ratio?;
    let steps = (1..=64).flat_map(|k| [-f64::from(k) / 4.0, f64::from(k) / 4.0]);
    let others = steps.map(|step| LightingRatio { value: ratio.value + step, ..ratio });
    let mut others = others.filter(|other| bounds::LIGHTING_RATIO.check(other.value).is_ok());
    let other = others.find(|other| trials.works_with(Some(*other), prepared.problem.clone()))?;
    let remedy = Remedy {
        change: Change::Ratio,
        by: By::ratio(Number::computed(other.value)),
        detail: format!("Ask for {}:1 counted by {}.", significant(other.value), ratio.counting.text()),
    };
    Some(((other.value / ratio.value).log2().abs(), remedy))
}
