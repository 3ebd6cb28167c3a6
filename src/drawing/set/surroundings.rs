//! What stands around the lights, from above: boards and ceilings, flags and people.

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            labels::Labels,
            legend::{Legend, swatch},
            sheet::{Pen, Picture, SMALL, SheetPoint, TextStyle},
            text,
        },
        set::plan::Scale,
    },
    light::set::{Scene, blocker::Shape, geometry::Position, panel::Panel},
    wording::phrases::set_picture as words,
};

/// The outline of a board, which is a line where it stands upright.
const BOARD: Pen = Pen::new(Colour::Ink, 3.0);
const HIDES: Pen = Pen::new(Colour::Grey, 3.0);
/// A ceiling is above everything.
const LEVEL: Pen = Pen::new(Colour::Grey, 1.5).dashed("8 4");
/// The height of its normal from which on a board counts as a ceiling or a floor.
const FLAT: f64 = 0.98;

fn is_level(panel: &Panel) -> bool {
    panel.normal[2].abs() > FLAT
}

/// Where they stand, so that the plan has room for them.
pub fn corners(scene: &Scene) -> Vec<Position> {
    let boards = scene.reflectors.iter().flat_map(|board| board.panel.corners());
    let blockers = scene.blockers.iter().flat_map(|blocker| match blocker.shape {
        Shape::Board(panel) => panel.corners(),
        Shape::Cylinder { foot: [x, y, z], radius, .. } => {
            [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]
                .map(|[right, away]| [x + right * radius, y + away * radius, z])
        }
    });
    boards.chain(blockers).map(Position).collect()
}

/// Adds what is there to the legend.
pub fn explain(picture: &mut Picture, scene: &Scene, legend: &mut Legend) {
    let panels = || scene.reflectors.iter().map(|board| &board.panel);
    if panels().any(|panel| !is_level(panel)) {
        legend.line(picture, words::BOARD, BOARD);
    }
    if panels().any(is_level) {
        legend.line(picture, words::CEILING, LEVEL);
    }
    if !scene.blockers.is_empty() {
        legend.add(picture, words::BLOCKER, |picture, at| swatch(picture, at, 5.0, Colour::Faint, HIDES));
    }
}

/// Draws them, with their names where there is room.
pub fn draw(
    picture: &mut Picture,
    labels: &mut Labels,
    scene: &Scene,
    scale: &Scale,
    within: [SheetPoint; 2],
) {
    let mut named: Vec<(SheetPoint, &str)> = Vec::new();
    for board in &scene.reflectors {
        let corners = outline(&board.panel, scale);
        let is_level = is_level(&board.panel);
        let (fill, pen) = if is_level { (Fill::None, LEVEL) } else { (Fill::Colour(Colour::Paper), BOARD) };
        picture.shape(&corners, fill, pen);
        // The middle of a ceiling is where everything else is.
        let at = if is_level { corners[3] } else { scale.to_sheet(Position(board.panel.middle)) };
        named.push((at, &board.name));
    }
    for blocker in &scene.blockers {
        let at = match blocker.shape {
            Shape::Board(panel) => {
                picture.shape(&outline(&panel, scale), Colour::Faint, HIDES);
                panel.middle
            }
            Shape::Cylinder { foot, radius, .. } => {
                picture.circle(scale.to_sheet(Position(foot)), radius * scale.px, Colour::Faint, HIDES);
                foot
            }
        };
        named.push((scale.to_sheet(Position(at)), &blocker.name));
    }
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey);
    for (at, name) in named {
        labels.beside(picture, at, 6.0, style, &text::shortened(name, SMALL, 120.0), within);
    }
}

fn outline(panel: &Panel, scale: &Scale) -> [SheetPoint; 4] {
    panel.corners().map(|corner| scale.to_sheet(Position(corner)))
}
