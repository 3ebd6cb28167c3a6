//! What would make a set feasible: for each kind of change the smallest that does, solved again.

use std::{
    sync::atomic::AtomicBool,
    time::{Duration, Instant},
};

use super::{
    Question,
    clock::Budget,
    problem::Problem,
    search::{Found, Prefer, search},
    setup::{Prepared, Set},
};
use crate::light::{
    bounds, camera,
    dialled::{Dialled, stops_said},
    kind::Kind,
    marks::Step,
    quantity::{Metres, Number, Stops, significant},
    remark::{By, Remedy},
    set::Known,
};

/// Time for all remedies together.
const TIME: Duration = Duration::from_millis(200);
/// Nodes of one trial: the same request tries the same.
const NODES: u64 = 4000;
/// How far exposure is changed, stops.
const MOST_STOPS: i32 = 8;
/// Most remedies told.
const MOST: usize = 8;

/// Tries changed problems.
struct Trials<'q> {
    question: &'q Question,
    deadline: Instant,
    stop: Option<&'q AtomicBool>,
}

impl Trials<'_> {
    fn works(&self, problem: &Problem) -> bool {
        let budget = Budget { nodes: NODES, deadline: Some(self.deadline), stop: self.stop };
        let found = search(problem, Prefer::Accuracy, budget);
        problem.worst_error_stops(&found.choice) <= self.question.tolerance.get() + 1e-9
    }
}

/// The remedies, best first: those of the camera, then of one light, then of the wish.
pub fn find(
    question: &Question,
    prepared: &Prepared,
    found: &Found,
    stop: Option<&AtomicBool>,
) -> Vec<Remedy> {
    let trials = Trials { question, deadline: Instant::now() + TIME, stop };
    let mut remedies = exposure(&trials, prepared);
    remedies.extend(exposure_time(&trials, prepared));
    for light in 0..question.set.scene.lamps.len() {
        let last = prepared.settings[light].len() - 1;
        if found.choice[light] == 0 {
            remedies.extend(distance(&trials, prepared, light, true));
            remedies.extend(pops(&trials, prepared, light));
        } else if found.choice[light] == last {
            remedies.extend(distance(&trials, prepared, light, false));
        }
    }
    remedies.extend(ratio(&trials, prepared));
    remedies.truncate(MOST);
    remedies
}

/// The smallest change of exposure, darker or brighter: aperture, ISO speed, neutral density.
fn exposure(trials: &Trials<'_>, prepared: &Prepared) -> Vec<Remedy> {
    let set = &trials.question.set;
    let works = |&stops: &f64| {
        let mut problem = prepared.problem.clone();
        // Opening the lens, all points need less light, ambient included.
        problem.points.iter_mut().for_each(|point| point.target *= (-stops).exp2());
        trials.works(&problem)
    };
    let Some(stops) = changes(set.step).find(works) else {
        return Vec::new();
    };
    camera::remedies(stops, set.scene.exposure, &set.limits, set.step, ", and set the lights anew")
}

/// Shorter or longer, where ambient light is what spoils it: flash does not depend on the time.
fn exposure_time(trials: &Trials<'_>, prepared: &Prepared) -> Option<Remedy> {
    let set = &trials.question.set;
    let time = set.scene.exposure_time?;
    if set.scene.ambient.is_empty() {
        return None;
    }
    let stops = changes(set.step).find(|stops| {
        let mut problem = prepared.problem.clone();
        problem.points.iter_mut().for_each(|point| point.ambient *= stops.exp2());
        bounds::EXPOSURE_TIME.check(time.get() * stops.exp2()).is_ok() && trials.works(&problem)
    })?;
    let mark = Dialled::new(Kind::ExposureTime, time.get() * stops.exp2(), set.step).said();
    let (change, beware) = if stops < 0.0 {
        ("Shorten", "no shorter than the camera's flash sync time")
    } else {
        ("Lengthen", "mind blur by ambient light")
    };
    Some(Remedy {
        change: "exposure_time",
        by: By::Stops(Stops::computed(stops)),
        detail: format!(
            "{change} the exposure time {}, to {mark}, and set the lights anew; {beware}. Only ambient light changes.",
            stops_said(stops)
        ),
    })
}

/// Changes of a camera's control, the smallest first, brighter before darker.
fn changes(step: Step) -> impl Iterator<Item = f64> {
    let per_stop = step.per_stop();
    (1..=MOST_STOPS * per_stop).flat_map(|k| [k, -k]).map(move |k| f64::from(k) / f64::from(per_stop))
}

/// One light nearer (or farther) by the least factor that does, in steps of a sixth of a stop.
fn distance(trials: &Trials<'_>, prepared: &Prepared, light: usize, nearer: bool) -> Option<Remedy> {
    let set = &trials.question.set;
    let lamp = &set.scene.lamps[light];
    let placements: Vec<_> = prepared.lit.placements.iter().filter(|(_, lamp, _)| *lamp == light).collect();
    let metered = set
        .scene
        .contributions
        .iter()
        .any(|c| c.light == lamp.name && matches!(c.known, Known::Reading { .. }));
    // A reading does not say how far the light was.
    let first = placements.first().filter(|_| !metered)?;
    let sign = if nearer { -1.0 } else { 1.0 };
    let factor = (1..=24).map(|k| (sign * f64::from(k) / 12.0).exp2()).find(|factor| {
        let mut problem = prepared.problem.clone();
        placements.iter().all(|(spot, _, placement)| {
            let mut moved = placement.clone();
            moved.distance = Metres::computed(placement.distance.get() * factor);
            if let Some(light_there) = moved.light(&lamp.unit, set.scene.exposure.iso) {
                problem.points[*spot].gain[light] = light_there.typical;
            }
            set.limits.takes_distance(moved.distance.get())
        }) && trials.works(&problem)
    })?;
    let from = first.2.distance.get();
    let to = from * factor;
    let name = &lamp.name;
    let others = if placements.len() > 1 { " (its other distances in proportion)" } else { "" };
    Some(Remedy {
        change: "distance",
        by: By::DistanceM(Metres::computed(to)),
        detail: format!(
            "Move \"{name}\" from {} m to {to:.2} m{others} and set the lights anew.",
            significant(from)
        ),
    })
}

/// One light with more flashes in one exposure.
fn pops(trials: &Trials<'_>, prepared: &Prepared, light: usize) -> Option<Remedy> {
    let set: &Set = &trials.question.set;
    let pops = (2..=set.limits.max_pops.min(16)).find(|&pops| {
        let mut problem = prepared.problem.clone();
        problem.points.iter_mut().for_each(|point| point.gain[light] *= f64::from(pops));
        trials.works(&problem)
    })?;
    let name = &set.scene.lamps[light].name;
    Some(Remedy {
        change: "pops",
        by: By::Pops(pops),
        detail: format!(
            "Fire \"{name}\" {pops} times in one exposure, the others once, and set the lights anew."
        ),
    })
}

/// The nearest ratio that can be had, in steps of a quarter.
fn ratio(trials: &Trials<'_>, prepared: &Prepared) -> Option<Remedy> {
    let ratio = trials.question.ratio?;
    let sides = ratio.sides();
    let steps = (1..=64).flat_map(|k| [-f64::from(k) / 4.0, f64::from(k) / 4.0]);
    let least = 1.0;
    let wanted = steps.map(|step| sides + step).filter(|&wanted| wanted >= least).find(|wanted| {
        let mut problem = prepared.problem.clone();
        problem.points[1].target = problem.points[0].target / wanted;
        trials.works(&problem)
    })?;
    let told = wanted - (sides - ratio.value);
    Some(Remedy {
        change: "ratio",
        by: By::Ratio(Number::computed(told)),
        detail: format!("Ask for {}:1 counted by {}.", significant(told), ratio.counting.text()),
    })
}
