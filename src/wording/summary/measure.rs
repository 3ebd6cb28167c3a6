//! Summaries for measurements: ambient light, motion, patches, responses, calibrations.

use crate::{
    light::{
        measure::{
            ambient::Check,
            calibrate::Calibration,
            motion::Freeze,
            patches::{Comparison, PatchResult},
            response::Fit,
        },
        quantity::Stops,
    },
    wording::{
        format::{digits, number, rounded_stops, signed, signed_stops},
        phrases,
        summary::Summary,
    },
};

impl Summary for Check {
    fn summary(&self) -> String {
        let Some(below) = self.ambient_below_flash_stops else {
            return "There is no ambient light.".to_owned();
        };
        let side = if below.get() < 0.0 { "over" } else { "under" };
        let verdict = if self.clean { "it stays out" } else { "more than allowed" };
        let remedy = self.remedies.first().map(phrases::remedy);
        let remedy = remedy.map_or_else(String::new, |remedy| format!(" {remedy}"));
        format!(
            "Ambient light is {} {side} the flash and brightens the picture by {}: {verdict}.{remedy}",
            rounded_stops(below.get()),
            rounded_stops(self.brightening_stops.get())
        )
    }
}

impl Summary for Freeze {
    fn summary(&self) -> String {
        let verdict = if self.sharpness.sharp { "sharp" } else { "not sharp" };
        format!(
            "The blur is {} pixels: {verdict}. Up to {} m/s would be sharp.",
            digits(self.sharpness.blur_px.get(), 2),
            digits(self.sharpness.fastest_subject_m_s.get(), 2)
        )
    }
}

impl Summary for Comparison {
    fn summary(&self) -> String {
        let of_one = |patch: &PatchResult| {
            let bound = |words: &str, stops: Option<Stops>| {
                Some(format!(
                    "\"{}\" is clipped: {words} {} off the reference",
                    patch.name,
                    signed_stops(stops?.get())
                ))
            };
            let range = patch.stops_range;
            if patch.clipped
                && let Some(words) = match range.high {
                    None => bound("at least", range.low),
                    high => bound("at most", high),
                }
            {
                return words;
            }
            format!("\"{}\" is {} off the reference", patch.name, signed_stops(patch.stops.get()))
        };
        let matching = self.readings.iter().filter(|patch| patch.matches).count();
        match self.readings.as_slice() {
            [only] => format!("{}.", of_one(only)),
            all if matching == all.len() => "All patches match the reference.".to_owned(),
            all => {
                let off = |patch: &PatchResult| patch.stops.get().abs();
                let worst = all.iter().max_by(|a, b| off(a).total_cmp(&off(b)));
                let worst = worst.map_or_else(String::new, |worst| format!("; {}", of_one(worst)));
                format!("{matching} of {} patches match{worst}.", all.len())
            }
        }
    }
}

impl Summary for Fit {
    fn summary(&self) -> String {
        let used = self.frames.iter().filter(|frame| !frame.clipped);
        let stops = used.clone().map(|frame| frame.stops.get());
        let range = stops.clone().fold(f64::NEG_INFINITY, f64::max) - stops.fold(f64::INFINITY, f64::min);
        let frames = used.count();
        let between = self.between.first().map_or_else(String::new, |between| {
            format!(
                " From level {} to {} it is {}.",
                number(between.from.get()),
                number(between.to.get()),
                signed_stops(between.stops.get())
            )
        });
        format!("The response holds for {} from {frames} frames.{between}", rounded_stops(range))
    }
}

impl Summary for Calibration {
    fn summary(&self) -> String {
        let offset = self.offset_stops.map(|offset| {
            let range = self.offset_stops_range.as_ref().map_or_else(String::new, |range| {
                format!(" ({} to {})", signed(range.low.get()), signed(range.high.get()))
            });
            format!("The unit gives {} against its rating{range}", signed_stops(offset.get()))
        });
        let guide = self.guide_number_m.map(|guide| format!("guide number {} m", digits(guide.get(), 3)));
        let tracking = self
            .tracking
            .map(|tracking| format!("a stop on its scale is {} stop of light", number(tracking.get())));
        let all: Vec<String> = offset.into_iter().chain(guide).chain(tracking).collect();
        let text = if all.is_empty() {
            "the readings say nothing of the unit's scale".to_owned()
        } else {
            all.join("; ")
        };
        let (first, rest) = text.split_at(1);
        format!("{}{rest}.", first.to_uppercase())
    }
}
