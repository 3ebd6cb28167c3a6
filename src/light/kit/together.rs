//! Heads of one pack that serve roles together in one shot: what they are set to, and how well each then fits.
//!
//! Heads that share a setting have the one that reaches most of them, then leaves the least worst error. Heads that are set
//! apart have their own, unless they want more together than the pack has: then all are lowered as little as will do, so that
//! the worst of them lacks least (our choice).

use crate::light::{
    kit::{
        fit::{END_TOLERANCE, Fit, SAME, fit},
        question::KitUnit,
    },
    quantity::{Stops, constants::CONTINUOUS_HALF_CLICK},
    set::packs::ROUNDING,
    unit::{
        pack::{Pack, Split},
        scale::Scale,
    },
};

/// The fits of heads that are used together, each with its headroom at the full setting. `None` if the pack cannot feed them
/// even at their least settings.
pub fn settle(pack: &Pack, heads: &[(&KitUnit, f64)]) -> Option<Vec<Fit>> {
    let headrooms: Vec<f64> = heads.iter().map(|(_, headroom)| *headroom).collect();
    let Split::Each { most } = pack.split else {
        let below = common(&pack.scale, &headrooms);
        return Some(headrooms.iter().map(|&headroom| fit_at(&pack.scale, headroom, below)).collect());
    };
    let limit = pack.energy.get() * (1.0 + ROUNDING);
    let energy = |settings: &[f64]| settings.iter().map(|below| most.get() * (-below).exp2()).sum::<f64>();
    let own: Vec<Fit> = heads.iter().map(|(kit, headroom)| fit(kit, *headroom)).collect();
    let wanted: Vec<f64> = own.iter().map(|fit| fit.below.get()).collect();
    if energy(&wanted) <= limit {
        return Some(own);
    }
    let lowered = lowered(&pack.scale, &headrooms, &wanted, |settings| energy(settings) <= limit)?;
    let fits = headrooms.iter().zip(lowered);
    Some(fits.map(|(&headroom, below)| fit_at(&pack.scale, headroom, below)).collect())
}

/// The fit of a head at a setting that is not its own to choose.
fn fit_at(scale: &Scale, headroom: f64, below: f64) -> Fit {
    let error = headroom - below;
    let below = Stops::new_unchecked(below);
    // Clicks do not matter where a head cannot be set by itself.
    let tolerance = scale.half_click_of(below, |below| below).get().max(END_TOLERANCE);
    Fit {
        below,
        error,
        headroom,
        footroom: scale.range().get() - headroom,
        reached: error.abs() <= tolerance + SAME,
    }
}

/// The greatest tolerance of [`fit_at`] at any setting, stops.
pub fn greatest_tolerance(scale: &Scale) -> f64 {
    let clicks = scale.settings().windows(2).map(|pair| pair[1] - pair[0]);
    (clicks.fold(0.0, f64::max) / 2.0).max(CONTINUOUS_HALF_CLICK).max(END_TOLERANCE)
}

/// The common setting of heads: the most that are reached, then the least worst error of those that are not, then of all.
/// Ties go to the lower power.
fn common(scale: &Scale, headrooms: &[f64]) -> f64 {
    let rank = |below: &f64| {
        let fits = || headrooms.iter().map(|&headroom| fit_at(scale, headroom, *below));
        let worst =
            |of: fn(&Fit) -> f64| (fits().map(|fit| of(&fit).abs()).fold(0.0, f64::max) / SAME).round();
        (fits().filter(|fit| !fit.reached).count(), worst(Fit::missed_by), worst(|fit| fit.error))
    };
    let mut settings = candidates(scale, headrooms);
    settings.sort_by(|a, b| b.total_cmp(a));
    let ranked = settings.into_iter().map(|below| (rank(&below), below));
    let best =
        ranked.min_by(|(a, _), (b, _)| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2)));
    best.map_or(0.0, |(_, below)| below)
}

/// The settings that may be the best: those between the ones that two of the heads would have. On a continuous scale, where
/// heads are met, half-way between two, and where one is just reached.
fn candidates(scale: &Scale, headrooms: &[f64]) -> Vec<f64> {
    let range = scale.range().get();
    let nearest = |below: f64| scale.nearest(Stops::new_unchecked(below)).get();
    let ends = || headrooms.iter().map(|&headroom| nearest(headroom));
    let (least, most) = (ends().fold(range, f64::min), ends().fold(0.0, f64::max));
    if !scale.is_continuous() {
        let between = scale.settings().iter().copied();
        return between.filter(|below| (least - SAME..=most + SAME).contains(below)).collect();
    }
    let halfway = headrooms.iter().flat_map(|a| headrooms.iter().map(move |b| f64::midpoint(*a, *b)));
    let edges = headrooms.iter().flat_map(|&a| [a - END_TOLERANCE, a + END_TOLERANCE]);
    halfway.chain(edges).map(nearest).collect()
}

/// Settings that are as little lower than those `wanted` as will do, so that the worst lack is least. `None` if nothing will.
fn lowered(
    scale: &Scale,
    headrooms: &[f64],
    wanted: &[f64],
    will_do: impl Fn(&[f64]) -> bool,
) -> Option<Vec<f64>> {
    let range = scale.range().get();
    if !will_do(&vec![range; wanted.len()]) {
        return None;
    }
    // The lowest setting that lacks no more than this.
    let lowest = |below: f64| match scale.settings() {
        [] => below.clamp(0.0, range),
        settings => {
            let after = settings.partition_point(|setting| *setting <= below + SAME);
            settings[after.saturating_sub(1)]
        }
    };
    let lacking = |lack: f64| -> Vec<f64> {
        let pairs = headrooms.iter().zip(wanted);
        pairs.map(|(headroom, wanted)| lowest(headroom + lack).max(*wanted)).collect()
    };
    let most = headrooms.iter().map(|headroom| range - headroom).fold(0.0, f64::max);
    let (mut low, mut high) = (0.0, most);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if will_do(&lacking(middle)) {
            high = middle;
        } else {
            low = middle;
        }
    }
    let mut settings = lacking(high);
    // What is left brightens those that lack most, click by click.
    while let Some(brighter) = brighter(scale, headrooms, wanted, &settings, &will_do) {
        settings = brighter;
    }
    Some(settings)
}

/// The same settings with one a click brighter, of the head that lacks most of those that can be.
fn brighter(
    scale: &Scale,
    headrooms: &[f64],
    wanted: &[f64],
    settings: &[f64],
    will_do: impl Fn(&[f64]) -> bool,
) -> Option<Vec<f64>> {
    let mut heads: Vec<usize> = (0..settings.len()).collect();
    heads.sort_by(|&a, &b| (headrooms[a] - settings[a]).total_cmp(&(headrooms[b] - settings[b])));
    heads.into_iter().find_map(|head| {
        let before = scale.settings().partition_point(|setting| *setting < settings[head] - SAME);
        let setting = *scale.settings().get(before.checked_sub(1)?)?;
        let mut changed = settings.to_vec();
        changed[head] = setting;
        (setting >= wanted[head] - SAME && will_do(&changed)).then_some(changed)
    })
}

#[cfg(test)]
mod tests;
