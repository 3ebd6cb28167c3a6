//! The summary of a correction: what to look at, what is off, what to set, what to meter next.

use crate::{
    light::{
        balance::LightSetting,
        correct::{CorrectedLight, CorrectedPoint, Correction},
    },
    wording::{
        format::{below_full, chance_percent, over_or_under, rounded_stops},
        summary::{
            Summary,
            common::{joined, least_sure},
        },
    },
};

/// A light that is off by less is not worth a word, stops.
const WORTH_A_WORD: f64 = 0.1;
/// An expected worst error below this is as good as a meter shows, stops.
const SURE: f64 = 0.1;
/// The most lights that are named.
const MAX_LIGHTS: usize = 4;

impl Summary for Correction {
    fn summary(&self) -> String {
        let all = [self.suspected(), self.to_set(), self.off(), self.unclear(), Some(self.next())];
        let all: Vec<String> = all.into_iter().flatten().collect();
        all.join(" ")
    }
}

impl Correction {
    fn suspected(&self) -> Option<String> {
        let suspect = |suspect: &crate::light::correct::Suspect| {
            format!("\"{}\" fired ({} that it did not)", suspect.light, chance_percent(suspect.chance))
        };
        let suspects = self.suspects.iter().map(suspect);
        let is_suspect = |light: &str| self.suspects.iter().any(|suspect| suspect.light == light);
        let far = self.lights.iter().filter(|light| light.is_far_off() && !is_suspect(&light.light));
        let far =
            far.map(|light| format!("\"{}\" is set as you say and that its reading is right", light.light));
        let suspects: Vec<String> = suspects.chain(far).take(MAX_LIGHTS).collect();
        (!suspects.is_empty()).then(|| format!("Check that {}.", joined(&suspects)))
    }

    /// Which lights are off, by how much.
    fn off(&self) -> Option<String> {
        let mut off: Vec<&CorrectedLight> =
            self.lights.iter().filter(|light| light.error_stops.get().abs() >= WORTH_A_WORD).collect();
        off.sort_by(|a, b| b.error_stops.get().abs().total_cmp(&a.error_stops.get().abs()));
        let light = |light: &&CorrectedLight| {
            let error = light.error_stops.get();
            let side = if error > 0.0 { "stronger" } else { "weaker" };
            format!("\"{}\" is {} {side} than expected", light.light, rounded_stops(error.abs()))
        };
        let named: Vec<String> = off.iter().take(MAX_LIGHTS).map(light).collect();
        if named.is_empty() && self.suspects.is_empty() {
            return Some(format!("No light is off by {} or more.", rounded_stops(WORTH_A_WORD)));
        }
        (!named.is_empty()).then(|| format!("{}.", joined(&named)))
    }

    fn to_set(&self) -> Option<String> {
        let is_changed = |(light, before): &(&LightSetting, &CorrectedLight)| {
            let below = |setting: Option<&crate::light::unit::Setting>| setting.map(|it| it.stops_below_full);
            below(light.setting.as_ref()) != below(before.setting_before.as_ref())
        };
        let changed: Vec<_> = self.settings.iter().zip(&self.lights).filter(is_changed).collect();
        let setting = |(light, _): &(&LightSetting, &CorrectedLight)| match &light.setting {
            Some(setting) => format!("\"{}\" to {}", light.light, below_full(&setting.label)),
            None => format!("\"{}\" off", light.light),
        };
        let settings: Vec<String> = changed.iter().take(MAX_LIGHTS).map(setting).collect();
        let more = match changed.len().saturating_sub(MAX_LIGHTS) {
            0 => String::new(),
            more => format!(" and {more} more as listed"),
        };
        // What was learned of a light that did not fire is that it did not.
        let lead = match self.suspects.len() {
            0 => "",
            1 => "If it did not, ",
            _ => "If they did not, ",
        };
        let what = match (settings.is_empty(), lead) {
            (true, "") => "Leave the settings as they are".to_owned(),
            (true, lead) => format!("{lead}leave the settings as they are"),
            (false, "") => format!("Set {}{more}", joined(&settings)),
            (false, lead) => format!("{lead}set {}{more}", joined(&settings)),
        };
        let error = |point: &CorrectedPoint| point.error_stops.map_or(-1.0, |error| error.get().abs());
        let worst = self.points.iter().max_by(|a, b| error(a).total_cmp(&error(b)))?;
        let points = self.points.iter().map(|point| (point.name.as_str(), point.uncertainty.as_ref()));
        let sure = least_sure(points);
        let Some(off) = worst.error_stops else {
            return Some("No target is stated, so there is nothing to set.".to_owned());
        };
        Some(if self.feasible {
            let within = match rounded_stops(off.get().abs()) {
                nothing if nothing == rounded_stops(0.0) => "on its target".to_owned(),
                off => format!("within {off}"),
            };
            format!("{what}; every point is then {within}{sure}.")
        } else {
            format!("{what}; \"{}\" is then still {}{sure}.", worst.name, over_or_under(off.get()))
        })
    }

    fn unclear(&self) -> Option<String> {
        let group = self.inseparable.first()?;
        let names: Vec<String> = group.iter().take(MAX_LIGHTS).map(|name| format!("\"{name}\"")).collect();
        Some(format!("These readings cannot tell {} apart.", joined(&names)))
    }

    fn next(&self) -> String {
        match &self.next_reading {
            Some(next) => format!(
                "Meter \"{}\" alone at \"{}\" next: the expected worst error then falls from {} to {}.",
                next.light,
                next.point,
                rounded_stops(next.worst_now_stops.get()),
                rounded_stops(next.worst_then_stops.get())
            ),
            None if !self.suspects.is_empty() => {
                "Fire all lights again, and read each point once more.".to_owned()
            }
            None if self.expected_worst_stops.get() <= SURE => {
                "Nothing more is worth metering: it is as sure as a meter shows.".to_owned()
            }
            None => {
                "Nothing more is worth metering: no reading of one light would narrow it much.".to_owned()
            }
        }
    }
}
