//! A set of lights: the light at each point, what each light is set to, and a plan from above where places are known.

pub(crate) mod lights;
pub(crate) mod places;
pub(crate) mod plan;
pub(crate) mod points;

use self::{lights::Said, places::Standing};
use crate::{
    drawing::canvas::{
        notes, paragraph,
        sheet::{GREY, Picture, Type, USUAL},
        text,
    },
    light::{
        balance::{Balance, PointRatio, Question as Balancing, ratio::RatioPair, setup::Control},
        quantity::{
            Number, Stops,
            bounds::{Bounds, F_NUMBER},
            nominal::{Nominal, stops_said},
            units::Units,
        },
        remark::{Remark, Remedy, listed},
        set::{
            LightMatrix, Scene,
            predict::{self, Lamplight, Lens, Prediction, Question as Predicting, Spread},
        },
    },
};

/// How wide the sheet is, px.
pub const WIDTH: f64 = 900.0;
/// Room at its sides.
pub const MARGIN: f64 = 20.0;
/// Ratios between points that are told.
const RATIOS: usize = 3;
/// Parts of the light at a point that a screen reader says.
const PARTS_DESCRIBED: usize = 4;

/// One point, as it is drawn.
pub struct Point<'a> {
    /// Its name.
    pub name: &'a str,
    /// What is wanted, stops against the working exposure.
    pub target: Option<f64>,
    /// What it gets; none where no light reaches it.
    pub stops: Option<f64>,
    /// What a meter reads there, about.
    pub reads: String,
    /// How far that is from what is wanted, or from the working exposure where nothing is, stops; + is too bright.
    pub error: Option<f64>,
    /// How far it may be off.
    pub uncertainty: Option<Spread>,
    /// Each light's part, and that of the ambient light.
    pub parts: Vec<Part>,
}

impl Point<'_> {
    /// Where it misses what is wanted: from the nearest light that is right to the light that it gets, stops.
    pub fn misses(&self, tolerance: Option<Stops>) -> Option<[f64; 2]> {
        let ((target, stops), tolerance) = (self.target.zip(self.stops)?, tolerance?.get());
        let right = stops.clamp(target - tolerance, target + tolerance);
        ((stops - right).abs() > 1e-9).then_some([right, stops])
    }

    /// How far off it is: `0.33 under`.
    pub fn off(&self) -> String {
        self.error.map_or_else(|| "no light".to_owned(), text::off)
    }
}

/// What one light gives at one point.
#[derive(Debug, Clone, Copy, Default)]
pub struct Part {
    /// Of the light at the point, percent.
    pub percent: f64,
    /// Alone, stops against the working exposure; none where it is nothing.
    pub stops: Option<f64>,
}

/// A set, as it is drawn.
pub struct Set<'a> {
    /// Lights and points.
    pub scene: &'a Scene,
    /// What stands where.
    pub lit: LightMatrix,
    /// Where lights stand.
    pub places: Vec<Standing>,
    /// What each light is set to, and what that is.
    pub settings: Vec<Said>,
    /// The points.
    pub points: Vec<Point<'a>>,
    /// How far off the target is still right.
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
        parts: parts(point),
    });
    let settings = answer.settings.iter().map(|light| Said::of(light.setting.as_ref(), light.pops));
    let set = Set {
        scene: &question.scene,
        lit: question.scene.light(&mut Vec::new()),
        places: places::of(&question.scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: None,
        units: question.units,
    };
    let lens = answer.lens_stops.get();
    let lens = if lens == 0.0 { String::new() } else { format!("; the lens {} stops", text::signed(lens)) };
    let exposure = question.scene.exposure.said(question.scene.exposure_time, question.step);
    let said = format!("{exposure}{lens}");
    draw("Light at each point", "", &said, &set, &[], answer.warnings.iter().chain(&answer.cautions))
}

/// Draws an answer of `ratios/balance`.
pub fn balance(question: &Balancing, answer: &Balance) -> Picture {
    let scene = &question.set.scene;
    let lamplight = answer.settings.iter().zip(&question.set.controls).map(|(light, control)| Lamplight {
        below: light.setting.as_ref().map(|setting| setting.stops_below_full),
        pops: control.pops,
    });
    // Who gives how much at these settings.
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
        parts: predicted.get(index).map(parts).unwrap_or_default(),
    });
    let controls = answer.settings.iter().zip(&question.set.controls);
    let held = &answer.held_back_by;
    let settings = controls.map(|(light, control)| {
        let ends = [(&held.at_full, "at its full"), (&held.at_least, "at its least")];
        let end = ends.into_iter().find(|(names, _)| names.contains(&light.light));
        let said = Said::of(light.setting.as_ref(), control.pops);
        let said = if control.fixed.is_some() { said.fixed() } else { said };
        Said { end: end.map(|(_, said)| said), ..said }
    });
    let set = Set {
        scene,
        lit: scene.light(&mut Vec::new()),
        places: places::of(scene),
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
        let pair = |pair: &RatioPair| to_one(pair.achieved, pair.target);
        format!("; by sides {}; each light alone {}", pair(&ratio.sides), pair(&ratio.lights))
    });
    let between = answer.points.iter().filter_map(|point| {
        let PointRatio { to, target, achieved } = point.ratio.as_ref()?;
        Some(format!("{to} to {} is {}", point.name, to_one(*achieved, Some(*target))))
    });
    let between = listed(between.collect::<Vec<_>>().into_iter(), RATIOS);
    let between = if between.is_empty() { between } else { format!("; {between}") };
    let said =
        format!("{}; {proven}{ratio}{between}", scene.exposure.said(scene.exposure_time, question.set.step));
    let remarks = answer.warnings.iter().chain(&answer.cautions);
    let verdict = verdict(&set, question.tolerance, answer.feasible);
    draw("Balance of the lights", &verdict, &said, &set, &answer.remedies, remarks)
}

/// A ratio as it came out, and as it was wanted, where any lights do that.
fn to_one(achieved: Option<Number>, wanted: Option<Number>) -> String {
    let said = |ratio: Number| format!("{}:1", text::number(ratio.get()));
    let achieved = achieved.map_or_else(|| "without end".to_owned(), said);
    wanted.map_or_else(|| achieved.clone(), |wanted| format!("{achieved}, wanted {}", said(wanted)))
}

/// How near the points come, in a sentence.
fn verdict(set: &Set<'_>, tolerance: Stops, is_feasible: bool) -> String {
    let far = |point: &Point<'_>| point.error.unwrap_or_default().abs();
    let Some(worst) = set.points.iter().max_by(|one, other| far(one).total_cmp(&far(other))) else {
        return String::new();
    };
    let within = stops_said(tolerance.get());
    let missed = set.points.iter().filter(|point| point.misses(set.tolerance).is_some()).count();
    let off = text::stops_off(worst.error.unwrap_or_default());
    let farthest = format!("; the farthest off, {}, is {off}", worst.name);
    match (missed, set.points.len()) {
        (0, _) if !is_feasible => "No lights make the ratio that is asked for.".to_owned(),
        (0, 1) => format!("The point is within {within} of what is wanted."),
        (0, _) => format!("Every point is within {within} of what is wanted{farthest}."),
        (_, 1) => format!("The point is missed: it is {off}."),
        (missed, all) => format!("{missed} of {all} points missed by more than {within}{farthest}."),
    }
}

/// How far the light may be off, in a sentence; nothing where nothing was estimated.
fn doubt(set: &Set<'_>) -> String {
    let spreads = || set.points.iter().filter_map(|point| point.uncertainty);
    let low = spreads().map(|spread| spread.low.get()).fold(0.0, f64::min);
    let high = spreads().map(|spread| spread.high.get()).fold(0.0, f64::max);
    if low == 0.0 && high == 0.0 {
        return String::new();
    }
    let (low, high) = (text::signed(low), text::signed(high));
    format!("Some of it is an estimate: the light may be {low} to {high} stops off what is told here.")
}

/// What a meter reads; beyond the f-numbers that there are, on which side.
fn reads(f_number: &Nominal) -> String {
    let Bounds { least, greatest, .. } = F_NUMBER;
    let value = f_number.value.get();
    if value < least {
        format!("< f/{least}")
    } else if value > greatest {
        format!("> f/{greatest}")
    } else {
        f_number.said()
    }
}

fn parts(point: &predict::PredictedPoint) -> Vec<Part> {
    let part =
        |percent: Number, stops: Option<Stops>| Part { percent: percent.get(), stops: stops.map(Stops::get) };
    let ambient = point.ambient.iter().map(|ambient| part(ambient.percent, ambient.stops));
    point.contributions.iter().map(|share| part(share.percent, share.stops)).chain(ambient).collect()
}

fn draw<'r>(
    title: &str,
    verdict: &str,
    said: &str,
    set: &Set<'_>,
    remedies: &[Remedy],
    remarks: impl Iterator<Item = &'r Remark>,
) -> Picture {
    let doubt = doubt(set);
    let mut picture = Picture::new(WIDTH, title, &described(&[verdict, &doubt], said, set));
    let (style, room) = (Type::new(USUAL), WIDTH - 2.0 * MARGIN);
    let mut y = 54.0;
    for (style, words) in [(style.bold(), verdict), (style, &doubt), (style.in_colour(GREY), said)] {
        y = paragraph::write(&mut picture, [MARGIN, y], style, room, 18.0, words);
    }
    y = points::draw(&mut picture, set, y + 6.0);
    let remedies: Vec<String> = remedies.iter().map(|remedy| remedy.detail.clone()).collect();
    if !remedies.is_empty() {
        y = notes::under(&mut picture, y + 20.0, "One of these would do it", &remedies, 0) - 14.0;
    }
    y = lights::draw(&mut picture, set, y + 26.0);
    y = plan::draw(&mut picture, set, y + 14.0);
    notes::end(&mut picture, y + 20.0, remarks);
    picture
}

/// The same for those who do not see it.
fn described(told: &[&str], said: &str, set: &Set<'_>) -> String {
    let lamps = &set.scene.lamps;
    let name = |index: usize| lamps.get(index).map_or("ambient light", |lamp| lamp.name.as_str());
    let points = set.points.iter().map(|point| {
        let mut parts: Vec<(usize, f64)> = point.parts.iter().map(|part| part.percent).enumerate().collect();
        parts.retain(|(_, percent)| percent.round() > 0.0);
        parts.sort_by(|a, b| b.1.total_cmp(&a.1));
        let parts =
            parts.into_iter().map(|(index, percent)| format!("{} {} %", name(index), percent.round()));
        let parts = listed(parts, PARTS_DESCRIBED);
        let parts = if parts.is_empty() { parts } else { format!(" ({parts})") };
        let doubt = point.uncertainty.map_or_else(String::new, |spread| {
            let [low, high] = [spread.low, spread.high].map(|stops| text::signed(stops.get()));
            format!(", may be {low} to {high} off that")
        });
        let reads = if point.reads.is_empty() { String::new() } else { format!("about {}, ", point.reads) };
        format!("{}: {reads}{}{doubt}{parts}", point.name, point.off())
    });
    let lights = lamps.iter().zip(&set.settings).enumerate().map(|(index, (lamp, setting))| {
        let far = lights::distances(set, index, |spot| set.scene.spots[spot].name.clone());
        let far = if far.is_empty() { far } else { format!(" ({far})") };
        format!("{}: {}{far}", lamp.name, setting.whole())
    });
    let points: Vec<String> = points.collect();
    let lights: Vec<String> = lights.collect();
    let told = told.iter().copied().filter(|told| !told.is_empty());
    let told = told.chain([said]).collect::<Vec<_>>().join(" ");
    format!("{told}. Points: {}. Lights: {}.", points.join("; "), lights.join("; "))
}
