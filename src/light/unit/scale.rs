//! Power scales: labels on a unit's control to stops below full power and back.
//!
//! A scale has a grid of settings: clicks in stops, or linear steps in percent or joules, counted down from full power.
//! The least setting is always on the grid. One whole step of a dial in stops is a factor of two in energy (common
//! practice).

use crate::light::{
    error::{InvalidValue, LabelRange, beginning},
    quantity::{
        Joules, Stops,
        constants::{CONTINUOUS_HALF_CLICK, CONTINUOUS_RANGE},
        kind::Kind,
        notation,
        words::words,
    },
};

/// The largest number of settings of a scale.
pub const MAX_SETTINGS: usize = 2000;
/// Two settings closer than this are the same, stops.
const SAME: f64 = 1e-9;
/// Rounding error of labels in stops, which are printed to one decimal.
pub const STOP_ROUNDING: f64 = 0.05;

words! {
    /// The kind of labels on a power control.
    pub enum StyleName as "ScaleStyle" {
        /// Labels one stop apart.
        Dial = "dial",
        /// Fractions of full power.
        Fraction = "fraction",
        /// Percentage of full energy.
        Percent = "percent",
        /// Energy in joules.
        Joules = "joules",
    }
}

/// The kind of labels on the control, with their range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Style {
    /// Labels one stop apart, rising or falling from `full` to `least`.
    Dial {
        /// Label at full power.
        full: f64,
        /// Label at least power.
        least: f64,
    },
    /// Fractions of full power: `1/1`, `1/2` … down to `least`.
    Fraction {
        /// Least power as a fraction of full power.
        least: f64,
    },
    /// Percentage of full energy, down to `least`.
    Percent {
        /// Least power in percent.
        least: f64,
    },
    /// Energy in joules, from `full` down to `least`.
    Joules {
        /// Energy at full power.
        full: f64,
        /// Energy at least power.
        least: f64,
    },
    /// An unknown control: any power within 8 stops.
    Continuous,
}

/// The step between settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Grid {
    /// Clicks in stops.
    Click(f64),
    /// Linear steps in percent or joules.
    Linear(f64),
}

/// A power scale with all its settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    style: Style,
    grid: Grid,
    /// All settings in stops below full, from full power down; empty for a continuous scale.
    settings: Vec<f64>,
    range: f64,
}

impl Scale {
    /// An unknown scale: continuously variable over 8 stops.
    pub const fn continuous() -> Self {
        Self {
            style: Style::Continuous,
            grid: Grid::Click(CONTINUOUS_HALF_CLICK * 2.0),
            settings: Vec::new(),
            range: CONTINUOUS_RANGE,
        }
    }

    /// A scale with its grid.
    ///
    /// # Errors
    ///
    /// If the range is zero or out of bounds, or there are more than [`MAX_SETTINGS`] settings.
    pub fn new(style: Style, grid: Grid) -> Result<Self, InvalidValue> {
        let range = match style {
            Style::Dial { full, least } => (full - least).abs(),
            Style::Fraction { least } => -least.log2(),
            Style::Percent { least } => (100.0 / least).log2(),
            Style::Joules { full, least } => (full / least).log2(),
            Style::Continuous => return Ok(Self::continuous()),
        };
        crate::light::quantity::bounds::BELOW_FULL.check(range)?;
        if range < SAME {
            return Err(InvalidValue::SingleSetting);
        }
        let (full, least) = linear_ends(style);
        let count = match grid {
            Grid::Click(click) => range / click,
            Grid::Linear(step) => (full - least) / step,
        };
        if count > MAX_SETTINGS as f64 {
            return Err(InvalidValue::TooManySettings { count: count as u64, most: MAX_SETTINGS });
        }
        let mut settings: Vec<f64> = (0..=count as usize)
            .map(|k| match grid {
                Grid::Click(click) => k as f64 * click,
                Grid::Linear(step) => (full / (full - k as f64 * step)).log2(),
            })
            .filter(|&below| below < range - SAME)
            .collect();
        settings.push(range);
        Ok(Self { style, grid, settings, range })
    }

    /// All settings in stops below full, from full power down; empty for a continuous scale.
    pub fn settings(&self) -> &[f64] {
        &self.settings
    }

    /// Stops from full to least power.
    pub const fn range(&self) -> Stops {
        Stops::new_unchecked(self.range)
    }

    /// The kind of labels on the control.
    pub const fn style(&self) -> Style {
        self.style
    }

    /// The step between settings.
    pub const fn grid(&self) -> Grid {
        self.grid
    }

    /// Whether any power in the range can be set.
    pub const fn is_continuous(&self) -> bool {
        matches!(self.style, Style::Continuous)
    }

    /// The setting nearest to `below` stops under full power; ties go to the lower power.
    ///
    /// ```
    /// use stopwright::light::{quantity::Stops, unit::scale::{Grid, Scale, Style}};
    /// let dial = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1)).unwrap();
    /// let set = dial.nearest(Stops::new_unchecked(1.72));
    /// assert_eq!(dial.label(set), "7.3");
    /// ```
    pub fn nearest(&self, below: Stops) -> Stops {
        let below = below.get();
        if self.settings.is_empty() {
            return Stops::new_unchecked(below.clamp(0.0, self.range));
        }
        let above = self.settings.partition_point(|&setting| setting < below);
        let lower = self.settings.get(above).copied().unwrap_or(self.range);
        let higher =
            above.checked_sub(1).and_then(|index| self.settings.get(index)).copied().unwrap_or(lower);
        Stops::new_unchecked(if lower - below <= below - higher + SAME { lower } else { higher })
    }

    /// Half the larger step in light to a neighbouring setting, stops: the largest error that rounding to a click can
    /// leave. `light` converts the stops below full of a setting to those of its light.
    pub fn half_click_of(&self, setting: Stops, light: impl Fn(f64) -> f64) -> Stops {
        let below = setting.get();
        let index = self.settings.partition_point(|&s| s < below - SAME);
        if self.settings.get(index).is_none_or(|s| (s - below).abs() >= SAME) {
            return Stops::new_unchecked(CONTINUOUS_HALF_CLICK);
        }
        let to = |other: Option<&f64>| other.map_or(0.0, |other| (light(*other) - light(below)).abs());
        let before = to(index.checked_sub(1).and_then(|i| self.settings.get(i)));
        Stops::new_unchecked(before.max(to(self.settings.get(index + 1))) / 2.0)
    }

    /// The label of a setting on the grid.
    pub fn label(&self, setting: Stops) -> String {
        let below = setting.get();
        match self.style {
            Style::Dial { full, least } => {
                let value = if least < full { full - below } else { full + below };
                plain(value, self.stop_decimals(below))
            }
            // A least setting between two clicks keeps its own label, as 1/50.
            Style::Fraction { least } if self.stop_decimals(below) > 1 && is_unit_fraction(least, below) => {
                format!("1/{}", (1.0 / least).round())
            }
            Style::Fraction { .. } => {
                // The tolerance keeps a whole stop from being rounded up to the next one.
                let whole = (below - SAME).ceil().max(0.0);
                let base = format!("1/{}", whole.exp2());
                let beyond = plain(whole - below, self.stop_decimals(below));
                if beyond == "0" { base } else { format!("{base} +{beyond}") }
            }
            Style::Percent { .. } => format!("{} %", self.linear_label(below)),
            Style::Joules { .. } => format!("{} J", self.linear_label(below)),
            Style::Continuous => match plain(below, 2).as_str() {
                "0" => "full".to_owned(),
                stops => format!("-{stops} stops"),
            },
        }
    }

    /// Decimals of a label in stops: enough to differ from its neighbours, at least one.
    fn stop_decimals(&self, below: f64) -> usize {
        let spacing = self.spacing(below, |below| below);
        (1..6).find(|&decimals| spacing >= 0.1_f64.powi(decimals) - SAME).unwrap_or(6) as usize
    }

    /// The distance to the nearest other setting, measured in `value`.
    fn spacing(&self, below: f64, value: impl Fn(f64) -> f64) -> f64 {
        self.settings
            .iter()
            .filter(|&&other| (other - below).abs() > SAME)
            .map(|&other| (value(other) - value(below)).abs())
            .fold(f64::INFINITY, f64::min)
    }

    /// A percentage or an energy with enough decimals to differ from its neighbours.
    fn linear_label(&self, below: f64) -> String {
        let value = |below: f64| linear_ends(self.style).0 * (-below).exp2();
        let spacing = self.spacing(below, value);
        let value = value(below);
        // Enough to differ from its neighbours, with a rounding error of at most a twentieth of a stop.
        let enough = |decimals: i32| {
            let unit = 10_f64.powi(decimals);
            spacing >= 1.0 / unit && ((value * unit).round() / unit / value).log2().abs() <= STOP_ROUNDING
        };
        let decimals = (0..6).find(|&decimals| enough(decimals)).unwrap_or(6);
        plain(value, decimals as usize)
    }

    /// The setting of a label. A label within its printed rounding of a click is that click.
    pub fn setting(&self, label: &str) -> Result<Stops, InvalidValue> {
        let text = label.trim();
        if text.eq_ignore_ascii_case("full") {
            return Ok(Stops::ZERO);
        }
        if let Some(stops) = notation::named_stops(text) {
            return self.snap(-stops, STOP_ROUNDING, label);
        }
        match self.style {
            Style::Dial { full, least } => {
                let value = notation::bare_number(text).ok_or_else(|| self.not_a_label(label))?;
                let below = if least < full { full - value } else { value - full };
                self.snap(below, STOP_ROUNDING, label)
            }
            Style::Fraction { .. } => {
                let written =
                    notation::read(Kind::PowerFraction, text).map_err(|_| self.not_a_label(label))?;
                let below = -written.number.log2() - written.beyond_stops;
                self.snap(below, STOP_ROUNDING, label)
            }
            Style::Percent { .. } => self.linear(Kind::Percent, text, label),
            Style::Joules { .. } => self.linear(Kind::Energy, text, label),
            Style::Continuous => {
                if let Ok(written) = notation::read(Kind::Percent, text) {
                    return self.snap((100.0 / written.number).log2(), SAME, label);
                }
                let written =
                    notation::read(Kind::PowerFraction, text).map_err(|_| self.not_a_label(label))?;
                self.snap(-written.number.log2() - written.beyond_stops, SAME, label)
            }
        }
    }

    fn linear(&self, kind: Kind, text: &str, label: &str) -> Result<Stops, InvalidValue> {
        let value = notation::bare_number(text)
            .or_else(|| notation::read(kind, text).ok().map(|written| written.number))
            .filter(|value| *value > 0.0)
            .ok_or_else(|| self.not_a_label(label))?;
        let full = linear_ends(self.style).0;
        let value_at = |below: f64| full * (-below).exp2();
        // Nearest on the printed, linear scale; the lower power in a tie.
        let nearest = self
            .settings
            .iter()
            .rev()
            .copied()
            .min_by(|a, b| (value_at(*a) - value).abs().total_cmp(&(value_at(*b) - value).abs()));
        let Some(nearest) = nearest else {
            return Err(self.not_a_label(label));
        };
        let printed = self.linear_label(nearest);
        let decimals = printed.split_once('.').map_or(0, |(_, decimals)| decimals.len().saturating_sub(2));
        let rounding = 0.5 * 0.1_f64.powf(decimals as f64);
        if (value_at(nearest) - value).abs() <= rounding + SAME {
            Ok(Stops::new_unchecked(nearest))
        } else {
            Err(self.off_grid(label, (full / value).log2()))
        }
    }

    fn snap(&self, below: f64, rounding: f64, label: &str) -> Result<Stops, InvalidValue> {
        if !below.is_finite() {
            return Err(self.not_a_label(label));
        }
        let nearest = self.nearest(Stops::new_unchecked(below));
        if (nearest.get() - below).abs() <= rounding + SAME {
            Ok(nearest)
        } else {
            Err(self.off_grid(label, below))
        }
    }

    fn not_a_label(&self, label: &str) -> InvalidValue {
        InvalidValue::NotALabel { label: beginning(label), scale: self.labels() }
    }

    fn off_grid(&self, label: &str, below: f64) -> InvalidValue {
        let label = beginning(label);
        if below < 0.0 || below > self.range {
            return InvalidValue::BeyondScale { label, scale: self.labels() };
        }
        let nearest = self.label(self.nearest(Stops::new_unchecked(below)));
        InvalidValue::BetweenSettings { label, nearest }
    }

    fn labels(&self) -> LabelRange {
        let (full, least) = (self.label(Stops::ZERO), self.label(Stops::new_unchecked(self.range)));
        match self.style {
            Style::Continuous => LabelRange::Continuous,
            Style::Fraction { .. } => LabelRange::Fractions(full, least),
            _ => LabelRange::Labels(full, least),
        }
    }

    /// The energy at a setting of a unit with energy `full` at full power.
    pub fn energy_at(full: Joules, setting: Stops) -> Joules {
        Joules::new_unchecked(full.get() * (-setting.get()).exp2())
    }
}

/// The values at full and least power on the linear scale: joules for a scale in joules, else percent.
const fn linear_ends(style: Style) -> (f64, f64) {
    match style {
        Style::Joules { full, least } => (full, least),
        Style::Percent { least } => (100.0, least),
        _ => (100.0, 0.0),
    }
}

/// Whether `below` stops is the fraction `least` of full power and `least` is one over a whole number.
fn is_unit_fraction(least: f64, below: f64) -> bool {
    let denominator = 1.0 / least;
    (below + least.log2()).abs() < SAME && (denominator - denominator.round()).abs() < 1e-6 * denominator
}

/// Formats a number with at most `decimals` decimals, without trailing zeros and never `-0`.
fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests;
