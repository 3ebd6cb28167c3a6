//! What comes from the lights and looks at the set, from above: beams, faces, aims, and the camera.

use std::f64::consts::{FRAC_PI_2, TAU};

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            legend::{Legend, swatch},
            marks::HALF,
            sheet::{Pen, Picture, SheetPoint},
        },
        set::{
            Set,
            places::LightPosition,
            plan::{MAX_FACING, Scale, arrow},
        },
    },
    light::set::{
        beam::Beam,
        geometry::{Camera, Position},
        panel::Panel,
        placement::Source,
        vector::{Vector, length, minus},
    },
    wording::phrases::plan_picture as words,
};

/// The edge of a beam, so that it shows in greyscale too.
const EDGE: Pen = Pen::new(Colour::Grey, 0.75);
const FACE: Pen = Pen::new(Colour::Ink, 3.0);
const AIM: Pen = Pen::new(Colour::Ink, 1.5);
/// Sides that an arc and a disc are drawn with.
const SIDES: usize = 24;
/// The most beams: more hide what they light, and are aims.
const MAX_BEAMS: usize = 8;
/// The least length of a beam, px.
const SHORTEST: f64 = 48.0;

/// Where a light points: at its aim, or else at the point where it gives most.
fn toward(set: &Set<'_>, place: &LightPosition) -> Option<Position> {
    let given = |point: &usize| set.points.get(*point)?.shares.get(place.light)?.stops;
    let lit = place.points.iter().filter_map(|point| Some((point, given(point)?)));
    let strongest = || lit.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(point, _)| *point);
    place.aim.or_else(|| set.scene.points.get(strongest()?)?.position)
}

fn is_on(set: &Set<'_>, place: &LightPosition) -> bool {
    !set.settings[place.light].is_off
}

/// The angle of a beam that is drawn, degrees.
fn beam_deg(set: &Set<'_>, place: &LightPosition, places: &[LightPosition]) -> Option<f64> {
    let deg = |place: &LightPosition| {
        let beam = set.scene.lights[place.light].optics.beam.as_ref().filter(|_| is_on(set, place));
        beam.and_then(Beam::half_power_deg)
    };
    let count = places.iter().filter(|place| deg(place).is_some()).count();
    deg(place).filter(|_| count <= MAX_BEAMS)
}

/// Draws the beams to their half-power angle, under all else.
pub fn beams(picture: &mut Picture, set: &Set<'_>, places: &[LightPosition], scale: &Scale) {
    for place in places {
        if let (Some(deg), Some(to)) = (beam_deg(set, place, places), toward(set, place)) {
            let outline = scale.clipped(&beam_outline(place.at, to, (deg / 2.0).to_radians(), scale));
            picture.shape(&outline, Colour::Beam, EDGE);
        }
    }
}

/// A beam from above: the outline of a cone around the axis, to where it points.
fn beam_outline(at: Position, to: Position, half: f64, scale: &Scale) -> Vec<SheetPoint> {
    let [right, away, up] = minus(to.0, at.0);
    let level = right.hypot(away);
    let apex = scale.to_sheet(at);
    let around = |from: f64, to: f64, radius: f64| {
        let angle = move |side: usize| from + (to - from) * side as f64 / SIDES as f64;
        let corner = move |angle: f64| [apex[0] + radius * angle.cos(), apex[1] - radius * angle.sin()];
        (0..=SIDES).map(move |side| corner(angle(side)))
    };
    // The outline of a cone that is tilted by `up` spreads more than the cone itself; seen along its axis it is a circle.
    let spread = half.sin() * level.hypot(up) / level;
    if half >= FRAC_PI_2 || spread.is_nan() || spread >= 1.0 {
        let radius = up.abs() * half.min(1.3).tan();
        return around(0.0, TAU, (radius.max(level) * scale.px).max(SHORTEST)).collect();
    }
    let (axis, half) = (away.atan2(right), spread.asin());
    let arc = around(axis - half, axis + half, (1.1 * level * scale.px).max(SHORTEST));
    std::iter::once(apex).chain(arc).collect()
}

/// Draws the faces of lights to their size, and the aims of lights that have no beam.
pub fn faces(picture: &mut Picture, set: &Set<'_>, places: &[LightPosition], scale: &Scale) {
    for place in places {
        let optics = &set.scene.lights[place.light].optics;
        let Some(to) = toward(set, place) else { continue };
        let axis = minus(to.0, place.at.0);
        if let Some(source) = optics.source {
            let face: Vec<SheetPoint> =
                outline(source, place.at.0, axis).map(|corner| scale.to_sheet(Position(corner))).collect();
            let pen = if is_on(set, place) { FACE } else { Pen { colour: Colour::Grey, ..FACE } };
            picture.shape(&scale.clipped(&face), Fill::None, pen);
        }
        if place.aim.is_some() && beam_deg(set, place, places).is_none() {
            arrow(picture, scale.to_sheet(place.at), axis, HALF + 16.0, AIM);
        }
    }
}

/// Where the faces of lights end at most.
pub fn edges(set: &Set<'_>, places: &[LightPosition]) -> impl Iterator<Item = Position> {
    places.iter().flat_map(|place| {
        let source = set.scene.lights[place.light].optics.source;
        let half = source.map_or(0.0, |source| source.largest().get() / 2.0);
        let [x, y, z] = place.at.0;
        [[-half, -half], [half, half]].map(|[right, away]| Position([x + right, y + away, z]))
    })
}

fn outline(source: Source, at: Vector, axis: Vector) -> impl Iterator<Item = Vector> {
    let panel = Panel::upright(at, axis, source.sides());
    let is_disc = matches!(source, Source::Disc { .. });
    let corner = move |side: usize| {
        let angle = TAU * (side as f64 + 0.5) / if is_disc { SIDES as f64 } else { 4.0 };
        let [right, up] = [angle.cos(), angle.sin()];
        panel.at(if is_disc { [right, up] } else { [right.signum(), up.signum()] })
    };
    (0..if is_disc { SIDES } else { 4 }).map(corner)
}

/// Draws the camera: a wedge that looks at its aim, or a diamond. Returns where it is.
pub fn camera(picture: &mut Picture, camera: &Camera, scale: &Scale) -> SheetPoint {
    let at = scale.to_sheet(camera.position);
    let [right, away, _] = camera.aim.map_or([0.0; 3], |aim| minus(aim.0, camera.position.0));
    let level = length([right, away, 0.0]);
    let [ahead, down] = if level > 1e-9 { [right / level, -away / level] } else { [0.0, -1.0] };
    let corner = |along: f64, side: f64| {
        [at[0] + 11.0 * (ahead * along - down * side), at[1] + 11.0 * (down * along + ahead * side)]
    };
    let corners = if level > 1e-9 {
        vec![corner(-0.6, 0.0), corner(1.0, 0.9), corner(1.0, -0.9)]
    } else {
        vec![corner(1.0, 0.0), corner(0.0, 1.0), corner(-1.0, 0.0), corner(0.0, -1.0)]
    };
    picture.shape(&corners, Colour::Second, Pen::new(Colour::Paper, 1.0));
    at
}

/// Adds what is there to the legend.
pub fn explain(picture: &mut Picture, set: &Set<'_>, places: &[LightPosition], legend: &mut Legend) {
    let optics = |place: &LightPosition| &set.scene.lights[place.light].optics;
    let has_beam = |place: &LightPosition| beam_deg(set, place, places).is_some();
    if places.iter().any(|place| has_beam(place) && toward(set, place).is_some()) {
        legend.add(picture, words::BEAM, |picture, at| swatch(picture, at, 6.0, Colour::Beam, EDGE));
    }
    if places.iter().any(|place| optics(place).source.is_some() && toward(set, place).is_some()) {
        legend.line(picture, words::FACE, FACE);
    }
    let points = || set.scene.points.iter().filter(|point| point.position.is_some());
    let is_facing = points().count() <= MAX_FACING && points().any(|point| point.normal.is_some());
    if is_facing || places.iter().any(|place| place.aim.is_some() && !has_beam(place)) {
        legend.add(picture, words::AIM, |picture, [x, y]| {
            picture.line([x - 14.0, y], [x + 7.0, y], AIM);
            picture.arrow_head([x + 14.0, y], [1.0, 0.0], Colour::Ink);
        });
    }
}
