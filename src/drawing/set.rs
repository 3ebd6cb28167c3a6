//! The picture of a set: the light at each point, the setting of each light, and a plan if positions are known.

pub(crate) mod lights;
pub(crate) mod places;
pub(crate) mod plan;
pub(crate) mod points;
pub(crate) mod surroundings;

use self::places::LightPosition;
use crate::{
    drawing::canvas::{
        colour::Colour,
        notes, paragraph,
        sheet::{NORMAL, Picture, TextStyle},
    },
    light::{
        balance::{Balance, BalanceQuestion},
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

/// The width that the layout is made for, px.
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
    /// The side of the target that is wanted.
    pub side: TargetSide,
    /// The light at the point, stops relative to the working exposure, or `None` if no light reaches it.
    pub stops: Option<f64>,
    /// The approximate meter reading.
    pub reads: String,
    /// The error in stops, positive if too bright: against the target, or against the working exposure if there is no
    /// target.
    pub error: Option<f64>,
    /// The uncertainty of the light.
    pub uncertainty: Option<[f64; 2]>,
    /// The share of each light, and that of the ambient light.
    pub shares: Vec<Share>,
}

impl Point<'_> {
    /// The gap from the nearest value within tolerance to the achieved value, stops, or `None` if the point is within
    /// tolerance or has no target.
    pub fn miss(&self, tolerance: Option<Stops>) -> Option<[f64; 2]> {
        let ((target, stops), tolerance) = (self.target.zip(self.stops)?, tolerance?.get());
        let [least, most] = self.wanted(target, tolerance);
        let right = stops.clamp(least, most);
        ((stops - right).abs() > 1e-9).then_some([right, stops])
    }

    /// The least and the most stops that are wanted; infinite on a side that is free.
    pub fn wanted(&self, target: f64, tolerance: f64) -> [f64; 2] {
        let is_free = |other: TargetSide| self.side == other;
        [
            if is_free(TargetSide::AtMost) { f64::NEG_INFINITY } else { target - tolerance },
            if is_free(TargetSide::AtLeast) { f64::INFINITY } else { target + tolerance },
        ]
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
    pub tolerance: Option<Stops>,
    /// The units of lengths.
    pub units: Units,
}

/// Draws an answer of `exposure/predict`.
pub fn predict(
    question: &PredictQuestion,
    answer: &Prediction,
    placements: &[Placed],
    width: f64,
) -> Picture {
    let points = answer.points.iter().map(|point| Point {
        name: &point.name,
        // A point without a target is at the working exposure, the line at 0.
        target: Some(point.target_stops.get())
            .filter(|target| *target != 0.0 || point.target_side != TargetSide::Both),
        side: point.target_side,
        stops: point.achieved_stops.map(Stops::get),
        reads: point.f_number.as_ref().map_or_else(String::new, words::reads),
        error: point.error_stops.map(Stops::get),
        uncertainty: point.uncertainty.as_ref().map(Uncertainty::ends),
        shares: shares(point),
    });
    let settings =
        answer.settings.iter().map(|light| SettingText::from_setting(light.setting.as_ref(), light.pops));
    let set = Set {
        scene: &question.scene,
        placements,
        places: places::light_positions(&question.scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: None,
        units: question.rules.units,
    };
    let scene = &question.scene;
    let details = words::prediction_details(
        scene.exposure,
        scene.exposure_time,
        question.rules.step,
        answer.lens_stops,
    );
    draw(
        width,
        words::PREDICTION,
        &answer.summary(),
        &details,
        &set,
        &[],
        phrases::remarks(&answer.warnings, &answer.cautions),
    )
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
        stops: Some(point.achieved_stops.get()),
        reads: point.f_number.as_ref().map_or_else(String::new, words::reads),
        error: Some(point.error_stops.get()),
        uncertainty: point.uncertainty.as_ref().map(Uncertainty::ends),
        shares: predicted.get(index).map(shares).unwrap_or_default(),
    });
    let controls = answer.settings.iter().zip(scene.lights.iter().map(|light| light.control));
    let held = &answer.held_back_by;
    let settings = controls.map(|(light, control)| {
        let ends = [(&held.at_full, words::AT_FULL), (&held.at_least, words::AT_LEAST)];
        let end = ends.into_iter().find(|(names, _)| names.iter().any(|entry| entry.name == light.light));
        let text = SettingText::from_setting(light.setting.as_ref(), control.pops);
        let text = if control.held().is_some() { text.fixed() } else { text };
        SettingText { end: end.map(|(_, text)| text), ..text }
    });
    let set = Set {
        scene,
        placements,
        places: places::light_positions(scene),
        settings: settings.collect(),
        points: points.collect(),
        tolerance: Some(question.tolerance),
        units: question.rules.units,
    };
    let details = words::balance_details(question, answer, MAX_RATIOS);
    let remarks = phrases::remarks(&answer.warnings, &answer.cautions);
    draw(width, words::BALANCE, &answer.summary(), &details, &set, &answer.remedies, remarks)
}

/// The lowest and the highest error that uncertainty may add, stops.
fn uncertainty(set: &Set<'_>) -> [f64; 2] {
    let spreads = || set.points.iter().filter_map(|point| point.uncertainty);
    [spreads().map(|[low, _]| low).fold(0.0, f64::min), spreads().map(|[_, high]| high).fold(0.0, f64::max)]
}

fn shares(point: &PredictedPoint) -> Vec<Share> {
    let to_share = |share: Number, stops: Option<Stops>| Share {
        percent: 100.0 * share.get(),
        stops: stops.map(Stops::get),
    };
    let ambient = point.ambient.iter().map(|ambient| to_share(ambient.share, ambient.stops));
    point.contributions.iter().map(|share| to_share(share.share, share.stops)).chain(ambient).collect()
}

fn draw(
    width: f64,
    title: &str,
    summary: &str,
    details: &str,
    set: &Set<'_>,
    remedies: &[Remedy],
    remarks: impl Iterator<Item = String>,
) -> Picture {
    let uncertainty = words::uncertainty(uncertainty(set));
    let mut picture =
        Picture::new(width.max(WIDTH), title, &description(&[summary, &uncertainty], details, set));
    let style = TextStyle::new(NORMAL);
    let mut y = paragraph::headline(&mut picture, summary);
    for (style, text) in [(style, uncertainty.as_str()), (style.in_colour(Colour::Grey), details)] {
        y = paragraph::body(&mut picture, y, style, text);
    }
    y = points::draw(&mut picture, set, y + 6.0);
    let remedies: Vec<String> = remedies.iter().map(phrases::remedy).collect();
    if !remedies.is_empty() {
        y = notes::list(&mut picture, y + 20.0, words::REMEDIES, &remedies, 0) - 14.0;
    }
    y = lights::draw(&mut picture, set, y + 26.0);
    y = plan::draw(&mut picture, set, y + 14.0);
    notes::finish(&mut picture, y + 20.0, remarks);
    picture
}

/// The description for screen readers.
fn description(summary: &[&str], details: &str, set: &Set<'_>) -> String {
    let lights = &set.scene.lights;
    let name = |index: usize| lights.get(index).map_or(words::AMBIENT_LIGHT, |light| light.name.as_str());
    let points = set.points.iter().map(|point| {
        let mut shares: Vec<(&str, f64)> =
            point.shares.iter().enumerate().map(|(index, share)| (name(index), share.percent)).collect();
        shares.retain(|(_, percent)| percent.round() > 0.0);
        shares.sort_by(|a, b| b.1.total_cmp(&a.1));
        let Point { name, reads, error, uncertainty, .. } = point;
        let point = DescribedPoint { name, reads, error: *error, uncertainty: *uncertainty };
        point.text(&shares, MAX_SHARES)
    });
    let lights = lights.iter().zip(&set.settings).enumerate().map(|(index, (light, setting))| {
        let distances = lights::distances(set, index, |point| set.scene.points[point].name.clone());
        words::described_light(&light.name, setting, &distances)
    });
    let Scene { packs, reflectors, blockers, .. } = set.scene;
    let around = words::described_around(
        packs.iter().enumerate().map(|(index, pack)| (pack.name.as_str(), set.scene.heads(index).count())),
        reflectors.iter().map(|board| board.name.as_str()),
        blockers.iter().map(|blocker| blocker.name.as_str()),
    );
    let lights = &lights.collect::<Vec<_>>();
    words::description(summary, details, &points.collect::<Vec<_>>(), lights, &around)
}
