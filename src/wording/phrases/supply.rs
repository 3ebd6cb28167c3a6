//! The sentences of a supply plan.

use crate::{
    light::supply::summary::{Limit, Point, Summary},
    wording::format::{digits, distinct},
};

/// The summary for a booking page. Whose word counts is not said twice, if a caution says it.
pub fn supply_summary(Summary(points): &Summary, is_cautioned: bool) -> String {
    let last = "Local code and a licensed electrician decide what a circuit may carry.".to_owned();
    points.iter().map(point).chain((!is_cautioned).then_some(last)).collect::<Vec<_>>().join(" ")
}

/// What a circuit may carry, with its current as text.
fn rating(limit: &Limit, rated: &str) -> String {
    if limit.is_generator {
        format!("its generator gives {rated} A ({} VA)", digits(limit.volt_amperes, 3))
    } else {
        format!("its breaker is for {rated} A")
    }
}

fn point(point: &Point) -> String {
    match point {
        Point::TooFast { shot, unit, recycle_s, between_s, shots } => {
            let [recycle, between] = distinct(*recycle_s, *between_s);
            let all = match shots {
                1 => String::new(),
                many => format!(" {many} shots are too fast for their units."),
            };
            format!("In \"{shot}\" \"{unit}\" recycles in {recycle} s, not within {between} s.{all}")
        }
        Point::InTime => "Every unit recycles in time.".to_owned(),
        Point::OverDuty { unit, full_flashes, in_s, limit_flashes } => {
            let [most, limit] = distinct(*full_flashes, *limit_flashes);
            format!("The head of {unit} gets {most} full flashes in {in_s} s; its limit is {limit}.")
        }
        Point::Overloaded { circuit, charging_a: None, .. } => {
            format!("Circuit \"{circuit}\" is overloaded, though not all that it draws is known.")
        }
        Point::Overloaded { circuit, charging_a: Some(charging_a), limit, has_units } => {
            let [most, rated] = distinct(*charging_a, limit.amperes);
            let when = if *has_units { " while its units recycle" } else { "" };
            format!(
                "Circuit \"{circuit}\" is overloaded{when}: up to {most} A, and {}.",
                rating(limit, &rated)
            )
        }
        Point::MayOverload { circuit, charging_a, limit, has_units } => {
            let [most, rated] = distinct(*charging_a, limit.amperes);
            let when = if *has_units { "all its units recycling at once" } else { "all on at once" };
            format!("With {when}, circuit \"{circuit}\" may draw up to {most} A; {}.", rating(limit, &rated))
        }
        Point::Holds { circuit, charging_a, limit, left_a } => {
            let [volt_amperes, rated, most, left] =
                [limit.volt_amperes, limit.amperes, *charging_a, *left_a].map(|number| digits(number, 3));
            if *charging_a > 0.0 {
                format!(
                    "Circuit \"{circuit}\" carries its load: up to {most} A of {rated} A, so that {left} A are left."
                )
            } else {
                format!("Circuit \"{circuit}\" carries up to {rated} A ({volt_amperes} VA).")
            }
        }
        Point::Energy { circuit, energy_kwh } => {
            let [low, typical, high] =
                [energy_kwh.low, energy_kwh.typical, energy_kwh.high].map(|energy| digits(energy, 3));
            let range = if low == high { String::new() } else { format!(" ({low} to {high})") };
            format!("Circuit \"{circuit}\" draws {typical} kWh{range}.")
        }
        Point::LampUnknown { circuit } => format!(
            "Whether circuit \"{circuit}\" carries its load depends on modelling lamps whose power is not stated."
        ),
        Point::PeakUnknown { circuit } => {
            format!("What circuit \"{circuit}\" draws at the most is not known.")
        }
        Point::Charges { needed } => {
            let plural = if *needed == 1 { "charge" } else { "charges" };
            format!("Have {needed} {plural} for the battery units.")
        }
    }
}
