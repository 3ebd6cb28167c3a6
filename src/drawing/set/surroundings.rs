//! What stands around the lights, from above: boards and ceilings, flags and people.

use std::f64::consts::TAU;

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            labels::Labels,
            legend::{Legend, swatch},
            sheet::{Pen, Picture, SMALL, SheetPoint, TextStyle},
        },
        set::plan::Scale,
    },
    light::set::{
        Scene,
        blocker::{Blocker, Shape},
        geometry::Position,
        panel::Panel,
    },
    wording::phrases::plan_picture as words,
};

/// The outline of a board, which is a line where it stands upright.
const BOARD: Pen = Pen::new(Colour::Data, 3.0);
const HIDES: Pen = Pen::new(Colour::Grey, 3.0);
/// A ceiling is above everything.
const LEVEL: Pen = Pen::new(Colour::Grey, 1.5).dashed("8 4");
/// The height of its normal from which on a board counts as a ceiling or a floor.
const FLAT: f64 = 0.98;
/// Sides that a cylinder is drawn with.
const SIDES: usize = 24;
/// The most boards and blockers whose outlines names keep clear of.
const MAX_KEPT_FREE: usize = 8;
/// The longest name, px.
const NAME: f64 = 120.0;

fn is_level(panel: &Panel) -> bool {
    panel.normal[2].abs() > FLAT
}

/// The corners of a blocker from above.
fn shape(blocker: &Blocker) -> Vec<Position> {
    match blocker.shape {
        Shape::Board(panel) => panel.corners().map(Position).to_vec(),
        Shape::Cylinder { foot: [x, y, z], radius, .. } => {
            let angles = (0..SIDES).map(|side| TAU * side as f64 / SIDES as f64);
            angles.map(|angle| Position([x + radius * angle.cos(), y + radius * angle.sin(), z])).collect()
        }
    }
}

/// Where they stand, so that the plan has room for them.
pub fn corners(scene: &Scene) -> Vec<Position> {
    let boards = scene.reflectors.iter().flat_map(|board| board.panel.corners()).map(Position);
    boards.chain(scene.blockers.iter().flat_map(shape)).collect()
}

/// Adds what is in the plan to the legend.
pub fn explain(picture: &mut Picture, scene: &Scene, scale: &Scale, legend: &mut Legend) {
    let is_shown = |panel: &Panel| !outline(&panel.corners().map(Position), scale).is_empty();
    let panels = || scene.reflectors.iter().map(|board| &board.panel).filter(|panel| is_shown(panel));
    if panels().any(|panel| !is_level(panel)) {
        legend.line(picture, words::BOARD, BOARD);
    }
    if panels().any(is_level) {
        legend.line(picture, words::CEILING, LEVEL);
    }
    if scene.blockers.iter().any(|blocker| !outline(&shape(blocker), scale).is_empty()) {
        legend.add(picture, words::BLOCKER, |picture, at| swatch(picture, at, 5.0, Colour::Faint, HIDES));
    }
}

/// Draws them, as far as they are in the plan.
pub fn draw(picture: &mut Picture, scene: &Scene, scale: &Scale) {
    for board in &scene.reflectors {
        let (fill, pen) =
            if is_level(&board.panel) { (Fill::None, LEVEL) } else { (Fill::Colour(Colour::Paper), BOARD) };
        let outline = outline(&board.panel.corners().map(Position), scale);
        if !outline.is_empty() {
            picture.shape(&outline, fill, pen);
        }
    }
    for blocker in &scene.blockers {
        let outline = outline(&shape(blocker), scale);
        if !outline.is_empty() {
            picture.shape(&outline, Colour::Faint, HIDES);
        }
    }
}

/// The outline of each in the plan, whether it is level, and its name.
fn outlines<'s>(scene: &'s Scene, scale: &Scale) -> impl Iterator<Item = (Vec<SheetPoint>, bool, &'s str)> {
    let boards = scene.reflectors.iter().map(|board| {
        (outline(&board.panel.corners().map(Position), scale), is_level(&board.panel), board.name.as_str())
    });
    let blockers = scene.blockers.iter();
    boards.chain(blockers.map(|blocker| (outline(&shape(blocker), scale), false, blocker.name.as_str())))
}

/// Keeps names clear of their outlines. With many that would take long, and leave no room.
pub fn reserve(labels: &mut Labels, scene: &Scene, scale: &Scale) {
    outlines(scene, scale).take(MAX_KEPT_FREE).for_each(|(outline, ..)| labels.reserve_path(&outline));
}

/// Writes their names, where there is room.
pub fn name(picture: &mut Picture, labels: &mut Labels, scene: &Scene, scale: &Scale) {
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey);
    for (outline, is_level, name) in outlines(scene, scale) {
        let Some(corner) = outline.last() else { continue };
        // The middle of a ceiling is where everything else is.
        let at = if is_level { *corner } else { middle(&outline) };
        let name = style.shortened(name, NAME);
        // Beside a line its middle is near enough; a body is wider.
        let half = outline.iter().map(|corner| (corner[1] - at[1]).abs()).fold(0.0, f64::max);
        let _ = [8.0, half + 8.0]
            .into_iter()
            .any(|away| labels.beside(picture, at, away, style, &name, scale.within));
    }
}

fn middle(outline: &[SheetPoint]) -> SheetPoint {
    let count = outline.len() as f64;
    [0, 1].map(|axis| outline.iter().map(|corner| corner[axis]).sum::<f64>() / count)
}

fn outline(corners: &[Position], scale: &Scale) -> Vec<SheetPoint> {
    scale.clipped(&corners.iter().map(|corner| scale.to_sheet(*corner)).collect::<Vec<_>>())
}
