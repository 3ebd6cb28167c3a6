//! The words in the picture of a supply plan.

use crate::{
    light::{
        quantity::Number,
        supply::{Charges, CircuitLoad, Heat, Pace, ShotPace, Verdict},
        unit::Setting,
    },
    wording::format::{below_full, digits, distinct, number},
};

/// The title.
pub const TITLE: &str = "Power for the shoot";
/// The heading of the circuits.
pub const CIRCUITS: &str = "Circuits, shot by shot";
/// The horizontal axis.
pub const SHOTS: &str = "shots, in order";
/// The upright axis.
pub const CURRENT: &str = "current, A";
/// The meaning of the line of a circuit's rating.
pub const RATED: &str = "what the circuit may carry";
/// The meaning of the line of the load while units recycle.
pub const PEAK: &str = "while its units recycle";
/// The meaning of the range around it.
pub const DOUBT: &str = "may be as much";
/// The meaning of the line of the average load.
pub const MEAN: &str = "on average";
/// The meaning of what is beyond the rating.
pub const OVER: &str = "beyond what it may carry";
/// The meaning of the line of the load in the worst case.
pub const ALL_AT_ONCE: &str = "each unit at its most, all at once";
/// The heading of recycle times.
pub const PACE: &str = "Recycling, in the hardest shot";
/// Their axis.
pub const PACE_AXIS: &str = "recycle time, s";
/// Their limit.
pub const INTERVAL: &str = "time between flashes";
/// The heading of charges.
pub const CHARGES: &str = "Battery charges";
/// Their axis.
pub const CHARGES_AXIS: &str = "charges used";
/// Their limit.
pub const WHOLE_CHARGES: &str = "whole charges to have";
/// The heading of the heat of heads.
pub const HEAT: &str = "Heat of the heads";
/// Its axis.
pub const HEAT_AXIS: &str = "heat, % of the limit";
/// Its limit.
pub const DUTY: &str = "duty limit";
/// The meaning of a bar beyond its limit.
pub const BEYOND: &str = "too much";
/// The meaning of what is kept of charges.
pub const RESERVE: &str = "kept in reserve";

/// A shot's name, or what stands for it where no shots are asked about.
pub fn shot(name: &str) -> &str {
    if name.is_empty() { "all on at once" } else { name }
}

/// How fast a shot can go.
pub fn fastest(shot: &ShotPace) -> String {
    let shortest = shot.shortest_interval_s.map_or(0.0, Number::get);
    format!("wait {} s a frame", number(shortest))
}

/// The settings with which units keep up.
pub fn settings_that_hold<'s>(settings: impl Iterator<Item = (&'s str, &'s Setting)>) -> String {
    let all: Vec<String> =
        settings.take(4).map(|(unit, setting)| format!("{unit} to {}", below_full(&setting.label))).collect();
    if all.is_empty() { String::new() } else { format!("Or set {} to keep up.", all.join(", ")) }
}

/// The heat of a head.
pub fn heat(heat: &Heat) -> String {
    let [most, limit] = distinct(heat.most_full_flashes.get(), heat.duty_flashes.get());
    format!("{most} full flashes in {} s; limit {limit}", number(heat.in_s.get()))
}

/// The interval at which a head stays within its limit.
pub fn cooler(heat: &Heat) -> String {
    let interval = heat.interval_within_duty_s.map(Number::get);
    interval.map_or_else(String::new, |interval| {
        format!("A flash every {} s keeps it within the limit.", digits(interval, 3))
    })
}

/// The greatest load of a circuit.
pub fn load(circuit: &CircuitLoad) -> String {
    let rated = circuit.breaker_a.get();
    match circuit.charging_a.map(|load| load.high.get()) {
        Some(most) => {
            let [most, rated] = distinct(most, rated);
            format!("up to {most} A of {rated} A")
        }
        None => format!("not known, of {} A", number(rated)),
    }
}

/// Whether a circuit carries its load.
pub fn verdict(circuit: &CircuitLoad) -> String {
    match circuit.verdict {
        Verdict::Within => "It carries its load.",
        Verdict::Unsure => {
            "It may be overloaded: move units to another circuit, or let them recycle in turn."
        }
        Verdict::Over => "It is overloaded: move units to another circuit, or let them recycle in turn.",
        Verdict::Unknown => "Whether it carries its load is not known.",
    }
    .to_owned()
}

/// A circuit with its greatest load.
pub fn circuit(circuit: &CircuitLoad) -> String {
    format!("{}: {}", circuit.name, load(circuit))
}

/// What a circuit may carry.
pub fn may_carry(amperes: f64) -> String {
    format!("{} A", number(amperes))
}

/// The circuits that are not drawn.
pub fn more_circuits(circuits: usize, bad: usize) -> Option<String> {
    let plural = if circuits == 1 { "circuit" } else { "circuits" };
    let rest = match bad {
        0 if circuits == 1 => "which carries its load".to_owned(),
        0 => "which all carry their load".to_owned(),
        bad => format!("{bad} of them overloaded or in doubt"),
    };
    (circuits > 0).then(|| format!("And {circuits} more {plural}, {rest}."))
}

/// The charges to have.
pub fn needed(charges: &Charges) -> String {
    match charges.needed {
        1 => "1 charge".to_owned(),
        needed => format!("{needed} charges"),
    }
}

/// The charges used and kept.
pub fn charges(charges: &Charges) -> String {
    let reserve = number(charges.reserve.get() * 100.0);
    format!("{}: {} used, {reserve} % of each kept", needed(charges), digits(charges.used.get(), 3))
}

/// A recycle time against the interval.
pub fn pace(pace: &Pace) -> String {
    let [recycle, interval] = if pace.holds {
        [pace.recycle_s, pace.interval_s].map(number)
    } else {
        distinct(pace.recycle_s, pace.interval_s)
    };
    format!("{recycle} s, a flash every {interval} s in {}", shot(&pace.shot))
}

/// A name with what there is to say of it.
pub fn row(name: &str, text: &str) -> String {
    format!("{name}: {text}.")
}

/// Recycle times that are not drawn.
pub const IN_TIME: &str = "in time";
/// Batteries that are not drawn.
pub const NO_MORE: &str = "with no more charges each";
/// Heads that are not drawn.
pub const WITHIN: &str = "within the limit";

/// The rows that are not drawn, and what is said of them if none is over its limit.
pub fn more_rows(rows: usize, over: usize, fine: &str) -> Option<String> {
    let rest = match over {
        0 => fine.to_owned(),
        over => format!("{over} of them beyond the limit"),
    };
    (rows > 0).then(|| format!("And {rows} more, {rest}."))
}

/// The description for screen readers.
pub fn description(summary: &str, rest: &str) -> String {
    if rest.is_empty() { summary.to_owned() } else { format!("{summary} {rest}.") }
}
