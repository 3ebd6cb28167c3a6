//! Summaries for measurements: ambient light, motion, patches, responses, calibrations.

use crate::{
    light::{
        measure::{
            ambient::Check,
            calibrate::Calibration,
            motion::{Freeze, Sharpness},
            patch_level::PatchLevelAnswer,
            patches::{Comparison, PatchResult},
            readings::{Combined, ReadingRatio},
            response::Fit,
            train::Train,
        },
        quantity::{Number, Stops, nominal::Nominal, significant},
        remark::WarningKind,
    },
    wording::{
        format::{at_least, digits, names, number, over_or_under, rounded_stops, short_time, signed_stops},
        phrases,
        summary::{Summary, common::reading, with_range},
    },
};

impl Summary for Check {
    fn summary(&self) -> String {
        let Some(below) = self.ambient_below_flash_stops else {
            return "There is no ambient light.".to_owned();
        };
        if let Some(time) = &self.set_exposure_time {
            return with_found_time(self, time, below);
        }
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

/// The summary where the exposure time was asked for.
fn with_found_time(check: &Check, time: &Nominal, below: Stops) -> String {
    let side = if below.get() < 0.0 { "over" } else { "under" };
    let then = format!(
        "ambient light is then {} {side} the flash and brightens the picture by {}",
        rounded_stops(below.get()),
        rounded_stops(check.brightening_stops.get())
    );
    let time = time.label();
    let too_fast = check.warnings.iter().find_map(|warning| match &warning.kind {
        WarningKind::HighSpeedSyncNeeded { exposure_time } => Some(exposure_time),
        _ => None,
    });
    // Where it is wanted, only the sync time leaves something to do; else no mark may be short enough.
    let is_sync = check.error_stops.is_some() || check.sync_allows == Some(false);
    let at = if is_sync { "At the sync time" } else { "At the shortest time that can be set" };
    match (check.remedies.first(), too_fast) {
        (Some(remedy), _) => format!("{at}, {time}, {then}. {}", phrases::remedy(remedy)),
        (None, Some(needed)) => {
            format!("It takes {needed} by high-speed sync. At the sync time, {time}, {then}.")
        }
        (None, None) if check.error_stops.is_none() && !check.clean => {
            format!("{at}, {time}, {then}: more than allowed.")
        }
        (None, None) => format!("Set the exposure time to {time}: {then}."),
    }
}

impl Summary for Freeze {
    fn summary(&self) -> String {
        let Sharpness { blur_px, blur_m, sharp, fastest_subject_m_s } = &self.sharpness;
        let in_pixels = blur_px.map(|blur| format!("{} pixels", digits(blur.get(), 2)));
        let in_mm = || blur_m.map(|blur| format!("{} mm", digits(1000.0 * blur.get(), 2)));
        let verdict = match sharp {
            Some(true) => ": sharp",
            Some(false) => ": not sharp",
            None => "",
        };
        let blur = in_pixels.or_else(in_mm).map(|blur| format!("The blur is {blur}{verdict}."));
        let duration = || {
            let t0_1 = self.t0_1_s?.get();
            Some(format!("t0.1 is {}.", short_time(t0_1, |per_second| digits(per_second, 3))))
        };
        let fastest = fastest_subject_m_s
            .map(|fastest| format!("Up to {} m/s would be sharp.", digits(fastest.get(), 2)));
        // A duration that is to be found is the answer.
        let longest = self.longest_t0_1_s.filter(|_| self.t0_1_s.is_none()).map(|longest| {
            let sharp = self.by_setting.iter().filter(|row| row.sharpness.sharp == Some(true));
            let settings: Vec<&str> = sharp.map(|row| row.setting.as_str()).collect();
            let settings = match settings.as_slice() {
                _ if self.by_setting.is_empty() => String::new(),
                [] => "; no setting is short enough".to_owned(),
                settings => format!("; short enough: {}", names(settings)),
            };
            let longest = short_time(longest.get(), at_least);
            format!("A t0.1 of {longest} or shorter would be sharp{settings}.")
        });
        let cut = self
            .frame_share
            .filter(|share| share.get() < 1.0)
            .map(|share| format!("The flash lights {} % of the frame.", digits(100.0 * share.get(), 2)));
        let train = self.train.as_ref().map(train);
        let known = if train.is_some() { blur } else { blur.or_else(duration) };
        let all: Vec<String> =
            train.into_iter().chain(known).chain(fastest).chain(longest).chain(cut).collect();
        if all.is_empty() { "The durations are listed by setting.".to_owned() } else { all.join(" ") }
    }
}

/// How to expose a train of flashes, and what it does.
fn train(train: &Train) -> String {
    let Train { pops, images, .. } = train;
    let needed = train.needed_exposure_time.as_ref().map(Nominal::label);
    let pace = train.hz.map(|hz| format!(" at {} Hz", digits(hz.get(), 3))).unwrap_or_default();
    let flashes = if *pops == 1 { "1 flash".to_owned() } else { format!("{pops} flashes") };
    let take = if *pops == 1 { "takes" } else { "take" };
    let first = match (train.long_enough, needed) {
        (Some(false), Some(needed)) if images < pops => {
            format!("The exposure time holds {images} of {pops} flashes{pace}: all of them take {needed}.")
        }
        (Some(true), _) => format!("The exposure time holds {flashes}{pace}."),
        (_, Some(needed)) => format!("{flashes}{pace} {take} an exposure time of {needed} or longer."),
        (_, None) => format!("{flashes} in one exposure."),
    };
    let still = rounded_stops(train.still_stops.get());
    let spacing = train.spacing_m.map(|spacing| format!(", {} m apart", digits(spacing.get(), 2)));
    let each = match images {
        1 => String::new(),
        images => format!(
            " What stands still gets {still} more light than from one; what moves shows in {images} images{}, each in the light of one.",
            spacing.unwrap_or_default()
        ),
    };
    format!("{first}{each}")
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
            format!("\"{}\" is {} the reference", patch.name, over_or_under(patch.stops.get()))
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

impl Summary for PatchLevelAnswer {
    fn summary(&self) -> String {
        let headroom = rounded_stops(self.headroom_stops.get());
        let state = match self.headroom_stops.get() {
            beyond if beyond < -0.005 => format!("it is clipped, {headroom} beyond white"),
            left if self.clipped && left < 0.005 => "it is clipped at white".to_owned(),
            _ if self.clipped => "it is clipped at black".to_owned(),
            _ if headroom.ends_with("stop") => format!("{headroom} is left to white"),
            _ => format!("{headroom} are left to white"),
        };
        let light = match rounded_stops(self.incident_stops.get()) {
            none if none == rounded_stops(0.0) => "in the working light".to_owned(),
            _ => format!("in light {} the working exposure", over_or_under(self.incident_stops.get())),
        };
        let level = self.level.get();
        let level = if self.encoding.bits > 8 { format!("{level:.0}") } else { digits(level, 3) };
        let percent = digits(100.0 * self.reflectance.get(), 2);
        let against_grey = match rounded_stops(self.exposure_stops.get()) {
            none if none == rounded_stops(0.0) => "mid grey".to_owned(),
            _ => format!("{} mid grey", over_or_under(self.exposure_stops.get())),
        };
        let shows = if significant(self.reflectance.get()) > 1.0 {
            format!(
                "No surface {light} shows at level {level}, {against_grey}: it would have to reflect {percent} % of the light"
            )
        } else {
            format!("A surface of {percent} % {light} shows at level {level}, {against_grey}: {state}")
        };
        with_range(format!("{shows}."), &self.warnings)
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
                "Level {} to {} is {}. ",
                number(between.from.get()),
                number(between.to.get()),
                signed_stops(between.stops.get())
            )
        });
        format!("{between}{frames} frames say what levels mean over {}.", rounded_stops(range))
    }
}

impl Summary for Calibration {
    fn summary(&self) -> String {
        let sure = self
            .camera_plus_minus_stops
            .map(|stops| format!(", give or take {}", rounded_stops(stops.get())));
        let offset = self.offset_stops.map(|offset| {
            let sure = sure.as_deref().unwrap_or_default();
            match (rounded_stops(offset.get()), offset.get() < 0.0) {
                (none, _) if none == rounded_stops(0.0) => {
                    format!("The unit gives what its rating says{sure}")
                }
                (stops, true) => format!("The unit gives {stops} less light than its rating{sure}"),
                (stops, false) => format!("The unit gives {stops} more light than its rating{sure}"),
            }
        });
        let guide = self.guide_number_m.map(|guide| {
            let sure = sure.filter(|_| offset.is_none()).unwrap_or_default();
            format!("guide number {} m{sure}", digits(guide.get(), 3))
        });
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
        let left_out = match self.misfires.len() + self.too_bright.len() {
            0 => String::new(),
            1 => " 1 reading did not fit and was left out.".to_owned(),
            more => format!(" {more} readings did not fit and were left out."),
        };
        format!("{}{rest}.{left_out}", first.to_uppercase())
    }
}

impl Summary for Combined {
    fn summary(&self) -> String {
        if !self.feasible {
            let shortfall = rounded_stops(self.shortfall_stops.get());
            return format!("That takes away {shortfall} more light than there is.");
        }
        let reads =
            self.f_number.as_ref().map(|f_number| format!("Together that reads {}", reading(f_number)));
        let guide = self.guide_number_m.zip(self.guide_number_ft).map(|(metres, feet)| {
            let [metres, feet] = [metres.get(), feet.get()].map(|guide| digits(guide, 3));
            format!("Together that is guide number {metres} m ({feet} ft)")
        });
        match (reads.or(guide), self.stops) {
            (Some(reads), Some(stops)) => {
                let stops = stops.get();
                let than = if stops < 0.0 { "less" } else { "more" };
                let reads = if stops < 0.0 {
                    reads.replacen("Together that is", "What is left is", 1).replacen(
                        "Together that",
                        "What is left",
                        1,
                    )
                } else {
                    reads
                };
                format!("{reads}, {} {than} light than the first.", rounded_stops(stops))
            }
            _ => "No light is left.".to_owned(),
        }
    }
}

impl Summary for ReadingRatio {
    fn summary(&self) -> String {
        let to_one = |ratio: Number| format!("{}:1", digits(ratio.get(), 3));
        let lights = self.lights.map_or_else(String::new, |lights| {
            format!(", {} by lights (each metered alone)", to_one(lights))
        });
        let sides = to_one(self.sides);
        let stops = self.difference_stops.get();
        let darker = if stops < 0.0 { "brighter" } else { "darker" };
        let compared = match rounded_stops(stops) {
            none if none == rounded_stops(0.0) => "both sides get the same light".to_owned(),
            stops => format!("the shadow side is {stops} {darker} than the lit side"),
        };
        format!("{sides} by sides{lights}: {compared}.")
    }
}
