//! Where a light stands to a point: distance and angles from positions (derived: vector geometry).

use crate::light::quantity::Metres;

/// A place in the room, m: x to the right, y away, z up, from wherever the caller likes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position(pub [f64; 3]);

/// A direction; its length does not matter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direction(pub [f64; 3]);

/// How a point sees a light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// From the light to the point.
    pub distance: Metres,
    /// Angle between the point's normal and the light, degrees; over 90 the light is behind the plane.
    pub incidence_deg: f64,
    /// Angle between the light's axis and the point, degrees.
    pub off_axis_deg: f64,
}

/// What cannot be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flaw {
    /// The light stands on the point.
    OnThePoint,
    /// The light is aimed at itself.
    AimedAtItself,
}

/// Shorter than this is no length, m: the least distance that a request may state.
const NO_LENGTH: f64 = 0.01;

impl Direction {
    /// Whether it points anywhere.
    pub fn is_zero(self) -> bool {
        length(self.0) < 1e-9
    }
}

/// How `point` sees `light`. With no aim the light looks at the point; with no normal the point faces the
/// light.
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

/// The way from `b` to `a`.
pub fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn length(v: [f64; 3]) -> f64 {
    v[0].hypot(v[1]).hypot(v[2])
}

/// The angle between two vectors, by both sine and cosine, so that small and right angles keep their digits.
fn angle_deg(a: [f64; 3], b: [f64; 3]) -> f64 {
    let cross = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
    let dot = a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    length(cross).atan2(dot).to_degrees()
}
