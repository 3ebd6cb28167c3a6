//! The picture of a set: what to set each light to, the light at each point, and a plan if positions are known.

pub(crate) mod beams;
pub(crate) mod lights;
pub(crate) mod places;
pub(crate) mod plan;
pub(crate) mod points;
pub(crate) mod rows;
pub(crate) mod surroundings;

use self::places::LightPosition;
use crate::{
    drawing::canvas::{
        notes, paragraph,
        sheet::{NORMAL, Picture, TextStyle},
    },
    light::{
        balance::{Balance, BalanceQuestion, HeldBack},
        quantity::{Number, Stops, units::Units},
        remedy::Remedy,
        set::{
            Scene,
            placement::Placement,
            predict::{PredictQuestion, PredictedPoint, Prediction},
            target::TargetSide,
        },
        uncertainty::Uncertainty,
    },
    wording::{
        phrases::{
            self,
            set_picture::{self as words, DescribedPoint, SettingText},
        },
        summary::Summary,
    },
};

/// The most ratios between points that are listed.
const MAX_RATIOS: usize = 3;
/// The most shares of light at a point in the description.
const MAX_SHARES: usize = 4;

/// A metering point, prepared for drawing.
pub struct Point<'a> {
    /// Its name.
    pub name: &'a str,
    /// The target, stops relative to the working exposure, or `None` if it has none.
    pub target: Option<f64>,
    /// The side of the target that is wanted.
    pub side: TargetSide,
    /// What is wanted, in words; empty if that is the working exposure.
    pub wanted: String,
    /// The light at the point, stops relative to the working exposure, or `None` if no light reaches it.
    pub stops: Option<f64>,
    /// The meter reading.
    pub reads: String,
    /// The error in stops, positive if too bright: against the target, or against the working exposure if there is no
    /// target.
    pub error: Option<f64>,
    /// The uncertainty of the light.
    pub uncertainty: Option<&'a Uncertainty>,
    /// The share of each light, and that of the ambient light.
    pub shares: Vec<Share>,
}

/// The share of one light at one point.
#[derive(Debug, Clone, Copy, Default)]
pub struct Share {
    /// The share of the light at the point, percent.
    pub percent: f64,
    /// This light alone, stops relative to the working exposure, or `None` if it gives no light.
    pub stops: Option<f64>,
}

/// A computed placement: index of the point, index of the light, placement.
pub type Placed = (usize, usize, Placement);

/// A set, prepared for drawing.
pub struct Set<'a> {
    /// Lights and points.
    pub scene: &'a Scene,
    /// The computed placements: index of the point, index of the light, placement.
    pub placements: &'a [Placed],
    /// The positions of lights.
    pub places: Vec<LightPosition>,
    /// The setting of each light.
    pub settings: Vec<SettingText>,
    /// The points.
    pub points: Vec<Point<'a>>,
    /// The tolerance around the targets.
    pub tolerance: Stops,
    /// The units of lengths.
    pub units: Units,
    /// Whether the settings are those of the request.
    pub is_prediction: bool,
}

impl Set<'_> {
    /// Whether there is a plan, in which points may be numbers.
    pub fn has_plan(&self) -> bool {
        !self.places.is_empty() && self.scene.points.iter().any(|point| point.position.is_some())
    }
}

/// Draws an answer of `exposure/predict`.
pub fn predict(
    question: &PredictQuestion,
    answer: &Prediction,
    placements: &[Placed],
    width: f64,
) -> Picture {
    let scene = &question.scene;
    let points = answer.points.iter().zip(&scene.points).map(|(point, asked)| Point {
        name: &point.name,
        // A point without a target is measured against the working exposure.
        target: asked.target.map(|_| point.target_stops.get()),
        side: point.target_side,
        wanted: asked
            .target
            .map_or_else(String::new, |_| words::target(point.target_stops, point.target_side)),
        stops: point.achieved_stops.map(Stops::get),
        reads: point.f_number.as_ref().map_or_else(String::new, words::reads),
        error: point.error_stops.map(Stops::get),
        uncertainty: point.uncertainty.as_ref(),
        shares: shares(point),
    });
    let settings =
        answer.settings.iter().map(|light| SettingText::from_setting(light.setting.as_ref(), light.pops));
    let set = Set {
        scene,
        placements,
        places: places::light_positions(scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: question.tolerance,
        units: question.rules.units,
        is_prediction: true,
    };
    let details = words::prediction_details(
        scene.exposure,
        scene.exposure_time,
        question.rules.step,
        answer.lens_stops,
        &answer.ratios,
    );
    let texts = Texts { title: words::PREDICTION, summary: answer.summary(), details, held: String::new() };
    draw(width, &texts, &set, &[], phrases::remarks(&answer.warnings, &answer.cautions))
}

/// Draws an answer of `ratios/balance`. `predicted` has the share of each light at these settings.
pub fn balance(
    question: &BalanceQuestion,
    answer: &Balance,
    predicted: &[PredictedPoint],
    placements: &[Placed],
    width: f64,
) -> Picture {
    let scene = &question.scene;
    let points = answer.points.iter().enumerate().map(|(index, point)| Point {
        name: &point.name,
        target: Some(point.target_stops.get()),
        side: point.target_side,
        wanted: point
            .ratio
            .as_ref()
            .map_or_else(|| words::target(point.target_stops, point.target_side), words::target_ratio),
        stops: Some(point.achieved_stops.get()),
        reads: point.f_number.as_ref().map_or_else(String::new, words::reads),
        error: Some(point.error_stops.get()),
        uncertainty: point.uncertainty.as_ref(),
        shares: predicted.get(index).map(shares).unwrap_or_default(),
    });
    let controls = answer.settings.iter().zip(scene.lights.iter().map(|light| light.control));
    let settings = controls.map(|(light, control)| {
        let text = SettingText::from_setting(light.setting.as_ref(), control.pops);
        let text = if control.held().is_some() { text.held() } else { text };
        text.at_end(end_of(&answer.held_back_by, &light.light))
    });
    let set = Set {
        scene,
        placements,
        places: places::light_positions(scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: question.tolerance,
        units: question.rules.units,
        is_prediction: false,
    };
    let texts = Texts {
        title: words::BALANCE,
        summary: answer.summary(),
        details: words::balance_details(question, answer, MAX_RATIOS),
        held: words::held_back(&answer.held_back_by),
    };
    draw(width, &texts, &set, &answer.remedies, phrases::remarks(&answer.warnings, &answer.cautions))
}

/// Which end of its range a light is at, if that limits the balance. Nothing is said of single lights where not all were
/// tried.
fn end_of(held: &HeldBack, light: &str) -> Option<&'static str> {
    let ends = [(&held.at_full, words::AT_FULL), (&held.at_least, words::AT_LEAST)];
    let mut ends = ends.into_iter().filter(|_| held.complete);
    ends.find(|(names, _)| names.iter().any(|entry| entry.name == light)).map(|(_, text)| text)
}

fn shares(point: &PredictedPoint) -> Vec<Share> {
    let to_share = |share: Number, stops: Option<Stops>| Share {
        percent: 100.0 * share.get(),
        stops: stops.map(Stops::get),
    };
    let ambient = point.ambient.iter().map(|ambient| to_share(ambient.share, ambient.stops));
    point.contributions.iter().map(|share| to_share(share.share, share.stops)).chain(ambient).collect()
}

/// The texts above the points.
struct Texts {
    title: &'static str,
    summary: String,
    /// The exposure, and what is known of the answer.
    details: String,
    /// What holds a balance back, where that is not known of each light.
    held: String,
}

fn draw(
    width: f64,
    texts: &Texts,
    set: &Set<'_>,
    remedies: &[Remedy],
    remarks: impl Iterator<Item = String>,
) -> Picture {
    let mut picture = Picture::new(width, texts.title, &description(texts, set));
    let mut y = paragraph::headline(&mut picture, &texts.summary) - 6.0;
    if set.is_prediction {
        y = points::draw(&mut picture, set, y) + 24.0;
    }
    y = lights::dials(&mut picture, y, &lights::of_set(set)) + 24.0;
    if !texts.held.is_empty() {
        y = paragraph::body(&mut picture, y, TextStyle::new(NORMAL), &texts.held) + 4.0;
    }
    let remedies: Vec<String> = remedies.iter().map(phrases::remedy).collect();
    y = notes::list(&mut picture, y, words::REMEDIES, &remedies, 0);
    y = paragraph::details(&mut picture, y, &texts.details) - 10.0;
    if !set.is_prediction {
        y = points::draw(&mut picture, set, y);
    }
    y = plan::draw(&mut picture, set, y + 26.0);
    notes::finish(&mut picture, y, remarks);
    picture
}

/// The description for screen readers.
fn description(texts: &Texts, set: &Set<'_>) -> String {
    let lights = &set.scene.lights;
    let name = |index: usize| lights.get(index).map_or(words::AMBIENT_LIGHT, |light| light.name.as_str());
    let points = points::order(set).into_iter().map(|index| {
        let Point { name: point, reads, error, uncertainty, shares, .. } = &set.points[index];
        let mut shares: Vec<(&str, f64)> =
            shares.iter().enumerate().map(|(index, share)| (name(index), share.percent)).collect();
        shares.retain(|(_, percent)| percent.round() > 0.0);
        shares.sort_by(|a, b| b.1.total_cmp(&a.1));
        let uncertainty = uncertainty.map(Uncertainty::ends);
        DescribedPoint { name: point, reads, error: *error, uncertainty }.text(&shares, MAX_SHARES)
    });
    let lights = lights.iter().zip(&set.settings).enumerate().map(|(index, (light, setting))| {
        words::described_light(&light.name, setting, &lights::distances(set, index))
    });
    let Scene { packs, reflectors, blockers, .. } = set.scene;
    let around = words::described_around(
        packs.iter().enumerate().map(|(index, pack)| (pack.name.as_str(), set.scene.heads(index).count())),
        reflectors.iter().map(|board| board.name.as_str()),
        blockers.iter().map(|blocker| blocker.name.as_str()),
    );
    let summary = [texts.summary.as_str(), &texts.held];
    let (points, lights) = (points.collect::<Vec<_>>(), lights.collect::<Vec<_>>());
    words::description(&summary, &texts.details, &points, &lights, &around)
}
