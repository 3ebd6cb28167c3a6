//! A flat rectangle in the room: the face of a light, a board, a flag.

use crate::light::{
    quantity::Metres,
    set::vector::{Vector, cross, dot, length, minus, plus, scaled, unit},
};

/// Directions are in line if the sine of the angle between them is less than this.
const IN_LINE: f64 = 1e-6;
/// Upwards.
const UP: Vector = [0.0, 0.0, 1.0];
/// Upwards on a level panel.
const AWAY: Vector = [0.0, 1.0, 0.0];

/// A rectangle in the room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panel {
    /// Its middle.
    pub middle: Vector,
    /// Its normal, of length 1, on its front.
    pub normal: Vector,
    /// From the middle to the middle of the right edge.
    pub across: Vector,
    /// From the middle to the middle of the upper edge.
    pub along: Vector,
}

impl Panel {
    /// A panel whose height runs up, or along y if it is level: then its width is level.
    pub fn upright(middle: Vector, normal: Vector, size: [Metres; 2]) -> Self {
        let normal = unit(normal);
        let up = if is_in_line(normal, UP) { AWAY } else { UP };
        Self::turned(middle, normal, size, up)
    }

    /// A panel whose height runs along `up`, as far as it lies in its plane. `None` if that is the direction of its normal.
    pub fn new(middle: Vector, normal: Vector, size: [Metres; 2], up: Option<Vector>) -> Option<Self> {
        match up {
            None => Some(Self::upright(middle, normal, size)),
            Some(up) if is_in_line(unit(normal), unit(up)) => None,
            Some(up) => Some(Self::turned(middle, unit(normal), size, up)),
        }
    }

    fn turned(middle: Vector, normal: Vector, [width, height]: [Metres; 2], up: Vector) -> Self {
        let up = unit(plus(up, -dot(up, normal), normal));
        let across = scaled(cross(up, normal), width.get() / 2.0);
        Self { middle, normal, across, along: scaled(up, height.get() / 2.0) }
    }

    /// A place on it: -1 to 1 from the left to the right edge, and from the lower to the upper one.
    pub fn at(&self, [right, up]: [f64; 2]) -> Vector {
        plus(plus(self.middle, right, self.across), up, self.along)
    }

    /// Where a place on it is: the inverse of [`Self::at`].
    pub fn on(&self, place: Vector) -> [f64; 2] {
        let from = minus(place, self.middle);
        [self.across, self.along].map(|half| dot(from, half) / dot(half, half))
    }

    /// Its corners, in turn.
    pub fn corners(&self) -> [Vector; 4] {
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|corner| self.at(corner))
    }

    /// Its area, m².
    pub fn area(&self) -> f64 {
        4.0 * length(self.across) * length(self.along)
    }

    /// How far a place is in front of its plane; negative behind it.
    pub fn in_front(&self, place: Vector) -> f64 {
        dot(minus(place, self.middle), self.normal)
    }

    /// Whether the foot of the perpendicular from a place is on it, or this near to its edge.
    pub fn is_over(&self, place: Vector, margin: f64) -> bool {
        let from = minus(place, self.middle);
        let within = |half: Vector| {
            let long = length(half);
            dot(from, half).abs() <= (long + margin) * long
        };
        within(self.across) && within(self.along)
    }

    /// The radius of the sphere around its middle that holds it.
    pub fn radius(&self) -> f64 {
        length(self.across).hypot(length(self.along))
    }
}

fn is_in_line(a: Vector, b: Vector) -> bool {
    length(cross(a, b)) < IN_LINE
}
