//! The words in the picture of a comparison of kits.

use crate::{
    light::kit::RankedKit,
    wording::{
        format::{number, rounded_stops},
        phrases::kit_summary,
    },
};

/// The title.
pub const TITLE: &str = "Kits for these shots";
/// What the grid shows.
pub const GRID: &str = "Kits, the best first, by shots. Each cell has the worst light of the shot, in stops.";

/// How many shots a kit can do.
pub fn shots(kit: &RankedKit) -> String {
    match (kit.feasible_shots as usize, kit.shots.len()) {
        (1, 1) => "the shot".to_owned(),
        (able, all) if able == all => format!("all {all} shots"),
        (able, 1) => format!("{able} of 1 shot"),
        (able, all) => format!("{able} of {all} shots"),
    }
}

/// What there is to say of a kit: its price and its pace, and why it ranks as it does.
pub fn details(kit: &RankedKit, with_reason: bool) -> String {
    let price = kit.price.map(|price| format!("Price {}.", number(price.get())));
    let pace = (kit.keeps_pace == Some(false)).then(|| "Its units recycle too slowly.".to_owned());
    let reason = with_reason.then(|| kit_summary(&kit.reason));
    [price, pace, reason].into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// The shots that are not drawn.
pub fn more_shots(shots: usize) -> Option<String> {
    match shots {
        0 => None,
        1 => Some("And 1 more shot, in which these kits are more alike.".to_owned()),
        shots => Some(format!("And {shots} more shots, in which these kits are more alike.")),
    }
}

/// The kits that are not drawn.
pub fn more_kits(kits: usize, able: usize) -> Option<String> {
    let plural = if kits == 1 { "kit" } else { "kits" };
    let able = match able {
        0 if kits == 1 => "it cannot do all shots".to_owned(),
        0 => "none can do all shots".to_owned(),
        able if able == kits => "which can do all shots as well".to_owned(),
        able => format!("{able} can do all shots"),
    };
    (kits > 0).then(|| format!("And {kits} more {plural}: {able}."))
}

/// A kit in the description.
pub fn described(kit: &RankedKit) -> String {
    let stops = if kit.feasible {
        format!("{} to spare", rounded_stops(kit.tightest_headroom_stops.get()))
    } else {
        let worst = kit.worst_shortfall_stops.get().max(kit.worst_excess_stops.get());
        format!("up to {} off", rounded_stops(worst))
    };
    format!("{}: {}, {stops}", kit.name, shots(kit))
}

/// The description for screen readers.
pub fn description(summary: &str, kits: &str) -> String {
    format!("{summary} Kits, the best first: {kits}.")
}
