//! What is said of a plan: whether units keep up, and a sentence for a booking page.

use super::{Missing, Question, ShotResult};
use crate::light::{
    quantity::{Stops, significant},
    remark::Remark,
    unit::keeps_up,
};

/// Whether units keep up: recycle times against the time between frames, charges against the frames.
pub fn supply(question: &Question, shots: &[ShotResult]) -> Vec<Remark> {
    let mut warnings = Vec::new();
    let mut used = vec![0.0; question.kit.len()];
    for (shot, result) in question.shots.iter().zip(shots) {
        for light in &result.lights {
            let index = question.kit.iter().position(|kit| light.unit.as_ref() == Some(&kit.name));
            let (Some(index), Some(setting)) = (index, &light.setting) else { continue };
            let (kit, fraction) = (&question.kit[index], setting.fraction.get());
            used[index] += f64::from(shot.pops) * fraction;
            let recycle = kit.unit.feeding.recycle_s(setting.stops_below_full);
            if let (Some(recycle), Some(between)) = (recycle, shot.seconds_between)
                && !keeps_up(recycle, between)
            {
                warnings.push(Remark::new(
                    "recycle_too_slow",
                    format!(
                        "In \"{}\" {} recycles in {recycle:.1} s, which is slower than a frame every {} s.",
                        shot.name,
                        kit.name,
                        significant(between)
                    ),
                ));
            }
        }
    }
    for (kit, used) in question.kit.iter().zip(used) {
        if let Some(charge) = kit.unit.feeding.pops_per_charge
            && used > charge
        {
            warnings.push(Remark::new(
                "charge_too_small",
                format!(
                    "{} needs {:.1} charges for its shots, with nothing in reserve.",
                    kit.name,
                    used / charge
                ),
            ));
        }
    }
    warnings
}

/// A sentence or two for a booking page; `supply` is what recycling or charges leave to say.
pub fn summary(shots: &[ShotResult], missing: &[Missing], supply: Option<&Remark>) -> String {
    let lead = lead(shots, missing);
    match supply {
        Some(remark) => format!("{lead} Mind: {}", remark.text),
        None => lead,
    }
}

fn lead(shots: &[ShotResult], missing: &[Missing]) -> String {
    let short = shots.iter().filter(|shot| !shot.feasible).count();
    let lights = || shots.iter().flat_map(|shot| shot.lights.iter().map(move |light| (shot, light)));
    if short == 0 {
        let tightest = lights()
            .filter_map(|(shot, light)| Some((light.headroom_stops?.get(), shot, light)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let spare = tightest.map_or_else(String::new, |(headroom, shot, light)| {
            let (role, shot) = (&light.role, &shot.name);
            if headroom < 0.05 {
                format!(" The tightest light, {role} in \"{shot}\", has nothing to spare.")
            } else {
                format!(" The tightest light, {role} in \"{shot}\", has {headroom:.1} stops to spare.")
            }
        });
        let all = if shots.len() == 1 { "The shot".to_owned() } else { format!("All {} shots", shots.len()) };
        return format!("{all} can be done with this kit.{spare}");
    }
    let lead = if shots.len() == 1 {
        "The shot cannot be done as asked.".to_owned()
    } else {
        format!("{short} of {} shots cannot be done as asked.", shots.len())
    };
    let lack = |missing: &Missing| missing.shortfall_stops.map_or(f64::INFINITY, Stops::get);
    let others = |count: usize| match count {
        0 => String::new(),
        1 => " One more light is lacking.".to_owned(),
        more => format!(" {more} more lights are lacking."),
    };
    if let Some(worst) = missing.iter().max_by(|a, b| lack(a).total_cmp(&lack(b))) {
        let Missing { shot, role, .. } = worst;
        let more = others(missing.len() - 1);
        let Some(short) = worst.shortfall_stops else {
            return format!("{lead} In \"{shot}\" no unit is left for {role}.{more}");
        };
        // One unit to borrow is no answer where more is lacking.
        let unit = worst.energy_j.filter(|_| missing.len() == 1);
        let unit = unit
            .map_or_else(String::new, |energy| format!("; a unit of {:.0} J would do", energy.get().ceil()));
        return format!(
            "{lead} In \"{shot}\" the light of {role} is {:.1} stops short{unit}.{more}",
            short.get()
        );
    }
    let strong = lights().filter_map(|(shot, light)| Some((light.shortfall_stops?.get(), shot, light)));
    let strong: Vec<_> = strong.collect();
    match strong.iter().max_by(|a, b| a.0.total_cmp(&b.0)) {
        None => lead,
        Some((much, shot, light)) => {
            let more = match strong.len() - 1 {
                0 => String::new(),
                1 => " One more light is too strong.".to_owned(),
                more => format!(" {more} more lights are too strong."),
            };
            format!(
                "{lead} In \"{}\" the light of {} is {much:.1} stops too strong at its least setting.{more}",
                shot.name, light.role
            )
        }
    }
}
