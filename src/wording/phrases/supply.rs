//! The sentences of a supply plan.

use crate::{
    light::supply::summary::{Point, Summary},
    wording::format::distinct,
};

/// The summary for a booking page.
pub fn supply_summary(Summary(points): &Summary) -> String {
    let last = "Local code and a licensed electrician decide what a circuit may carry.".to_owned();
    points.iter().map(point).chain([last]).collect::<Vec<_>>().join(" ")
}

fn point(point: &Point) -> String {
    match point {
        Point::TooFast { shot, unit, recycle_s, between_s, shots } => {
            let [recycle, between] = distinct(*recycle_s, *between_s);
            let all = match shots {
                1 => String::new(),
                many => format!(" {many} shots are too fast for their units."),
            };
            format!("In \"{shot}\" {unit} recycles in {recycle} s, not within {between} s.{all}")
        }
        Point::InTime => "Every unit recycles in time.".to_owned(),
        Point::OverDuty { unit, full_flashes, in_s, limit_flashes } => {
            let [most, limit] = distinct(*full_flashes, *limit_flashes);
            format!("The head of {unit} gets {most} full flashes in {in_s} s; its limit is {limit}.")
        }
        Point::Overloaded { circuit, charging_a: None, .. } => {
            format!("Circuit \"{circuit}\" is overloaded, though not all that it draws is known.")
        }
        Point::Overloaded { circuit, charging_a: Some(charging_a), breaker_a } => {
            let [most, breaker] = distinct(*charging_a, *breaker_a);
            format!(
                "Circuit \"{circuit}\" is overloaded while its units recycle: up to {most} A, and its breaker is for {breaker} A."
            )
        }
        Point::MayOverload { circuit, charging_a, breaker_a } => {
            let [most, breaker] = distinct(*charging_a, *breaker_a);
            format!(
                "With all its units recycling at once, circuit \"{circuit}\" may draw up to {most} A; its breaker is for {breaker} A."
            )
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
