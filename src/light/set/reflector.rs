//! Matte boards and ceilings as second sources of light: one bounce.
//!
//! A board of reflectance ρ under the light E sends ρ·E/π in every direction (Lambert; CIE e-ILV, radiance and exitance), so
//! that a place gets ∫ ρ·E/π · cosθ·cosθ′/r² dA of it. The integral is a sum over cells of the board with Gauss points, the
//! same for all lights and places: small where a place, the edge of a face or the spot of a narrow beam is near, and where
//! a shadow or the plane of a face crosses the board. Where the plane of a place crosses a cell, its part above is summed
//! by itself, with the light between the Gauss points interpolated.

use std::{collections::VecDeque, f64::consts::PI};

use crate::light::{
    id::Id,
    quantity::Stops,
    set::{
        blocker::Blocker,
        face::{Face, GAUSS, Place},
        panel::Panel,
        polygon::{Side, clipped, points},
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
    /// How far that may be off, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
}

/// A light: one face, or one for each place if it is aimed at each in turn; `None` for a place that it has no part in.
pub type Faces<'s> = Vec<Option<Face<'s>>>;

/// What a board reflects: lights, places, and what stands between.
#[derive(Debug, Clone)]
pub struct Around<'s> {
    /// The lights.
    pub lights: Vec<Faces<'s>>,
    /// The places that are lit; `None` for one of unknown position.
    pub places: Vec<Option<Place>>,
    /// What stands in the way.
    pub blockers: &'s [Blocker],
    /// How many boards there are, which share the time there is.
    pub boards: usize,
}

impl Around<'_> {
    /// The most cells of each board: fewer for many lights, so that the largest set does not take a second.
    fn most_cells(&self) -> usize {
        let faces = self.lights.iter().map(Vec::len).sum::<usize>() + self.places.len();
        let each = NODES * faces * (8 + self.blockers.len()) / 8 * self.boards;
        (BUDGET / each.max(1)).clamp(LEAST_CELLS, MOST_CELLS)
    }
}

/// Gauss points of a cell.
const NODES: usize = GAUSS.len() * GAUSS.len();
/// The longest side of a cell, over the distance to what is near.
const NEAR: f64 = 2.0;
/// The same, over the width of a beam's spot.
const SPOT: f64 = 1.2;
/// The longest side of a cell that a shadow or the plane of a face crosses, over that of the board.
const CROSSED: f64 = 1.0 / 16.0;
/// The shortest side of a cell, over that of the board.
const LEAST: f64 = 1.0 / 256.0;
/// The most cells of a board.
const MOST_CELLS: usize = 1024;
/// The same for the largest sets.
const LEAST_CELLS: usize = 1;
/// How often light or a place may be looked at from Gauss points, of all boards.
const BUDGET: usize = 2_000_000;

/// A part of a board: its middle and half its sides, over half the sides of the board.
#[derive(Clone, Copy)]
struct Cell {
    middle: [f64; 2],
    half: [f64; 2],
}

impl Reflector {
    /// The factor of each light at each place by way of this board, 1/m²: by place, then by light.
    pub fn factors(&self, around: &Around<'_>) -> Vec<Vec<f64>> {
        let Around { lights, places, blockers, .. } = around;
        let cells = self.cells(around);
        let nodes: Vec<Vector> =
            cells.iter().flat_map(|cell| cell.nodes().map(|[at, _]| self.panel.at(at))).collect();
        let normal = Some(self.panel.normal);
        let on_board = |face: &Face<'_>| -> Vec<f64> {
            nodes.iter().map(|node| face.on_board(&Place { at: *node, normal }, blockers)).collect()
        };
        // A light that is aimed at each place in turn lights the board differently for each.
        let lit: Vec<Vec<Option<Vec<f64>>>> = lights
            .iter()
            .map(|faces| faces.iter().map(|face| face.as_ref().map(on_board)).collect())
            .collect();
        let by_light = |(index, place): (usize, &Option<Place>)| -> Vec<f64> {
            let Some(place) = place else { return vec![0.0; lights.len()] };
            let weights = self.weights(&cells, &nodes, place, blockers);
            let factor = |faces: &Vec<Option<Vec<f64>>>| {
                let lit = faces.get(if faces.len() == 1 { 0 } else { index }).and_then(Option::as_ref);
                lit.map_or(0.0, |lit| lit.iter().zip(&weights).map(|(lit, weight)| lit * weight).sum())
            };
            lit.iter().map(factor).map(|sum: f64| self.reflectance / PI * sum).collect()
        };
        places.iter().enumerate().map(by_light).collect()
    }

    /// What a place gets from each Gauss point, for light of 1 on it.
    fn weights(&self, cells: &[Cell], nodes: &[Vector], place: &Place, blockers: &[Blocker]) -> Vec<f64> {
        let normal = place.normal.unwrap_or_else(|| unit(minus(self.panel.middle, place.at)));
        let horizon = Side::through(place.at, normal);
        let is_lit = |from: Vector| !blockers.iter().any(|it| it.hides(place.at, from));
        let value = |from: Vector| {
            let to = minus(place.at, from);
            let square = dot(to, to);
            dot(to, self.panel.normal) * -dot(to, normal) / (square * square)
        };
        let area = self.panel.area() / 4.0;
        let mut weights = vec![0.0; nodes.len()];
        if self.panel.in_front(place.at) <= 0.0 {
            return weights;
        }
        for ((cell, nodes), weights) in cells.iter().zip(nodes.chunks(NODES)).zip(weights.chunks_mut(NODES)) {
            let corners = cell.corners().map(|corner| self.panel.at(corner));
            let above = corners.iter().filter(|corner| horizon.depth(**corner) > 0.0).count();
            if above == corners.len() {
                for ((weight, node), [_, [x, y]]) in weights.iter_mut().zip(nodes).zip(cell.nodes()) {
                    if is_lit(*node) {
                        *weight = area * cell.half[0] * cell.half[1] * x * y * value(*node);
                    }
                }
            } else if above > 0 {
                for (from, area) in points(&clipped(&corners, &horizon)) {
                    if is_lit(from) {
                        let part = area * value(from);
                        for (weight, share) in weights.iter_mut().zip(cell.shares(self.panel.on(from))) {
                            *weight += part * share;
                        }
                    }
                }
            }
        }
        weights
    }

    /// The cells of the board, the largest made smaller first.
    fn cells(&self, around: &Around<'_>) -> Vec<Cell> {
        let (grid, most) = (Grid { board: self, around }, around.most_cells());
        let mut open = VecDeque::from([Cell { middle: [0.0; 2], half: [1.0; 2] }]);
        let mut cells = Vec::new();
        while let Some(cell) = open.pop_front() {
            if open.len() + cells.len() < most && grid.is_too_large(&cell) {
                open.extend(grid.halves(&cell));
            } else {
                cells.push(cell);
            }
        }
        cells
    }
}

impl Cell {
    fn corners(&self) -> [[f64; 2]; 4] {
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|corner| self.at(corner))
    }

    fn at(&self, part: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|axis| self.half[axis].mul_add(part[axis], self.middle[axis]))
    }

    /// Its Gauss points, each with its weights along both sides.
    fn nodes(&self) -> impl Iterator<Item = [[f64; 2]; 2]> {
        let cell = *self;
        GAUSS
            .into_iter()
            .flat_map(move |x| GAUSS.into_iter().map(move |y| [cell.at([x[0], y[0]]), [x[1], y[1]]]))
    }

    /// The share of each Gauss point in the value at a place in the cell: the polynomials of Lagrange.
    fn shares(&self, place: [f64; 2]) -> impl Iterator<Item = f64> {
        let along = [0, 1].map(|axis| {
            let at = (place[axis] - self.middle[axis]) / self.half[axis];
            let share = |own: usize| {
                let others = (0..GAUSS.len()).filter(|other| *other != own);
                let part = |other: usize| (at - GAUSS[other][0]) / (GAUSS[own][0] - GAUSS[other][0]);
                others.map(part).product::<f64>()
            };
            [share(0), share(1), share(2), share(3)]
        });
        along[0].into_iter().flat_map(move |x| along[1].into_iter().map(move |y| x * y))
    }
}

/// What decides how fine the cells of a board are.
struct Grid<'g> {
    board: &'g Reflector,
    around: &'g Around<'g>,
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
        let places = || self.around.places.iter().flatten().filter(|place| panel.in_front(place.at) > 0.0);
        let faces = || self.around.lights.iter().flatten().flatten();
        if places().any(|place| is_near(length(minus(place.at, middle))))
            || faces().any(|face| {
                is_near(face.distance_to_edge(middle, panel))
                    || face.spot(middle, reach).is_some_and(|spot| side > SPOT * spot)
            })
        {
            return true;
        }
        side > CROSSED * whole
            && (faces().any(|face| face.has_edge_plane_within(middle, reach)) || self.is_in_half_shade(cell))
    }

    /// Whether a shadow ends in a cell.
    fn is_in_half_shade(&self, cell: &Cell) -> bool {
        if self.around.blockers.is_empty() {
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
        let sources =
            self.around.lights.iter().filter_map(|faces| faces.iter().flatten().next()).map(Face::middle);
        let places = self.around.places.iter().flatten().map(|place| place.at);
        sources.chain(places).any(|from| self.around.blockers.iter().any(|blocker| differs(from, blocker)))
    }
}

#[cfg(test)]
mod tests;
