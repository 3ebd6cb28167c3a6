//! What stands in the way of light: flags, and people.
//!
//! A place is dark to what is behind a blocker, as seen from it. For a point that is all or nothing. Of a face, the shadow
//! of each flat side of a blocker is cut off: a cone from the place over that side, beyond its plane (derived: vector
//! geometry). The front of a cylinder is taken for narrow flat sides between its two outlines.

use crate::light::{
    id::Id,
    set::{
        panel::Panel,
        polygon::{Side, remove},
        vector::{Vector, cross, dot, length, minus, plus, scaled, unit},
    },
};

/// What is nearer than this to a body touches it, and it hides nothing from there but what is behind its surface, m.
const TOUCH: f64 = 0.01;
/// The same for a flat board, whose sides are told apart from there on, m.
const ON_BOARD: f64 = 1e-4;
/// Flat sides that stand for the half of a cylinder that is seen.
const SIDES: u32 = 12;
/// Corners of its top.
const CORNERS: u32 = 24;

/// Something that stands in the way of light.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocker {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// Its name, unique among blockers.
    pub name: String,
    /// Its shape.
    pub shape: Shape,
}

/// The shape of a blocker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// A flat rectangle.
    Board(Panel),
    /// An upright cylinder.
    Cylinder {
        /// The middle of its foot.
        foot: Vector,
        /// Its height, m.
        height: f64,
        /// Its radius, m.
        radius: f64,
    },
}

/// Where a place is to a blocker.
enum Nearness {
    /// Away from it.
    Free,
    /// On its surface, with the outward normal.
    On(Vector),
    /// On a flat board, or inside a body, which hides nothing from there.
    Within,
}

impl Blocker {
    /// Whether it hides one place from the other.
    pub fn hides(&self, from: Vector, to: Vector) -> bool {
        let line = minus(to, from);
        self.is_crossed(from, line)
            && match (self.nearness(from), self.nearness(to)) {
                (Nearness::Within, _) | (_, Nearness::Within) => false,
                (Nearness::On(outward), _) => dot(line, outward) < 0.0,
                (_, Nearness::On(outward)) => dot(line, outward) > 0.0,
                (Nearness::Free, Nearness::Free) => true,
            }
    }

    /// Whether a line from a place passes through it.
    fn is_crossed(&self, from: Vector, line: Vector) -> bool {
        match self.shape {
            Shape::Board(panel) => {
                let (here, there) = (panel.in_front(from), panel.in_front(plus(from, 1.0, line)));
                here * there < 0.0 && panel.is_over(plus(from, here / (here - there), line), 0.0)
            }
            Shape::Cylinder { foot, height, radius } => {
                // The part of the line inside the endless cylinder, and that between foot and top.
                let start = minus(from, foot);
                let a = line[0] * line[0] + line[1] * line[1];
                let b = start[0] * line[0] + start[1] * line[1];
                let c = start[0] * start[0] + start[1] * start[1] - radius * radius;
                let root = b * b - a * c;
                let round = if a > 0.0 {
                    if root <= 0.0 {
                        return false;
                    }
                    [(-b - root.sqrt()) / a, (-b + root.sqrt()) / a]
                } else if c < 0.0 {
                    [0.0, 1.0]
                } else {
                    return false;
                };
                let level = if line[2] == 0.0 {
                    if (0.0..=height).contains(&start[2]) { [0.0, 1.0] } else { return false }
                } else {
                    let ends = [-start[2] / line[2], (height - start[2]) / line[2]];
                    [ends[0].min(ends[1]), ends[0].max(ends[1])]
                };
                round[0].max(level[0]).max(0.0) < round[1].min(level[1]).min(1.0)
            }
        }
    }

    /// Whether it contains a place, so that it hides nothing from there.
    pub fn contains(&self, place: Vector) -> bool {
        matches!((self.shape, self.nearness(place)), (Shape::Cylinder { .. }, Nearness::Within))
    }

    /// Whether it may hide a part of what is within a radius of `middle` from a place: a quick test.
    pub fn may_hide(&self, place: Vector, middle: Vector, radius: f64) -> bool {
        let (own, reach) = match self.shape {
            Shape::Board(panel) => (panel.middle, panel.radius()),
            Shape::Cylinder { foot, height, radius } => {
                (plus(foot, 0.5 * height, [0.0, 0.0, 1.0]), radius.hypot(0.5 * height))
            }
        };
        let line = minus(middle, place);
        let part = (dot(minus(own, place), line) / dot(line, line)).clamp(0.0, 1.0);
        length(minus(own, plus(place, part, line))) <= reach + radius
    }

    fn nearness(&self, place: Vector) -> Nearness {
        match self.shape {
            Shape::Board(panel) => {
                if panel.in_front(place).abs() < ON_BOARD && panel.is_over(place, ON_BOARD) {
                    Nearness::Within
                } else {
                    Nearness::Free
                }
            }
            Shape::Cylinder { foot, height, radius } => {
                let from = minus(place, foot);
                let level = [from[0], from[1], 0.0];
                // How far inside each of its surfaces, with the outward normal.
                let depths = [
                    (radius - length(level), unit(level)),
                    (height - from[2], [0.0, 0.0, 1.0]),
                    (from[2], [0.0, 0.0, -1.0]),
                ];
                let (depth, outward) = depths
                    .into_iter()
                    .fold((f64::INFINITY, [0.0; 3]), |least, it| if it.0 < least.0 { it } else { least });
                if depth > TOUCH {
                    Nearness::Within
                } else if depth >= -TOUCH {
                    Nearness::On(outward)
                } else {
                    Nearness::Free
                }
            }
        }
    }

    /// What it hides from a place, as convex parts of the room.
    fn shadows(&self, place: Vector) -> Vec<Vec<Side>> {
        match (self.nearness(place), self.shape) {
            (Nearness::Within, _) => Vec::new(),
            (Nearness::On(outward), _) => vec![vec![Side::through(place, scaled(outward, -1.0))]],
            (Nearness::Free, Shape::Board(panel)) => vec![behind(place, &panel.corners())],
            (Nearness::Free, Shape::Cylinder { foot, height, radius }) => {
                cylinder_shadows(place, foot, height, radius)
            }
        }
    }
}

/// The shadow of a convex flat side, as seen from a place: inside the cone over its edges, beyond its plane. Nothing is
/// inside if the place is in that plane.
fn behind(place: Vector, corners: &[Vector]) -> Vec<Side> {
    let middle = scaled(
        corners.iter().fold([0.0; 3], |sum, corner| plus(sum, 1.0, *corner)),
        1.0 / corners.len() as f64,
    );
    let facing = |side: Side, inside: Vector| {
        if side.depth(inside) < 0.0 {
            Side { normal: scaled(side.normal, -1.0), offset: -side.offset }
        } else {
            side
        }
    };
    let edge = |index: usize| {
        let across = cross(minus(corners[index], place), minus(corners[(index + 1) % corners.len()], place));
        facing(Side::through(place, across), middle)
    };
    let plane = Side::through(middle, cross(minus(corners[1], corners[0]), minus(corners[2], corners[1])));
    let beyond = facing(plane, place);
    let beyond = Side { normal: scaled(beyond.normal, -1.0), offset: -beyond.offset };
    (0..corners.len()).map(edge).chain([beyond]).collect()
}

fn cylinder_shadows(place: Vector, foot: Vector, height: f64, radius: f64) -> Vec<Vec<Side>> {
    let from = minus(place, foot);
    let away = from[0].hypot(from[1]);
    let on_rim = |angle: f64, up: f64| {
        let (sine, cosine) = angle.sin_cos();
        [radius.mul_add(cosine, foot[0]), radius.mul_add(sine, foot[1]), foot[2] + up]
    };
    let mut shadows = Vec::new();
    if away > radius {
        // The sides that are seen lie between the two tangents.
        let (middle, half) = (from[1].atan2(from[0]), (radius / away).acos());
        let angle = |side: u32| middle + half * (2.0 * f64::from(side) / f64::from(SIDES) - 1.0);
        shadows.extend((0..SIDES).map(|side| {
            let [left, right] = [angle(side), angle(side + 1)];
            behind(
                place,
                &[on_rim(left, 0.0), on_rim(right, 0.0), on_rim(right, height), on_rim(left, height)],
            )
        }));
    }
    let end = if from[2] > height { Some(height) } else { (from[2] < 0.0).then_some(0.0) };
    if let Some(end) = end {
        let angle = |corner: u32| std::f64::consts::TAU * f64::from(corner) / f64::from(CORNERS);
        let corners: Vec<Vector> = (0..CORNERS).map(|corner| on_rim(angle(corner), end)).collect();
        shadows.push(behind(place, &corners));
    }
    shadows
}

/// Removes from parts of a face what is hidden from a place. A blocker that the middle of the face touches hides nothing.
pub fn shade(parts: &mut Vec<Vec<Vector>>, place: Vector, middle: Vector, blockers: &[&Blocker]) {
    for blocker in blockers.iter().filter(|it| !matches!(it.nearness(middle), Nearness::Within)) {
        for shadow in blocker.shadows(place) {
            remove(parts, &shadow);
        }
    }
}

#[cfg(test)]
mod tests;
