//! Remedy: more flashes in one exposure.

use crate::light::{
    balance::remedies::{SizedRemedy, Trials, exposure::has_metered_ambient},
    quantity::Stops,
    remedy::{Action, By, Change, Gathering, Remedy},
};

/// One light with more flashes in one exposure.
pub fn pops(trials: &Trials<'_>, light: usize) -> Option<SizedRemedy> {
    let set = &trials.question.set;
    let own = set.controls[light].pops;
    let unit = &set.scene.lights[light].unit;
    let has_ambient = !set.scene.ambient.is_empty();
    // The shutter stays open from the first flash to the last. Recycling takes longest at full power.
    let recycle = unit.feeding.recycle_s(Stops::ZERO);
    let open_s = |pops: u32| Some(recycle? * f64::from(pops - 1));
    let time_factor = |pops: u32| match (open_s(pops), set.scene.exposure_time) {
        (Some(open), Some(time)) => (open / time.get()).max(1.0),
        _ => 1.0,
    };
    let pops = (own + 1..=set.limits.max_pops.min(own.saturating_mul(16))).find(|&pops| {
        let more = f64::from(pops) / f64::from(own);
        trials.works(|problem| {
            for point in &mut problem.points {
                point.gain[light] *= more;
                point.ambient *= time_factor(pops);
            }
        })
    })?;
    let gathering = has_ambient.then(|| Gathering {
        open_s: open_s(pops),
        is_longer: time_factor(pops) > 1.0,
        is_metered: has_metered_ambient(set),
    });
    let light = set.scene.lights[light].name.clone();
    let remedy = Remedy {
        change: Change::Pops,
        by: By::pops(pops),
        action: Action::Fire { light, then: trials.then(None), gathering },
    };
    // A longer exposure counts as a change too.
    Some(((f64::from(pops) / f64::from(own)).log2() + time_factor(pops).log2(), remedy))
}
