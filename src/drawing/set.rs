//! The picture of a set: the light at each point, the setting of each light, and a plan if positions are known.

pub(crate) mod lights;
pub(crate) mod places;
pub(crate) mod plan;
pub(crate) mod points;

use self::{lights::SettingText, places::LightPosition};
use crate::{
    drawing::canvas::{
        notes, paragraph,
        sheet::{GREY, NORMAL, Picture, TextStyle},
    },
    light::{
        balance::{Balance, PointRatio, Question as Balancing, ratio::RatioPair, setup::Control},
        quantity::{
            Number, Stops,
            bounds::{Bounds, F_NUMBER},
            nominal::Nominal,
            units::Units,
        },
        remark::Remark,
        remedy::Remedy,
        set::{
            LightMatrix, Scene,
            predict::{self, Lens, LightSetting, Prediction, Question as Predicting, Spread},
        },
    },
    wording::{
        format::{self, format_stops, listed},
        phrases,
    },
};

/// The width of the sheet, px.
pub const WIDTH: f64 = 900.0;
/// The margin at each side, px.
pub const MARGIN: f64 = 20.0;
/// The most ratios between points that are listed.
const MAX_RATIOS: usize = 3;
/// The most shares of light at a point in the description.
const MAX_SHARES: usize = 4;

/// A metering point, prepared for drawing.
pub struct Point<'a> {
    /// Its name.
    pub name: &'a str,
    /// The target, stops relative to the working exposure.
    pub target: Option<f64>,
    /// The light at the point, stops relative to the working exposure, or `None` if no light reaches it.
    pub stops: Option<f64>,
    /// The approximate meter reading.
    pub reads: String,
    /// The error in stops, positive if too bright: against the target, or against the working exposure if there is no
    /// target.
    pub error: Option<f64>,
    /// The uncertainty of the light.
    pub uncertainty: Option<Spread>,
    /// The share of each light, and that of the ambient light.
    pub shares: Vec<Share>,
}

impl Point<'_> {
    /// The gap from the nearest value within tolerance to the achieved value, stops, or `None` if the point is within
    /// tolerance or has no target.
    pub fn miss(&self, tolerance: Option<Stops>) -> Option<[f64; 2]> {
        let ((target, stops), tolerance) = (self.target.zip(self.stops)?, tolerance?.get());
        let right = stops.clamp(target - tolerance, target + tolerance);
        ((stops - right).abs() > 1e-9).then_some([right, stops])
    }

    /// The error as text: `0.33 under`.
    pub fn off(&self) -> String {
        self.error.map_or_else(|| "no light".to_owned(), format::off)
    }
}

/// The share of one light at one point.
#[derive(Debug, Clone, Copy, Default)]
pub struct Share {
    /// The share of the light at the point, percent.
    pub percent: f64,
    /// This light alone, stops relative to the working exposure, or `None` if it gives no light.
    pub stops: Option<f64>,
}

/// A set, prepared for drawing.
pub struct Set<'a> {
    /// Lights and points.
    pub scene: &'a Scene,
    /// The light of each light at each point.
    pub matrix: LightMatrix,
    /// The positions of lights.
    pub places: Vec<LightPosition>,
    /// The setting of each light.
    pub settings: Vec<SettingText>,
    /// The points.
    pub points: Vec<Point<'a>>,
    /// The tolerance around the targets.
    pub tolerance: Option<Stops>,
    /// The units of lengths.
    pub units: Units,
}

/// Draws an answer of `exposure/predict`.
pub fn predict(question: &Predicting, answer: &Prediction) -> Picture {
    let points = answer.points.iter().map(|point| Point {
        name: &point.name,
        target: None,
        stops: point.exposure_error_stops.map(Stops::get),
        reads: point.f_number.as_ref().map_or_else(String::new, reads),
        error: point.exposure_error_stops.map(Stops::get),
        uncertainty: point.uncertainty_stops,
        shares: shares(point),
    });
    let settings =
        answer.settings.iter().map(|light| SettingText::from_setting(light.setting.as_ref(), light.pops));
    let set = Set {
        scene: &question.scene,
        matrix: question.scene.light(&mut Vec::new()),
        places: places::light_positions(&question.scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: None,
        units: question.units,
    };
    let lens = answer.lens_stops.get();
    let lens = if lens == 0.0 { String::new() } else { format!("; the lens {} stops", format::signed(lens)) };
    let exposure = format::exposure(question.scene.exposure, question.scene.exposure_time, question.step);
    let details = format!("{exposure}{lens}");
    draw("Light at each point", "", &details, &set, &[], answer.warnings.iter().chain(&answer.cautions))
}

/// Draws an answer of `ratios/balance`.
pub fn balance(question: &Balancing, answer: &Balance) -> Picture {
    let scene = &question.set.scene;
    let lamplight = answer.settings.iter().zip(&question.set.controls).map(|(light, control)| LightSetting {
        below: light.setting.as_ref().map(|setting| setting.stops_below_full),
        pops: control.pops,
    });
    // The share of each light at these settings.
    let predicted = predict::predict(&Predicting {
        scene: scene.clone(),
        lamplight: lamplight.collect(),
        lens: Lens::default(),
        step: question.set.step,
        units: question.set.units,
    });
    let predicted = predicted.map(|answer| answer.points).unwrap_or_default();
    let points = answer.points.iter().enumerate().map(|(index, point)| Point {
        name: &point.name,
        target: Some(point.target_stops.get()),
        stops: Some(point.achieved_stops.get()),
        reads: point.f_number.as_ref().map_or_else(String::new, reads),
        error: Some(point.error_stops.get()),
        uncertainty: point.uncertainty_stops,
        shares: predicted.get(index).map(shares).unwrap_or_default(),
    });
    let controls = answer.settings.iter().zip(&question.set.controls);
    let held = &answer.held_back_by;
    let settings = controls.map(|(light, control)| {
        let ends = [(&held.at_full, "at its full"), (&held.at_least, "at its least")];
        let end = ends.into_iter().find(|(names, _)| names.contains(&light.light));
        let text = SettingText::from_setting(light.setting.as_ref(), control.pops);
        let text = if control.fixed.is_some() { text.fixed() } else { text };
        SettingText { end: end.map(|(_, text)| text), ..text }
    });
    let set = Set {
        scene,
        matrix: scene.light(&mut Vec::new()),
        places: places::light_positions(scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: Some(question.tolerance),
        units: question.set.units,
    };
    let is_open = question.set.controls.iter().any(Control::is_open);
    let proven = match (is_open, answer.optimality.proven) {
        (false, _) => "every light is fixed",
        (true, true) => "proven the best",
        (true, false) => "the best found",
    };
    let ratio = answer.ratio.as_ref().map_or_else(String::new, |ratio| {
        let pair = |pair: &RatioPair| ratio_text(pair.achieved, pair.target);
        format!("; by sides {}; each light alone {}", pair(&ratio.sides), pair(&ratio.lights))
    });
    let between = answer.points.iter().filter_map(|point| {
        let PointRatio { to, target, achieved } = point.ratio.as_ref()?;
        Some(format!("{to} to {} is {}", point.name, ratio_text(*achieved, Some(*target))))
    });
    let between = listed(between.collect::<Vec<_>>().into_iter(), MAX_RATIOS);
    let between = if between.is_empty() { between } else { format!("; {between}") };
    let details = format!(
        "{}; {proven}{ratio}{between}",
        format::exposure(scene.exposure, scene.exposure_time, question.set.step)
    );
    let remarks = answer.warnings.iter().chain(&answer.cautions);
    let verdict = verdict(&set, question.tolerance, answer.feasible);
    draw("Balance of the lights", &verdict, &details, &set, &answer.remedies, remarks)
}

/// The achieved ratio, and the target if there is one.
fn ratio_text(achieved: Option<Number>, target: Option<Number>) -> String {
    let format = |ratio: Number| format!("{}:1", format::number(ratio.get()));
    let achieved = achieved.map_or_else(|| "without end".to_owned(), format);
    target.map_or_else(|| achieved.clone(), |target| format!("{achieved}, wanted {}", format(target)))
}

/// A sentence on how well the points meet their targets.
fn verdict(set: &Set<'_>, tolerance: Stops, is_feasible: bool) -> String {
    let far = |point: &Point<'_>| point.error.unwrap_or_default().abs();
    let Some(worst) = set.points.iter().max_by(|one, other| far(one).total_cmp(&far(other))) else {
        return String::new();
    };
    let within = format_stops(tolerance.get());
    let missed = set.points.iter().filter(|point| point.miss(set.tolerance).is_some()).count();
    let off = format::stops_off(worst.error.unwrap_or_default());
    let farthest = format!("; the farthest off, {}, is {off}", worst.name);
    match (missed, set.points.len()) {
        (0, _) if !is_feasible => "No lights make the ratio that is asked for.".to_owned(),
        (0, 1) => format!("The point is within {within} of what is wanted."),
        (0, _) => format!("Every point is within {within} of what is wanted{farthest}."),
        (_, 1) => format!("The point is missed: it is {off}."),
        (missed, all) => format!("{missed} of {all} points missed by more than {within}{farthest}."),
    }
}

/// A sentence on the uncertainty of the light, or an empty string if nothing was estimated.
fn uncertainty_sentence(set: &Set<'_>) -> String {
    let spreads = || set.points.iter().filter_map(|point| point.uncertainty);
    let low = spreads().map(|spread| spread.low.get()).fold(0.0, f64::min);
    let high = spreads().map(|spread| spread.high.get()).fold(0.0, f64::max);
    if low == 0.0 && high == 0.0 {
        return String::new();
    }
    let (low, high) = (format::signed(low), format::signed(high));
    format!("Some of it is an estimate: the light may be {low} to {high} stops off what is told here.")
}

/// The meter reading; `<` or `>` the limit if it lies outside the range of f-numbers.
fn reads(f_number: &Nominal) -> String {
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

fn shares(point: &predict::PredictedPoint) -> Vec<Share> {
    let to_share = |percent: Number, stops: Option<Stops>| Share {
        percent: percent.get(),
        stops: stops.map(Stops::get),
    };
    let ambient = point.ambient.iter().map(|ambient| to_share(ambient.percent, ambient.stops));
    point.contributions.iter().map(|share| to_share(share.percent, share.stops)).chain(ambient).collect()
}

fn draw<'r>(
    title: &str,
    verdict: &str,
    details: &str,
    set: &Set<'_>,
    remedies: &[Remedy],
    remarks: impl Iterator<Item = &'r Remark>,
) -> Picture {
    let uncertainty = uncertainty_sentence(set);
    let mut picture = Picture::new(WIDTH, title, &description(&[verdict, &uncertainty], details, set));
    let (style, room) = (TextStyle::new(NORMAL), WIDTH - 2.0 * MARGIN);
    let mut y = 54.0;
    for (style, text) in [(style.bold(), verdict), (style, &uncertainty), (style.in_colour(GREY), details)] {
        y = paragraph::write(&mut picture, [MARGIN, y], style, room, 18.0, text);
    }
    y = points::draw(&mut picture, set, y + 6.0);
    let remedies: Vec<String> = remedies.iter().map(phrases::remedy).collect();
    if !remedies.is_empty() {
        y = notes::list(&mut picture, y + 20.0, "One of these would do it", &remedies, 0) - 14.0;
    }
    y = lights::draw(&mut picture, set, y + 26.0);
    y = plan::draw(&mut picture, set, y + 14.0);
    notes::finish(&mut picture, y + 20.0, remarks);
    picture
}

/// The description for screen readers.
fn description(summary: &[&str], details: &str, set: &Set<'_>) -> String {
    let lights = &set.scene.lights;
    let name = |index: usize| lights.get(index).map_or("ambient light", |lamp| lamp.name.as_str());
    let points = set.points.iter().map(|point| {
        let mut shares: Vec<(usize, f64)> =
            point.shares.iter().map(|share| share.percent).enumerate().collect();
        shares.retain(|(_, percent)| percent.round() > 0.0);
        shares.sort_by(|a, b| b.1.total_cmp(&a.1));
        let shares =
            shares.into_iter().map(|(index, percent)| format!("{} {} %", name(index), percent.round()));
        let shares = listed(shares, MAX_SHARES);
        let shares = if shares.is_empty() { shares } else { format!(" ({shares})") };
        let uncertainty = point.uncertainty.map_or_else(String::new, |spread| {
            let [low, high] = [spread.low, spread.high].map(|stops| format::signed(stops.get()));
            format!(", may be {low} to {high} off that")
        });
        let reads = if point.reads.is_empty() { String::new() } else { format!("about {}, ", point.reads) };
        format!("{}: {reads}{}{uncertainty}{shares}", point.name, point.off())
    });
    let lights = lights.iter().zip(&set.settings).enumerate().map(|(index, (lamp, setting))| {
        let distances = lights::distances(set, index, |spot| set.scene.points[spot].name.clone());
        let distances = if distances.is_empty() { distances } else { format!(" ({distances})") };
        format!("{}: {}{distances}", lamp.name, setting.full_text())
    });
    let points: Vec<String> = points.collect();
    let lights: Vec<String> = lights.collect();
    let summary = summary.iter().copied().filter(|sentence| !sentence.is_empty());
    let summary = summary.chain([details]).collect::<Vec<_>>().join(" ");
    format!("{summary}. Points: {}. Lights: {}.", points.join("; "), lights.join("; "))
}
