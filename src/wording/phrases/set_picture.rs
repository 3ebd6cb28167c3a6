//! The words in the picture of a set: details, tables of points and of lights, plan, and the description.

use crate::{
    light::{
        balance::{Balance, BalanceQuestion, PointRatio, ratio::RatioPair},
        quantity::{
            Metres, Number, Seconds, Stops,
            bounds::{Bounds, F_NUMBER},
            marks::Step,
            nominal::Nominal,
            units::Units,
        },
        set::exposure::FlashExposure,
        unit::Setting,
    },
    wording::format::{self, exposure, format_length, format_stops, listed, number, signed},
};

/// The title of a prediction.
pub const PREDICTION: &str = "Light at each point";
/// The title of a balance.
pub const BALANCE: &str = "Balance of the lights";
/// The heading of the list of remedies.
pub const REMEDIES: &str = "One of these would do it";

/// The heading of the column of points.
pub const POINT: &str = "point";
/// The heading of the column of shares.
pub const SHARES: &str = "whose light it is, %";
/// The heading of the column of stops.
pub const STOPS: &str = "stops against the working exposure";
/// The heading of the column of meter readings, in two lines.
pub const METER_READS: [&str; 2] = ["a meter", "reads about"];
/// The heading of the column of errors.
pub const OFF: &str = "off, stops";
/// The share of ambient light.
pub const AMBIENT: &str = "ambient";
/// Ambient light, in the legend and the description.
pub const AMBIENT_LIGHT: &str = "ambient light";
/// The sum of small shares.
pub const OTHERS: &str = "others";
/// The sum of small shares, in the legend.
pub const SMALL_SHARES: &str = "others, each too little for a letter";
/// The mark of a point within tolerance.
pub const ACHIEVED: &str = "achieved";
/// The mark of a point without a target.
pub const LIGHT_THERE: &str = "the light there";
/// The mark of a target that is free to one side.
pub const ONE_SIDED: &str = "at most or at least so much";
/// The mark of a point out of tolerance.
pub const MISSED: &str = "missed";

/// The heading of the column of lights.
pub const LIGHT: &str = "light";
/// The heading of the column of settings.
pub const SET_TO: &str = "set to";
/// The heading of the column of heights.
pub const HEIGHT: &str = "up";
/// The heading of the column of distances.
pub const DISTANCES: &str = "how far from the nearest points, or metered there";
/// A light that is switched off.
pub const LIGHT_OFF: &str = "off";
/// A light at full power that limits the balance.
pub const AT_FULL: &str = "at its full";
/// A light at its least setting that limits the balance.
pub const AT_LEAST: &str = "at its least";

/// The title of the plan.
pub const PLAN: &str = "The set from above";
/// The line to the point where a light gives most.
pub const STRONGEST: &str = "where a light gives most";
/// The line to another point.
pub const OTHER_POINTS: &str = "other points it lights";
/// A board that reflects.
pub const BOARD: &str = "board";
/// A board that lies level.
pub const CEILING: &str = "ceiling, or level board";
/// What hides lights.
pub const BLOCKER: &str = "hides what is behind it";
/// A light that burns on.
pub const LAMP: &str = "lamp";
/// The arrow of a light's aim or of the direction that a point faces.
pub const AIM: &str = "aim, or facing";

/// A light's setting as text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingText {
    /// Whether the light is switched off.
    pub is_off: bool,
    /// The value to set on the unit.
    pub label: String,
    /// Details of the setting: energy and stops below full power.
    pub details: String,
    /// Which end of its range the light is at, if that limits the balance.
    pub end: Option<&'static str>,
}

impl SettingText {
    /// The text of a setting; `None` means that the light is off.
    pub fn from_setting(setting: Option<&Setting>, pops: u32) -> Self {
        let Some(setting) = setting else {
            return Self { is_off: true, label: LIGHT_OFF.to_owned(), details: String::new(), end: None };
        };
        let below = setting.stops_below_full.get();
        let below = if below == 0.0 { "full".to_owned() } else { format!("{} below full", number(below)) };
        let energy = setting.energy_j.map(|energy| format!("{} J", number(energy.get())));
        let pops = if pops > 1 { format!(", {pops} pops") } else { String::new() };
        let below = Some(below).filter(|below| *below != setting.label);
        let details: Vec<String> = energy.into_iter().chain(below).collect();
        let label = format!("{}{pops}", setting.label);
        Self { is_off: false, label, details: details.join(", "), end: None }
    }

    /// Marks the setting as fixed, unless the light is off.
    #[must_use]
    pub fn fixed(self) -> Self {
        if self.is_off {
            return self;
        }
        let joint = if self.details.is_empty() { "" } else { ", " };
        Self { details: format!("fixed{joint}{}", self.details), ..self }
    }

    /// The full text.
    pub fn full_text(&self) -> String {
        let details = [self.details.as_str(), self.end.unwrap_or_default()];
        let details = details.into_iter().filter(|text| !text.is_empty());
        std::iter::once(self.label.as_str()).chain(details).collect::<Vec<_>>().join(", ")
    }
}

/// A sentence on the uncertainty of the light, from the lowest error to the highest; empty if nothing is uncertain.
pub fn uncertainty([low, high]: [f64; 2]) -> String {
    if low == 0.0 && high == 0.0 {
        return String::new();
    }
    let (low, high) = (signed(low), signed(high));
    format!("The light may be {low} to {high} stops off what is told here.")
}

/// The exposure of a prediction, and the loss in the lens.
pub fn prediction_details(flash: FlashExposure, time: Option<Seconds>, step: Step, lens: Stops) -> String {
    let lens = lens.get();
    let lens = if lens == 0.0 { String::new() } else { format!("; the lens {} stops", signed(lens)) };
    format!("{}{lens}", exposure(flash, time, step))
}

/// The exposure of a balance, whether it is the best, and its ratios; of those between points at most this many.
pub fn balance_details(question: &BalanceQuestion, answer: &Balance, most_ratios: usize) -> String {
    let scene = &question.scene;
    let is_open = scene.lights.iter().any(|light| light.control.is_open());
    let proven = match (is_open, answer.optimality.proven) {
        (false, _) => "every light is fixed",
        (true, true) => "proven the best",
        (true, false) => "the best found",
    };
    let sides = answer.ratio.as_ref().map_or_else(String::new, |both| {
        let pair = |pair: &RatioPair| ratio(pair.achieved, pair.target);
        format!("; by sides {}; each light alone {}", pair(&both.sides), pair(&both.lights))
    });
    let between = answer.points.iter().filter_map(|point| {
        let PointRatio { to, target, achieved, .. } = point.ratio.as_ref()?;
        Some(format!("{to} to {} is {}", point.name, ratio(*achieved, Some(*target))))
    });
    let between = listed(between.collect::<Vec<_>>().into_iter(), most_ratios);
    let between = if between.is_empty() { between } else { format!("; {between}") };
    let exposure = exposure(scene.exposure, scene.exposure_time, question.rules.step);
    format!("{exposure}; {proven}{sides}{between}")
}

/// The achieved ratio, and the target if there is one.
fn ratio(achieved: Option<Number>, target: Option<Number>) -> String {
    let format = |ratio: Number| format!("{}:1", number(ratio.get()));
    let achieved = achieved.map_or_else(|| "without end".to_owned(), format);
    target.map_or_else(|| achieved.clone(), |target| format!("{achieved}, wanted {}", format(target)))
}

/// The meter reading; `<` or `>` the limit if it lies outside the range of f-numbers.
pub fn reads(f_number: &Nominal) -> String {
    let Bounds { least, greatest, .. } = F_NUMBER;
    let value = f_number.value.get();
    if value < least {
        format!("< f/{least}")
    } else if value > greatest {
        format!("> f/{greatest}")
    } else {
        f_number.label()
    }
}

/// The error of a point; `None` if no light reaches it.
pub fn off(error: Option<f64>) -> String {
    error.map_or_else(|| "no light".to_owned(), format::off)
}

/// The label of a share.
pub fn share(name: &str, percent: f64) -> String {
    format!("{name} {}", percent.round())
}

/// The mark of a target, with its tolerance.
pub fn wanted(tolerance: Stops) -> String {
    format!("wanted, within {}", format_stops(tolerance.get()))
}

/// A light's name, with its unit's if that is another one.
pub fn light_and_unit(light: &str, unit: Option<&str>) -> String {
    match unit.filter(|unit| *unit != light) {
        Some(unit) => format!("{light} ({unit})"),
        None => light.to_owned(),
    }
}

/// The distances of a light from points, nearest first, and the points where it was metered (`None`):
/// `1: 2.1 m, 3: metered`. At most this many are listed.
pub fn distances(points: &[(String, Option<Metres>)], units: Units, most: usize) -> String {
    let more = points.len().saturating_sub(most);
    let each = points.iter().take(most).map(|(point, distance)| {
        let distance = distance.map_or_else(|| "metered".to_owned(), |length| format_length(length, units));
        // No-break spaces keep a label and its distance on one line.
        format!("{point} {distance}").replace(' ', "\u{a0}")
    });
    let more = (more > 0).then(|| format!("and {more} more"));
    each.chain(more).collect::<Vec<_>>().join(", ")
}

/// The title of the horizontal axis of the plan, with the step of the grid.
pub fn plan_x(units: Units, step: f64) -> String {
    let unit = units.unit();
    format!("x, {unit}; grid of {} {unit}", number(step))
}

/// The title of the vertical axis of the plan.
pub fn plan_y(units: Units) -> String {
    format!("y, away, {}", units.unit())
}

/// A metering point in the description.
#[derive(Debug, Clone, Copy)]
pub struct DescribedPoint<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its meter reading, or an empty string.
    pub reads: &'a str,
    /// Its error, stops.
    pub error: Option<f64>,
    /// The uncertainty of its light.
    pub uncertainty: Option<[f64; 2]>,
}

impl DescribedPoint<'_> {
    /// The text, with the lights that give most and their shares in percent; at most this many.
    pub fn text(&self, shares: &[(&str, f64)], most: usize) -> String {
        let shares = shares.iter().map(|(light, percent)| format!("{} %", share(light, *percent)));
        let shares = listed(shares, most);
        let shares = if shares.is_empty() { shares } else { format!(" ({shares})") };
        let uncertainty = self.uncertainty.map_or_else(String::new, |ends| {
            let [low, high] = ends.map(signed);
            format!(", may be {low} to {high} off that")
        });
        let reads = if self.reads.is_empty() { String::new() } else { format!("about {}, ", self.reads) };
        format!("{}: {reads}{}{uncertainty}{shares}", self.name, off(self.error))
    }
}

/// A light in the description.
pub fn described_light(name: &str, setting: &SettingText, distances: &str) -> String {
    let distances = if distances.is_empty() { String::new() } else { format!(" ({distances})") };
    format!("{name}: {}{distances}", setting.full_text())
}

/// The description for screen readers.
pub fn description(
    summary: &[&str],
    details: &str,
    points: &[String],
    lights: &[String],
    around: &str,
) -> String {
    let summary = summary.iter().copied().filter(|sentence| !sentence.is_empty());
    let summary = summary.chain([details]).collect::<Vec<_>>().join(" ");
    format!("{summary}. Points: {}. Lights: {}.{around}", points.join("; "), lights.join("; "))
}

/// The heads on a pack, by their letters.
pub fn heads_of(pack: &str, heads: &[String]) -> String {
    format!("on {pack}: {}", heads.join(", "))
}

/// Packs with the number of their heads, boards, and what hides lights, for screen readers.
pub fn described_around<'n>(
    packs: impl Iterator<Item = (&'n str, usize)>,
    boards: impl Iterator<Item = &'n str>,
    blockers: impl Iterator<Item = &'n str>,
) -> String {
    let sentence = |head: &str, names: Vec<String>| match names.as_slice() {
        [] => String::new(),
        names => format!(" {head}: {}.", names.join("; ")),
    };
    [
        sentence("Packs, with their heads", packs.map(|(name, heads)| format!("{name}, {heads}")).collect()),
        sentence("Boards", boards.map(str::to_owned).collect()),
        sentence("What hides lights", blockers.map(str::to_owned).collect()),
    ]
    .concat()
}
