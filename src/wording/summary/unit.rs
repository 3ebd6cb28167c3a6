//! Summaries for single units and values: conversions, swaps, energies and guide numbers.

use crate::{
    light::{
        equivalence::{Equivalence, Match},
        exposure::{ComparedExposures, MarkedExposure, Sought},
        measure::measured::Measured,
        quantity::{Number, Stops, kind::Kind, marks::Step, nominal::Nominal},
        stops::{Conversion, MarkedValue},
        unit::guide::{EnergyEstimate, GuideEstimate},
    },
    wording::{
        format::{asked, below_full, digits, number, over_or_under, rounded_stops, signed_stops},
        phrases,
        summary::{Summary, common::give_or_take, with_range},
    },
};

impl Summary for Conversion {
    fn summary(&self) -> String {
        let value = |value: &MarkedValue| {
            let is_exact = value.off_by_stops.is_some_and(|off| off.get().abs() < 0.005);
            if let Some(written) = &value.written {
                return written.clone();
            }
            match (&value.mark, self.unit) {
                (Some(mark), _) if is_exact => mark.clone().into_owned(),
                // Feet, if they are asked for.
                (_, Some(_)) if self.kind == Kind::Distance && value.value_ft.is_some() => {
                    format!("{} ft", number(value.value_ft.map_or(0.0, Number::get)))
                }
                (_, Some(unit)) if self.kind == Kind::GuideNumber => {
                    format!("guide number {} {unit}", number(value.value.get()))
                }
                (_, Some(unit)) => format!("{} {unit}", number(value.value.get())),
                (_, None) => match self.kind {
                    Kind::ExposureValue => format!("EV {}", number(value.value.get())),
                    Kind::Reflectance => format!("{} %", number(value.value.get() * 100.0)),
                    Kind::FNumber => asked(&Nominal::new(Kind::FNumber, value.value.get(), Step::Third)),
                    Kind::LightRatio => format!("{}:1", number(value.value.get())),
                    Kind::Iso => format!("ISO {}", number(value.value.get())),
                    _ => number(value.value.get()),
                },
            }
        };
        format!("{} to {} is {}.", value(&self.from), value(&self.to), change(self.exposure_stops.get()))
    }
}

/// `1 stop darker`.
fn change(stops: f64) -> String {
    match stops {
        stops if stops.abs() < 5e-4 => "no change".to_owned(),
        stops if stops > 0.0 => format!("{} brighter", rounded_stops(stops)),
        stops => format!("{} darker", rounded_stops(stops)),
    }
}

impl Summary for ComparedExposures {
    fn summary(&self) -> String {
        let exposure = |exposure: &MarkedExposure| {
            let settings = [&exposure.f_number, &exposure.exposure_time, &exposure.iso];
            let settings = settings.map(Nominal::exact_label).join(", ");
            match signed_stops(exposure.filter_stops.get()) {
                none if none == signed_stops(0.0) => settings,
                filters => format!("{settings} behind filters of {filters}"),
            }
        };
        let from = exposure(&self.from);
        let found = self.solved_for.map(|sought| match sought {
            Sought::FNumber => &self.to.f_number,
            Sought::ExposureTime => &self.to.exposure_time,
            Sought::Iso => &self.to.iso,
        });
        match found {
            Some(found) => {
                let off = found.off_by_stops.map_or(0.0, Stops::get);
                let off = if off.abs() < 5e-3 { String::new() } else { format!(" ({})", change(off)) };
                let set = format!("Set {}{off}: {} exposes as {from}.", found.label(), exposure(&self.to));
                with_range(set, &self.warnings)
            }
            None if self.from == self.to => {
                let (ev, lux) = (number(self.from.ev100.get()), digits(self.from.illuminance_lx.get(), 3));
                format!("{from} suits EV {ev} at ISO 100, {lux} lx.")
            }
            None => format!("{from} to {} is {}.", exposure(&self.to), change(self.exposure_stops.get())),
        }
    }
}

impl Summary for Equivalence {
    fn summary(&self) -> String {
        let able = self.candidates.iter().filter(|candidate| candidate.feasible).count();
        match self.candidates.as_slice() {
            [only] => candidate(only),
            all => {
                let best = all.iter().find(|candidate| candidate.feasible);
                let best = best.or_else(|| {
                    all.iter().min_by(|a, b| a.error_stops.get().abs().total_cmp(&b.error_stops.get().abs()))
                });
                let best = best.map_or_else(String::new, |best| format!(" {}", candidate(best)));
                format!("{able} of {} candidates can replace it.{best}", all.len())
            }
        }
    }
}

fn candidate(candidate: &Match) -> String {
    let name = candidate.name.as_ref().map_or_else(|| "it".to_owned(), |name| format!("\"{name}\""));
    let label = below_full(&candidate.setting.label);
    let fired = match candidate.pops {
        1 => String::new(),
        2 => " and fire it twice".to_owned(),
        pops => format!(" and fire it {pops} times"),
    };
    if candidate.feasible {
        let then = match signed_stops(candidate.error_stops.get()) {
            nothing if nothing == signed_stops(0.0) => "is the same".to_owned(),
            _ => format!("is then {}", over_or_under(candidate.error_stops.get())),
        };
        let estimated = candidate.uncertainty.as_ref().map_or_else(String::new, give_or_take);
        return format!("Set {name} to {label}{fired}; the picture {then}{estimated}.");
    }
    let stops = rounded_stops(candidate.error_stops.get());
    let side = if candidate.error_stops.get() < 0.0 { "too weak" } else { "too strong" };
    let subject = if name == "it" { "The unit" } else { &name };
    let remedy = candidate.remedies.first().map(phrases::remedy);
    let remedy = remedy.map_or_else(String::new, |remedy| format!(" {remedy}"));
    format!("{subject} is {stops} {side} at {label}.{remedy}")
}

impl Summary for Measured {
    fn summary(&self) -> String {
        let stops = self.difference_stops.get();
        let gave = match stops {
            stops if stops.abs() < 5e-3 => "as much light as the reference".to_owned(),
            stops if stops > 0.0 => format!("{} more light than the reference", rounded_stops(stops)),
            stops => format!("{} less light than the reference", rounded_stops(stops)),
        };
        let energy = digits(self.matching_energy_j.get(), 3);
        format!("The other unit gave {gave}, as the reference would at {energy} J.")
    }
}

impl Summary for EnergyEstimate {
    fn summary(&self) -> String {
        let [low, typical, high] = [self.energy_j.low, self.energy_j.typical, self.energy_j.high]
            .map(|energy| digits(energy.get(), 2));
        if !self.by_coverage.is_empty() {
            return format!(
                "About {typical} J at full power with a reflector for 35 mm; {low} to {high} J over the usual reflectors, since no coverage is stated."
            );
        }
        let between = between(&low, &high, "J");
        format!("About {typical} J at full power{between}.")
    }
}

impl Summary for GuideEstimate {
    fn summary(&self) -> String {
        let metres = &self.guide_number_m;
        let [low, typical, high] =
            [metres.low, metres.typical, metres.high].map(|guide| digits(guide.get(), 2));
        let feet = digits(self.guide_number_ft.typical.get(), 2);
        if !self.by_coverage.is_empty() {
            return format!(
                "Guide number about {typical} m ({feet} ft) at full power with a reflector for 35 mm; {low} to {high} m over the usual reflectors, since no coverage is stated."
            );
        }
        let between = between(&low, &high, "m");
        format!("Guide number about {typical} m ({feet} ft) at full power{between}.")
    }
}

/// `, between 40 and 61 J`; nothing if that is one number.
fn between(low: &str, high: &str, unit: &str) -> String {
    if low == high { String::new() } else { format!(", between {low} and {high} {unit}") }
}
