//! Matte boards and ceilings as second sources of light: one bounce.
//!
//! A board of reflectance ρ under the light E sends ρ·E/π in every direction (Lambert; CIE e-ILV, radiance and exitance), so
//! that a place gets ∫ ρ·E/π · cosθ·cosθ′/r² dA of it. The integral is a sum over cells of the board with Gauss points, the
//! same for all lights and places: small where a place, the edge of a face or the spot of a narrow beam is near, and where
//! a horizon or a shadow crosses the board.

use std::f64::consts::PI;

use crate::light::{
    id::Id,
    set::{
        blocker::Blocker,
        face::{Face, GAUSS, Place},
        panel::Panel,
        vector::{Vector, dot, length, minus, unit},
    },
};

/// A matte board.
#[derive(Debug, Clone, PartialEq)]
pub struct Reflector {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// Its name, unique among boards.
    pub name: String,
    /// Where it is; its front reflects.
    pub panel: Panel,
    /// The share of the light that it sends back.
    pub reflectance: f64,
}

/// A light: one face, or one for each place if it is aimed at each in turn; `None` for a place that it has no part in.
pub type Faces<'s> = Vec<Option<Face<'s>>>;

/// The longest side of a cell, over the distance to what is near.
const NEAR: f64 = 1.25;
/// The same, over the width of a beam's spot.
const SPOT: f64 = 0.8;
/// The longest side of a cell that a horizon or a shadow crosses, over that of the board.
const CROSSED: f64 = 1.0 / 16.0;
/// The shortest side of a cell, over that of the board.
const LEAST: f64 = 1.0 / 512.0;
/// The most cells of a board.
const MOST: usize = 1024;

/// A part of a board: its middle and half its sides, over half the sides of the board.
#[derive(Clone, Copy)]
struct Cell {
    middle: [f64; 2],
    half: [f64; 2],
}

/// A Gauss point of a board, with its share of the board's area, m².
struct Node {
    at: Vector,
    area: f64,
}

impl Reflector {
    /// The factor of each light at each place by way of this board, 1/m²: by place, then by light.
    pub fn factors(
        &self,
        lights: &[Faces<'_>],
        places: &[Option<Place>],
        blockers: &[Blocker],
    ) -> Vec<Vec<f64>> {
        let nodes = self.nodes(lights, places, blockers);
        // A light that is aimed at each place in turn lights the board differently for each.
        let on_board = |face: &Face<'_>| -> Vec<f64> {
            let normal = Some(self.panel.normal);
            nodes.iter().map(|node| face.factor(&Place { at: node.at, normal }, blockers)).collect()
        };
        let lit: Vec<Vec<Option<Vec<f64>>>> = lights
            .iter()
            .map(|faces| faces.iter().map(|face| face.as_ref().map(on_board)).collect())
            .collect();
        let towards = |place: &Option<Place>| -> Vec<f64> {
            let Some(place) = place else { return Vec::new() };
            nodes.iter().map(|node| self.seen(node, place, blockers)).collect()
        };
        places
            .iter()
            .enumerate()
            .map(|(index, place)| {
                let towards = towards(place);
                let factor = |faces: &Vec<Option<Vec<f64>>>| {
                    let lit = faces.get(if faces.len() == 1 { 0 } else { index }).and_then(Option::as_ref);
                    lit.map_or(0.0, |lit| lit.iter().zip(&towards).map(|(lit, towards)| lit * towards).sum())
                };
                lit.iter().map(factor).map(|sum: f64| self.reflectance / PI * sum).collect()
            })
            .collect()
    }

    /// What a place gets from a node that shines with 1.
    fn seen(&self, node: &Node, place: &Place, blockers: &[Blocker]) -> f64 {
        let to = minus(place.at, node.at);
        let normal = place.normal.unwrap_or_else(|| unit(minus(self.panel.middle, place.at)));
        let (off, incidence) = (dot(to, self.panel.normal), -dot(to, normal));
        if off <= 0.0 || incidence <= 0.0 || blockers.iter().any(|it| it.hides(place.at, node.at)) {
            return 0.0;
        }
        let square = dot(to, to);
        node.area * off * incidence / (square * square)
    }

    /// The Gauss points of all cells.
    fn nodes(&self, lights: &[Faces<'_>], places: &[Option<Place>], blockers: &[Blocker]) -> Vec<Node> {
        let grid = Grid { board: self, lights, places, blockers };
        let mut open = vec![Cell { middle: [0.0; 2], half: [1.0; 2] }];
        let mut cells = Vec::new();
        while let Some(cell) = open.pop() {
            if open.len() + cells.len() < MOST && grid.is_too_large(&cell) {
                open.extend(grid.halves(&cell));
            } else {
                cells.push(cell);
            }
        }
        let quarter = self.panel.area() / 4.0;
        let points = cells
            .iter()
            .flat_map(|cell| GAUSS.iter().flat_map(move |x| GAUSS.iter().map(move |y| (cell, x, y))));
        points
            .map(|(Cell { middle, half }, [x, weight_x], [y, weight_y])| Node {
                at: self.panel.at([half[0].mul_add(*x, middle[0]), half[1].mul_add(*y, middle[1])]),
                area: quarter * half[0] * half[1] * weight_x * weight_y,
            })
            .collect()
    }
}

/// What decides how fine the cells of a board are.
struct Grid<'g> {
    board: &'g Reflector,
    lights: &'g [Faces<'g>],
    places: &'g [Option<Place>],
    blockers: &'g [Blocker],
}

impl Grid<'_> {
    /// The sides of a cell, m.
    fn sides(&self, cell: &Cell) -> [f64; 2] {
        let panel = &self.board.panel;
        [2.0 * cell.half[0] * length(panel.across), 2.0 * cell.half[1] * length(panel.along)]
    }

    /// A cell in two, across its longer side.
    fn halves(&self, cell: &Cell) -> [Cell; 2] {
        let [width, height] = self.sides(cell);
        let side = usize::from(height > width);
        [-0.5, 0.5].map(|part| {
            let mut new = *cell;
            new.middle[side] = cell.half[side].mul_add(part, cell.middle[side]);
            new.half[side] = cell.half[side] / 2.0;
            new
        })
    }

    fn is_too_large(&self, cell: &Cell) -> bool {
        let panel = &self.board.panel;
        let [width, height] = self.sides(cell);
        let (side, reach) = (width.max(height), 0.5 * width.hypot(height));
        let whole = 2.0 * length(panel.across).max(length(panel.along));
        if side <= LEAST * whole {
            return false;
        }
        let middle = panel.at(cell.middle);
        let is_near = |distance: f64| side > NEAR * (distance - reach).max(0.0);
        let places = || self.places.iter().flatten().filter(|place| panel.in_front(place.at) > 0.0);
        let faces = || self.lights.iter().flatten().flatten();
        if places().any(|place| is_near(length(minus(place.at, middle))))
            || faces().any(|face| {
                is_near(face.distance_to_edge(middle, panel))
                    || face.spot(middle, reach).is_some_and(|spot| side > SPOT * spot)
            })
        {
            return true;
        }
        side > CROSSED * whole
            && (places().any(|place| {
                place.normal.is_some_and(|normal| dot(minus(middle, place.at), normal).abs() < reach)
            }) || faces().any(|face| face.has_edge_plane_within(middle, reach))
                || self.is_in_half_shade(cell))
    }

    /// Whether a shadow ends in a cell.
    fn is_in_half_shade(&self, cell: &Cell) -> bool {
        if self.blockers.is_empty() {
            return false;
        }
        let spots: Vec<Vector> = (0..9)
            .map(|spot: i32| {
                let part =
                    |at: i32, axis: usize| cell.half[axis].mul_add(f64::from(at - 1), cell.middle[axis]);
                self.board.panel.at([part(spot % 3, 0), part(spot / 3, 1)])
            })
            .collect();
        let differs = |from: Vector, blocker: &Blocker| {
            let first = blocker.hides(spots[4], from);
            spots.iter().any(|spot| blocker.hides(*spot, from) != first)
        };
        let sources = self.lights.iter().filter_map(|faces| faces.iter().flatten().next()).map(Face::middle);
        let places = self.places.iter().flatten().map(|place| place.at);
        sources.chain(places).any(|from| self.blockers.iter().any(|blocker| differs(from, blocker)))
    }
}
