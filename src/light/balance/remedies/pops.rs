//! More flashes in one exposure.

use crate::light::{
    balance::remedies::{
        Remedied, Trials,
        exposure::{AMBIENT_READINGS, has_metered_ambient},
    },
    quantity::{Stops, significant},
    remark::{By, Change, Remedy},
};

/// One light with more flashes in one exposure.
pub fn pops(trials: &Trials<'_>, light: usize) -> Option<Remedied> {
    let set = &trials.question.set;
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
        let more = f64::from(pops) / f64::from(own);
        trials.works(|problem| {
            for point in &mut problem.points {
                point.gain[light] *= more;
                point.ambient *= longer(pops);
            }
        })
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
