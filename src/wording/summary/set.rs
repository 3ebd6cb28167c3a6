//! Summaries for sets of lights: balance, prediction, falloff, gels.

use crate::{
    light::{
        balance::{Balance, LightSetting, PointResult},
        quantity::{Feet, Metres, Mired},
        set::{
            falloff::Falloff,
            gel::{Gelled, Stack},
            predict::{PredictedPoint, Prediction},
        },
        uncertainty::Uncertainty,
    },
    wording::{
        format::{number, rounded_stops, signed_stops},
        phrases,
        summary::{Summary, unit::give_or_take},
    },
};

/// The most lights that are named.
const MAX_LIGHTS: usize = 4;

impl Summary for Balance {
    fn summary(&self) -> String {
        if !self.feasible {
            let missed = |point: &PointResult| point.shortfall_stops.get().max(point.excess_stops.get());
            let by_miss = |a: &&PointResult, b: &&PointResult| missed(a).total_cmp(&missed(b));
            let worst = self.points.iter().max_by(by_miss);
            let is_dark = |point: &PointResult| point.error_stops.get() < 0.0;
            // Where one point is too dark and another too bright, the targets contradict each other.
            let other = worst.and_then(|worst| {
                let others = self.points.iter().filter(|point| is_dark(point) != is_dark(worst));
                others.max_by(by_miss).filter(|point| missed(point) > 0.0)
            });
            let missed = worst.into_iter().chain(other).map(|point| {
                let side = if is_dark(point) { "too dark" } else { "too bright" };
                format!("\"{}\" is {} {side}", point.name, rounded_stops(missed(point)))
            });
            let missed: Vec<String> = missed.collect();
            let worst = format!(": {} at best", joined(&missed));
            let remedy = self.remedies.first().map(phrases::remedy);
            let remedy = remedy.map_or_else(String::new, |remedy| format!(" {remedy}"));
            return format!("The targets are out of reach{worst}.{remedy}");
        }
        let setting = |light: &LightSetting| match &light.setting {
            Some(setting) => format!("\"{}\" to {}", light.light, setting.label),
            None => format!("\"{}\" off", light.light),
        };
        let worst = match rounded_stops(self.worst_error_stops.get()) {
            nothing if nothing == rounded_stops(0.0) => "on its target".to_owned(),
            worst => format!("within {worst}"),
        };
        let settings: Vec<String> = self.settings.iter().take(MAX_LIGHTS).map(setting).collect();
        let more = match self.settings.len().saturating_sub(MAX_LIGHTS) {
            0 => String::new(),
            more => format!(" and {more} more as listed"),
        };
        let ends = |point: &&PointResult| point.uncertainty.as_ref().map_or(0.0, Uncertainty::longer_end);
        let least_sure = self.points.iter().max_by(|a, b| ends(a).total_cmp(&ends(b)));
        let estimated = least_sure.and_then(|point| point.uncertainty.as_ref());
        let estimated = estimated.map_or_else(String::new, give_or_take);
        format!("Set {}{more}; every point is {worst}{estimated}.", joined(&settings))
    }
}

/// `a`, `a and b`, `a, b and c`.
fn joined(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

impl Summary for Prediction {
    fn summary(&self) -> String {
        if let [point] = self.points.as_slice() {
            return format!("{}.", at_point(point));
        }
        let off = |point: &PredictedPoint| point.error_stops.map_or(f64::INFINITY, |error| error.get().abs());
        let worst = self.points.iter().max_by(|a, b| off(a).total_cmp(&off(b)));
        let Some(worst) = worst else { return "There is no point.".to_owned() };
        match worst.error_stops {
            None => format!("No light reaches \"{}\".", worst.name),
            Some(error) if error.get().abs() < 0.05 => {
                "Every point is within 0.05 stop of what is wanted.".to_owned()
            }
            Some(_) => format!("Of {} points the farthest off: {}.", self.points.len(), at_point(worst)),
        }
    }
}

fn at_point(point: &PredictedPoint) -> String {
    let reads = point.f_number.as_ref().and_then(|nominal| nominal.meter.clone());
    match (reads, point.error_stops) {
        (Some(reads), Some(error)) => {
            format!("\"{}\" reads {reads}, {} off", point.name, signed_stops(error.get()))
        }
        (_, Some(error)) => format!("\"{}\" is {} off", point.name, signed_stops(error.get())),
        (_, None) => format!("No light reaches \"{}\"", point.name),
    }
}

impl Summary for Falloff {
    fn summary(&self) -> String {
        // In feet, if they are asked for.
        let length = |metres: Metres, feet: Option<Feet>| match feet {
            Some(feet) => format!("{} ft", number(feet.get())),
            None => format!("{} m", number(metres.get())),
        };
        let rows = self.rows.first().zip(self.rows.last()).filter(|(first, last)| first != last);
        let rows = rows.map(|(first, last)| {
            format!(
                "From {} to {} the light changes by {}.",
                length(first.distance_m, first.distance_ft),
                length(last.distance_m, last.distance_ft),
                signed_stops(last.stops.get() - first.stops.get())
            )
        });
        let depth = self.depth.as_ref().map(|depth| {
            let falls = format!(
                "Over {} of depth it changes by {}",
                length(depth.depth_m, depth.depth_ft),
                signed_stops(depth.front_to_back_stops.get())
            );
            let within = rounded_stops(depth.within_stops.get());
            match depth.distance_for_evenness_m {
                Some(distance) if distance.get() > 0.0 => {
                    let distance = length(distance, depth.distance_for_evenness_ft);
                    format!("{falls}; for {within} place the light at least {distance} away.")
                }
                Some(_) => format!("{falls}, and is within {within} at every distance."),
                None => format!("{falls}; for {within} the light would have to be beyond 1 km."),
            }
        });
        let all: Vec<String> = rows.into_iter().chain(depth).collect();
        if all.is_empty() {
            format!("The light at {}.", length(self.reference_distance_m, self.reference_distance_ft))
        } else {
            all.join(" ")
        }
    }
}

impl Summary for Gelled {
    fn summary(&self) -> String {
        let effect = |stack: &Stack| {
            let error = stack.error_mired.map_or_else(String::new, |error| {
                format!(", {} mired off the wish", signed_number(error.get()))
            });
            format!(
                "{} mired{error}, and {} of light",
                signed_number(stack.shift_mired.get()),
                signed_stops(stack.loss_stops.get())
            )
        };
        let best = self.stack.as_ref().map(|stack| match stack.gels.as_slice() {
            [] => "No gel comes nearest to the wish.".to_owned(),
            gels => format!("Use {}: {}.", gels.join(" + "), effect(stack)),
        });
        let applied = self.applied.as_ref().map(|stack| match stack.gels.as_slice() {
            [] => "No gel is on the light.".to_owned(),
            gels => format!("{} give {}.", gels.join(" + "), effect(stack)),
        });
        let shift = || {
            let shift = self.shift_mired.map_or(0.0, Mired::get);
            format!("The light must be shifted by {} mired.", signed_number(shift))
        };
        let all: Vec<String> = best.into_iter().chain(applied).collect();
        if all.is_empty() { shift() } else { all.join(" ") }
    }
}

fn signed_number(value: f64) -> String {
    crate::wording::format::with_sign(number(value))
}
