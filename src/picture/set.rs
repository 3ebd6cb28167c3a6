//! A set of lights: the light at each point, what each light is set to, and a plan from above where places are known.

use super::{
    lights, notes, paragraph,
    places::{self, Standing},
    plan, points,
    sheet::{GREY, Picture, Type, USUAL},
    text,
};
use crate::light::{
    balance::{Balance, Question as Balancing, RatioPair},
    dialled::stops_said,
    predict::{self, Lamplight, Lens, Prediction, Question as Predicting, Spread},
    quantity::{Number, Stops},
    remark::{Remark, Remedy},
    set::{Lit, Scene},
    units::Units,
};

/// How wide the sheet is, px.
pub const WIDTH: f64 = 900.0;
/// Room at its sides.
pub const MARGIN: f64 = 20.0;
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
    /// What is written beside that.
    pub said: String,
    /// How far it may be off.
    pub uncertainty: Option<Spread>,
    /// Each light's part, and that of the ambient light.
    pub parts: Vec<Part>,
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
    pub lit: Lit,
    /// Where lights stand.
    pub places: Vec<Standing>,
    /// What each light is set to, and what that is.
    pub settings: Vec<[String; 2]>,
    /// The points.
    pub points: Vec<Point<'a>>,
    /// How far off the target is still right, stops.
    pub tolerance: Option<f64>,
    /// The units of lengths.
    pub units: Units,
}

/// Draws an answer of `exposure/predict`.
pub fn predict(question: &Predicting, answer: &Prediction) -> Picture {
    let said =
        |stops: Option<Stops>| stops.map_or_else(|| "no light".to_owned(), |stops| text::signed(stops.get()));
    let points = answer.points.iter().map(|point| Point {
        name: &point.name,
        target: None,
        stops: point.exposure_error_stops.map(Stops::get),
        said: match &point.f_number {
            Some(f_number) => format!("{}, {}", f_number.said(), said(point.exposure_error_stops)),
            None => said(None),
        },
        uncertainty: point.uncertainty_stops,
        parts: parts(point),
    });
    let settings =
        answer.settings.iter().map(|light| lights::setting_said(light.setting.as_ref(), light.pops));
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
    draw("Light at each point", &said, &set, &[], answer.warnings.iter().chain(&answer.cautions))
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
        said: format!("{}, {} off", point.f_number.said(), text::signed(point.error_stops.get())),
        uncertainty: point.uncertainty_stops,
        parts: predicted.get(index).map(parts).unwrap_or_default(),
    });
    let controls = answer.settings.iter().zip(&question.set.controls);
    let settings =
        controls.map(|(light, control)| lights::setting_said(light.setting.as_ref(), control.pops));
    let set = Set {
        scene,
        lit: scene.light(&mut Vec::new()),
        places: places::of(scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: Some(question.tolerance.get()),
        units: question.set.units,
    };
    let proven = if answer.optimality.proven { "proven the best" } else { "the best found" };
    let ratio = answer.ratio.as_ref().map_or_else(String::new, |ratio| {
        let pair = |pair: &RatioPair| {
            let achieved =
                pair.achieved.map_or_else(|| "no fill".to_owned(), |ratio| text::number(ratio.get()) + ":1");
            format!("{achieved}, wanted {}:1", text::number(pair.target.get()))
        };
        format!("; by sides {}; each light alone {}", pair(&ratio.sides), pair(&ratio.lights))
    });
    let verdict = format!(
        "{}; {} within {} of what is wanted: the worst is {} off, {proven}{ratio}",
        scene.exposure.said(scene.exposure_time, question.set.step),
        if answer.feasible { "every point" } else { "NOT every point" },
        stops_said(question.tolerance.get()),
        stops_said(answer.worst_error_stops.get()),
    );
    let remarks = answer.warnings.iter().chain(&answer.cautions);
    draw("Balance of the lights", &verdict, &set, &answer.remedies, remarks)
}

fn parts(point: &predict::PredictedPoint) -> Vec<Part> {
    let part =
        |percent: Number, stops: Option<Stops>| Part { percent: percent.get(), stops: stops.map(Stops::get) };
    let ambient = point.ambient.iter().map(|ambient| part(ambient.percent, ambient.stops));
    point.contributions.iter().map(|share| part(share.percent, share.stops)).chain(ambient).collect()
}

fn draw<'r>(
    title: &str,
    said: &str,
    set: &Set<'_>,
    remedies: &[Remedy],
    remarks: impl Iterator<Item = &'r Remark>,
) -> Picture {
    let mut picture = Picture::new(WIDTH, title, &described(said, set));
    let style = Type::new(USUAL).in_colour(GREY);
    let mut y = paragraph::write(&mut picture, [MARGIN, 54.0], style, WIDTH - 2.0 * MARGIN, 18.0, said);
    y = points::draw(&mut picture, set, y + 6.0);
    y = lights::draw(&mut picture, set, y + 26.0);
    y = plan::draw(&mut picture, set, y + 14.0);
    let remedies: Vec<String> = remedies.iter().map(|remedy| remedy.detail.clone()).collect();
    y = notes::under(&mut picture, y + 20.0, "One of these would do it", &remedies, 0);
    notes::end(&mut picture, y, remarks);
    picture
}

/// The same for those who do not see it.
fn described(said: &str, set: &Set<'_>) -> String {
    let lamps = &set.scene.lamps;
    let name = |index: usize| lamps.get(index).map_or("ambient light", |lamp| lamp.name.as_str());
    let points = set.points.iter().map(|point| {
        let mut parts: Vec<(usize, f64)> = point.parts.iter().map(|part| part.percent).enumerate().collect();
        parts.retain(|(_, percent)| percent.round() > 0.0);
        parts.sort_by(|a, b| b.1.total_cmp(&a.1));
        let parts =
            parts.into_iter().map(|(index, percent)| format!("{} {} %", name(index), percent.round()));
        let parts = text::listed(parts, PARTS_DESCRIBED);
        let parts = if parts.is_empty() { parts } else { format!(" ({parts})") };
        format!("{}: {}{parts}", point.name, point.said)
    });
    let lights = lamps.iter().zip(&set.settings).enumerate().map(|(index, (lamp, setting))| {
        let far = lights::distances(set, index);
        let far = if far.is_empty() { far } else { format!(" (points by their number {far})") };
        format!("{}: {}{far}", lamp.name, setting.join(", ").trim_end_matches(", "))
    });
    let points: Vec<String> = points.collect();
    let lights: Vec<String> = lights.collect();
    format!("{said}. Points: {}. Lights: {}.", points.join("; "), lights.join("; "))
}
