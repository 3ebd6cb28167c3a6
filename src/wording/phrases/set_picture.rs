//! The words in the picture of a set: details, tables of points and of lights, plan, and the description.

use crate::{
    light::{
        balance::{Balance, BalanceQuestion, HeldBack, PointRatio, ratio::RatioPair},
        quantity::{
            Metres, Number, Seconds, Stops,
            bounds::{Bounds, F_NUMBER},
            marks::Step,
            nominal::Nominal,
            units::Units,
        },
        set::{exposure::FlashExposure, predict::PredictedRatio, target::TargetSide},
        uncertainty::{Cause, Uncertainty},
        unit::Setting,
    },
    wording::format::{
        self, exposure, format_length, format_stops, hundredths, listed, names, number, rounded_stops,
        signed, signed_stops,
    },
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
/// The heading of the column of meter readings.
pub const METER_READS: &str = "a meter reads";
/// The heading of the errors of a balance.
pub const OFF: &str = "stops off the target";
/// The heading of the errors of a prediction.
pub const OFF_PREDICTED: &str = "stops off the target, or the working exposure";
/// The share of ambient light.
pub const AMBIENT: &str = "ambient";
/// Ambient light, in the legend and the description.
pub const AMBIENT_LIGHT: &str = "ambient light";
/// The mark of a point within tolerance.
pub const ACHIEVED: &str = "achieved";
/// The mark of a point without a target.
pub const LIGHT_THERE: &str = "the light there";
/// The mark of a target that is free to one side.
pub const ONE_SIDED: &str = "at most or at least so much";
/// The mark of a point out of tolerance.
pub const MISSED: &str = "missed";

/// A light that is switched off.
pub const LIGHT_OFF: &str = "off";
/// A light at full power that limits the balance.
pub const AT_FULL: &str = "at full power: this holds the balance back";
/// A light at its least setting that limits the balance.
pub const AT_LEAST: &str = "at its least power: this holds the balance back";
/// A light that keeps its setting.
const HELD: &str = "held, as you asked";

/// A light that burns on.
pub const LAMP: &str = "lamp";

/// A light's setting as text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingText {
    /// Whether the light is switched off.
    pub is_off: bool,
    /// The value to set on the unit.
    pub label: String,
    /// Details of the setting: energy and stops below full power.
    pub details: String,
    /// What matters beside it: that it is held, or an end of its range that limits the balance.
    pub note: String,
}

impl SettingText {
    /// The text of a setting; `None` means that the light is off.
    pub fn from_setting(setting: Option<&Setting>, pops: u32) -> Self {
        let Some(setting) = setting else {
            return Self {
                is_off: true,
                label: LIGHT_OFF.to_owned(),
                details: String::new(),
                note: String::new(),
            };
        };
        let below = setting.stops_below_full.get();
        let below =
            if below == 0.0 { "full".to_owned() } else { format!("{} below full", rounded_stops(below)) };
        let energy = setting.energy_j.map(|energy| format!("{} J", number(energy.get())));
        let pops = if pops > 1 { format!(", {pops} pops") } else { String::new() };
        let label = format::below_full(&setting.label);
        let below = Some(below).filter(|below| *below != label);
        let details: Vec<String> = energy.into_iter().chain(below).collect();
        let label = format!("{label}{pops}");
        Self { is_off: false, label, details: details.join(", "), note: String::new() }
    }

    /// Marks the setting as one that is held.
    #[must_use]
    pub fn held(self) -> Self {
        Self { note: HELD.to_owned(), ..self }
    }

    /// Marks the setting as an end of the light's range.
    #[must_use]
    pub fn at_end(self, end: Option<&str>) -> Self {
        Self { note: end.map_or(self.note, str::to_owned), ..self }
    }

    /// The full text.
    pub fn full_text(&self) -> String {
        parts(&[&self.label, &self.note, &self.details]).replace("; ", ", ")
    }
}

/// Parts of a line, those that are there.
pub fn parts(parts: &[&str]) -> String {
    let parts = parts.iter().copied().filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join("; ")
}

/// What limits a balance, where not every light was tried.
pub fn held_back(held: &HeldBack) -> String {
    let all: Vec<&str> = held.at_full.iter().chain(&held.at_least).map(|entry| entry.name.as_str()).collect();
    if held.complete || all.is_empty() {
        return String::new();
    }
    format!(
        "Lights at the end of their range hold the balance back, {} among them; not every light was tried.",
        names(&all)
    )
}

/// A target, unless it is the working exposure.
pub fn target(target: Stops, side: TargetSide) -> String {
    let stops = signed_stops(target.get());
    match side {
        TargetSide::Both if target.get().abs() < 0.005 => String::new(),
        TargetSide::Both => format!("wanted {stops}"),
        TargetSide::AtMost => format!("at most {stops}"),
        TargetSide::AtLeast => format!("at least {stops}"),
    }
}

/// A target that is a ratio, and the ratio that comes out.
pub fn target_ratio(point: &PointRatio) -> String {
    format!("{} to this: {}", point.to, ratio(point.achieved, Some(point.target)))
}

/// How far a number may be off: `±0.41`, or both ends if they differ.
pub fn spread([low, high]: [f64; 2]) -> String {
    if (low + high).abs() < 0.05 {
        format!("±{}", hundredths(high.max(-low)))
    } else {
        format!("{} to {}", signed(low), signed(high))
    }
}

/// What makes the light at a point uncertain, most first.
pub fn causes(point: &str, uncertainty: &Uncertainty) -> String {
    const MOST: usize = 4;
    let causes = uncertainty.causes.iter().take(MOST).filter(|cause| cause.cause != Cause::Other);
    let causes = causes.map(|cause| {
        let light = cause.light.as_ref().map_or_else(String::new, |light| format!(" of \"{light}\""));
        format!("{}{light} {:.0} %", cause_name(cause.cause), 100.0 * cause.share.get())
    });
    let spread = spread(uncertainty.ends());
    format!("The {spread} at \"{point}\" is most of all: {}.", causes.collect::<Vec<_>>().join(", "))
}

fn cause_name(cause: Cause) -> &'static str {
    match cause {
        Cause::Rating => "the rating",
        Cause::Modifier => "the modifier",
        Cause::Setting => "the dial",
        Cause::Repeatability => "flash to flash",
        Cause::Distance => "the distance",
        Cause::Angle => "the angle",
        Cause::Filter => "the filters",
        Cause::Pack => "the division of the pack",
        Cause::Reflectance => "the boards",
        Cause::Ambient => "the ambient light",
        Cause::Meter => "the meter against the camera",
        Cause::HighSpeedSync => "high-speed sync",
        Cause::Room => "the walls",
        Cause::Comparison => "the comparison",
        Cause::Reading => "the readings",
        Cause::Other => "the rest",
    }
}

/// The points that are not drawn, and the greatest error of them.
pub fn more_points(more: usize, worst: Option<f64>) -> String {
    let points = if more == 1 { "point" } else { "points" };
    match worst {
        Some(worst) => {
            format!("And {more} more {points}, none more than {} off.", rounded_stops(worst.abs()))
        }
        None => format!("And {more} more {points}."),
    }
}

/// Shares that are too small for a letter, in ever fewer words.
pub fn small_shares(lights: usize, percent: f64, most: f64) -> Vec<String> {
    let long = format!("{lights} lights, none over {} %", most.ceil());
    let others = format!("others {}", percent.round());
    if lights == 1 { vec![others] } else { vec![long, others] }
}

/// A pack that a light is on.
pub fn on_pack(pack: &str) -> String {
    format!("on {pack}")
}

/// How high a light stands, where it stands in several places.
pub fn up(heights: &[String]) -> String {
    const MOST: usize = 3;
    match heights {
        [] => String::new(),
        heights if heights.len() > MOST => format!("{} up, and more", heights[..MOST].join(", ")),
        heights => format!("{} up", heights.join(", ")),
    }
}

/// The exposure of a prediction, and the loss in the lens.
pub fn prediction_details(
    flash: FlashExposure,
    time: Option<Seconds>,
    step: Step,
    lens: Stops,
    ratios: &[PredictedRatio],
) -> String {
    let lens = lens.get();
    let lens = if lens == 0.0 { String::new() } else { format!("; the lens {} stops", signed(lens)) };
    let ratios = ratios.iter().take(3).map(|pair| {
        let PredictedRatio { point, to, target, achieved, .. } = pair;
        format!("; {to} to {point} is {}", ratio(*achieved, *target))
    });
    format!("{}{lens}{}", exposure(flash, time, step), ratios.collect::<String>())
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
        f_number.meter.clone().unwrap_or_else(|| f_number.label())
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
