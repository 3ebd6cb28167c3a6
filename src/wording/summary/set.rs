//! Summaries for sets of lights: balance, prediction, falloff, gels.

use crate::{
    light::{
        balance::{Balance, LightSetting, PointResult},
        one_light::{OneLight, Solved},
        quantity::{Feet, Metres, Mired, Number},
        set::{
            close_up::CloseUpAnswer,
            falloff::Falloff,
            gel::{Gelled, Stack},
            placement::Source,
            predict::{PredictedPoint, Prediction},
            softness::{Both, Softness},
            target::TargetSide,
        },
    },
    wording::{
        format::{
            asked, below_full, digits, number, over_or_under, rounded_stops, short_number, signed_stops,
        },
        phrases,
        summary::{
            Summary,
            common::{give_or_take, joined, least_sure, reading},
            with_range,
        },
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
            Some(setting) => format!("\"{}\" to {}", light.light, below_full(&setting.label)),
            None => format!("\"{}\" off", light.light),
        };
        let worst = match rounded_stops(self.worst_error_stops.get()) {
            nothing if nothing == rounded_stops(0.0) => {
                let is_one_sided = self.points.iter().any(|point| point.target_side != TargetSide::Both);
                if is_one_sided { "as it is wanted" } else { "on its target" }.to_owned()
            }
            worst => format!("within {worst}"),
        };
        let settings: Vec<String> = self.settings.iter().take(MAX_LIGHTS).map(setting).collect();
        let more = match self.settings.len().saturating_sub(MAX_LIGHTS) {
            0 => String::new(),
            more => format!(" and {more} more as listed"),
        };
        let points = self.points.iter().map(|point| (point.name.as_str(), point.uncertainty.as_ref()));
        let estimated = least_sure(points);
        format!("Set {}{more}; every point is {worst}{estimated}.", joined(&settings))
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
                let points = self.points.iter();
                let points = points.map(|point| (point.name.as_str(), point.uncertainty.as_ref()));
                format!("Every point is within 0.05 stop of what is wanted{}.", least_sure(points))
            }
            Some(_) => format!("Of {} points the farthest off: {}.", self.points.len(), at_point(worst)),
        }
    }
}

fn at_point(point: &PredictedPoint) -> String {
    let reads = point.f_number.as_ref().and_then(|nominal| nominal.meter.clone());
    let bound = match point.target_side {
        TargetSide::Both => None,
        TargetSide::AtMost => Some("at most"),
        TargetSide::AtLeast => Some("at least"),
    };
    let sure = point.uncertainty.as_ref().map_or_else(String::new, give_or_take);
    let is_met = point.error_stops.is_some_and(|error| error.get() == 0.0);
    if let (Some(bound), Some(achieved), true) = (bound, point.achieved_stops, is_met) {
        let [achieved, target] = [achieved, point.target_stops].map(|stops| signed_stops(stops.get()));
        let reads = reads.map_or_else(|| "is".to_owned(), |reads| format!("meters {reads},"));
        return format!(
            "\"{}\" {reads} {achieved} from the working exposure, {bound} {target} as wanted{sure}",
            point.name
        );
    }
    match (reads, point.error_stops) {
        (Some(reads), Some(error)) => {
            format!("\"{}\" meters {reads}, {}{sure}", point.name, off_target(error.get()))
        }
        (_, Some(error)) => format!("\"{}\" is {}{sure}", point.name, off_target(error.get())),
        (_, None) => format!("No light reaches \"{}\"", point.name),
    }
}

impl Summary for Falloff {
    fn summary(&self) -> String {
        let rows = self.rows.first().zip(self.rows.last()).filter(|(first, last)| first != last);
        let rows = rows.map(|(first, last)| {
            format!(
                "From {} to {} the light {}.",
                length(first.distance_m, first.distance_ft),
                length(last.distance_m, last.distance_ft),
                falls(last.stops.get() - first.stops.get())
            )
        });
        let depth = self.depth.as_ref().map(|depth| {
            let falls = format!(
                "Over {} of depth it {}",
                length(depth.depth_m, depth.depth_ft),
                falls(depth.front_to_back_stops.get())
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

/// `falls by 2.95 stops`.
fn falls(stops: f64) -> String {
    format!("{} by {}", if stops > 0.0 { "rises" } else { "falls" }, rounded_stops(stops))
}

/// A length, in feet if they are asked for.
fn length(metres: Metres, feet: Option<Feet>) -> String {
    match feet {
        Some(feet) => format!("{} ft", short_number(feet.get())),
        None => format!("{} m", short_number(metres.get())),
    }
}

impl Summary for Softness {
    fn summary(&self) -> String {
        // One number for a light that is as wide as high.
        let both = |[width, height]: [String; 2]| {
            if width == height { width } else { format!("{width} by {height}") }
        };
        let lengths = |metres: &Both<Metres>, feet: Option<&Both<Feet>>| {
            both([
                length(metres.width, feet.map(|feet| feet.width)),
                length(metres.height, feet.map(|feet| feet.height)),
            ])
        };
        let degrees = |angle: Number| format!("{}°", digits(angle.get(), 3));
        let angles = both([self.angular_size_deg.width, self.angular_size_deg.height].map(degrees));
        let edge = self.penumbra_m.as_ref().map_or_else(String::new, |penumbra| {
            let wide = lengths(penumbra, self.penumbra_ft.as_ref());
            format!("; the soft edge of its shadow is {wide} wide")
        });
        let as_soft = self.as_soft.as_ref().and_then(|other| {
            let face = |face: &Source| {
                let [width, height] = face.sides();
                let metres = Both { width, height };
                format!("a source of {} from there", lengths(&metres, other.source_ft.as_ref()))
            };
            let distance = |metres| format!("the other source from {}", length(metres, other.distance_ft));
            other.source.as_ref().map(face).or(other.distance_m.map(distance))
        });
        let as_soft = as_soft.map_or_else(String::new, |other| format!("; as soft is {other}"));
        with_range(format!("The light is {angles} across{edge}{as_soft}."), &self.warnings)
    }
}

impl Summary for CloseUpAnswer {
    fn summary(&self) -> String {
        let takes = rounded_stops(self.exposure_stops.get());
        let works = self
            .effective_f_number
            .as_ref()
            .map_or_else(String::new, |effective| format!("; what is set works as {}", effective.label()));
        let set = self
            .set_f_number
            .as_ref()
            .map_or_else(String::new, |set| format!("; for what is metered set {}", set.label()));
        let magnification = short_number(self.magnification.get());
        format!("At a magnification of {magnification} the lens takes {takes}{works}{set}.")
    }
}

impl Summary for Gelled {
    fn summary(&self) -> String {
        let effect = |stack: &Stack| {
            let error = stack.error_mired.map_or_else(String::new, |error| {
                format!(", {} mired off the target", signed_number(error.get()))
            });
            // A gel whose loss is not stated says nothing of the light.
            let loss = stack.loss_stops.get();
            let light =
                if loss == 0.0 { String::new() } else { format!(", {} of light", signed_stops(loss)) };
            format!("{} mired{error}{light}", signed_number(stack.shift_mired.get()))
        };
        let best = self.stack.as_ref().map(|stack| match stack.gels.as_slice() {
            [] => "No gel comes nearest to the target.".to_owned(),
            gels => format!("Use {}: {}.", gels.join(" + "), effect(stack)),
        });
        let applied = self.applied.as_ref().map(|stack| match stack.gels.as_slice() {
            [] => "No gel is on the light.".to_owned(),
            [gel] => format!("{gel} gives {}.", effect(stack)),
            gels => format!("{} give {}.", gels.join(" + "), effect(stack)),
        });
        let shift = || {
            let shift = self.shift_mired.map_or(0.0, Mired::get);
            let side = if shift < 0.0 {
                ", towards blue"
            } else if shift > 0.0 {
                ", towards amber"
            } else {
                ""
            };
            format!("The light must be shifted by {} mired{side}.", signed_number(shift))
        };
        let all: Vec<String> = best.into_iter().chain(applied).collect();
        if all.is_empty() { shift() } else { all.join(" ") }
    }
}

fn signed_number(value: f64) -> String {
    crate::wording::format::with_sign(number(value))
}

impl Summary for OneLight {
    fn summary(&self) -> String {
        let distance = self.distance_m.map(|metres| length(metres, self.distance_ft));
        let stands = distance.map_or_else(String::new, |distance| format!(" at {distance}"));
        let setting = self.setting.as_ref().map(|setting| below_full(&setting.label));
        let setting = setting.as_deref();
        let found = || {
            let (mark, reads) = (self.f_number.label(), reading(&self.f_number));
            if mark == reads { mark } else { format!("{mark} (a meter reads {reads})") }
        };
        let aperture = asked(&self.f_number);
        let estimated = self.uncertainty.as_ref().map_or_else(String::new, give_or_take);
        let remedy = self.remedies.first().map(phrases::remedy);
        let remedy = remedy.map_or_else(String::new, |remedy| format!(" {remedy}"));
        let off = self.error_stops.get();
        let missed = rounded_stops(off);
        let side = if off < 0.0 { "too weak" } else { "too strong" };
        let at_setting = setting.map_or_else(String::new, |label| format!(" at {label}"));
        let and = if stands.is_empty() || at_setting.is_empty() { "" } else { " and" };
        let answer = match (self.solved_for, self.feasible) {
            (Some(Solved::FNumber), _) if stands.is_empty() && at_setting.is_empty() => {
                format!("Set the lens to {}.", found())
            }
            (Some(Solved::FNumber), _) => {
                format!("Set the lens to {}{estimated}: the light is{stands}{and}{at_setting}.", found())
            }
            (Some(Solved::Distance), true) => {
                format!("Place the light{stands}{and}{at_setting} for {aperture}{estimated}.")
            }
            (Some(Solved::Setting), true) => {
                let label = setting.unwrap_or_default();
                format!(
                    "Set the light to {label}{stands} for {aperture}; it is then {}{estimated}.",
                    off_target(off)
                )
            }
            (None, true) => format!("The light{at_setting}{stands} is right for {aperture}{estimated}."),
            (Some(Solved::Distance), false) => {
                format!(
                    "At no distance is the light{at_setting} right for {aperture}: it is {missed} {side}.{remedy}"
                )
            }
            (_, false) => format!("The light{at_setting}{stands} is {missed} {side} for {aperture}.{remedy}"),
        };
        with_range(answer, &self.warnings)
    }
}

/// `on its target`, or `0.05 stop over`.
fn off_target(stops: f64) -> String {
    if signed_stops(stops) == signed_stops(0.0) { "on its target".to_owned() } else { over_or_under(stops) }
}
