//! Distance and angles between a light and a point, from positions (derived: vector geometry).

use crate::light::{
    quantity::Metres,
    set::vector::{Vector, angle_deg, length, minus},
};

/// A position in the room, m: x to the right, y away, z up. The client chooses the origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position(pub Vector);

/// A direction vector of any length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direction(pub Vector);

/// Where the camera stands. It is drawn, and changes no number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Its position.
    pub position: Position,
    /// The position that it is aimed at, if that is stated.
    pub aim: Option<Position>,
}

impl Camera {
    /// The camera, unless it is aimed at its own position.
    pub fn new(position: Position, aim: Option<Position>) -> Result<Self, Flaw> {
        match aim {
            Some(aim) if length(minus(aim.0, position.0)) < NO_LENGTH => Err(Flaw::AimedAtItself),
            _ => Ok(Self { position, aim }),
        }
    }
}

/// The geometry of a light as seen from a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Distance from the light to the point.
    pub distance: Metres,
    /// Angle between the normal of the point and the direction to the light, degrees; over 90 the light is behind the plane.
    pub incidence_deg: f64,
    /// Angle between the axis of the light and the direction to the point, degrees.
    pub off_axis_deg: f64,
}

/// An impossible geometry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flaw {
    /// The light is at the position of the point.
    OnThePoint,
    /// The light is aimed at its own position.
    AimedAtItself,
}

/// Lengths shorter than this count as zero, m: the least distance in a request.
const NO_LENGTH: f64 = 0.01;

impl Direction {
    /// Whether its length is zero.
    pub fn is_zero(self) -> bool {
        length(self.0) < 1e-9
    }
}

/// Distance and angles between `light` and `point`. Without an aim, the light is aimed at the point; without a normal, the
/// point faces the light.
pub fn seen(
    light: Position,
    aim: Option<Position>,
    point: Position,
    normal: Option<Direction>,
) -> Result<Seen, Flaw> {
    let ray = minus(point.0, light.0);
    let distance = length(ray);
    if distance < NO_LENGTH {
        return Err(Flaw::OnThePoint);
    }
    let off_axis_deg = match aim.map(|aim| minus(aim.0, light.0)) {
        Some(axis) if length(axis) < NO_LENGTH => return Err(Flaw::AimedAtItself),
        Some(axis) => angle_deg(axis, ray),
        None => 0.0,
    };
    let incidence_deg = normal.map_or(0.0, |normal| angle_deg(normal.0, ray.map(|along| -along)));
    Ok(Seen { distance: Metres::new_unchecked(distance), incidence_deg, off_axis_deg })
}
