//! The light of a source at a place: the factor that takes the place of cosine over the square of the distance.
//!
//! A point gives f·cosθ/d². A face is integrated over its area, (1/A)·∫ f·cosθ/r² dA, with f the cosine of the angle off the
//! face (Lambert; CIE e-ILV), or the beam at that angle in its place. What is below the plane of the place, or behind that
//! of the face, gives nothing. A Lambertian rectangle is a closed form (see [`crate::light::set::polygon`]), and so is a
//! disc above that plane: the two configuration factors of an element parallel and perpendicular to it (published: Siegel &
//! Howell, and Howell's catalogue of configuration factors, B-12 and B-13), put together by their normals (derived).
//! On the axis both are the factors of [`crate::light::set::placement::Source`].

use std::f64::consts::TAU;

use crate::light::{
    quantity::Metres,
    set::{
        beam::Beam,
        blocker::{Blocker, shade},
        panel::Panel,
        placement::Source,
        polygon::{Integrand, Side, area as area_of, clipped, lambert},
        vector::{Vector, angle_deg, dot, length, minus, plus, scaled, unit},
    },
};

/// Corners of the polygon, of the same area, that stands for a disc where a part of it is cut off.
const CORNERS: u32 = 64;
/// The same with a beam, whose sum takes longer.
const BEAM_CORNERS: u32 = 32;
/// Spots of a face, along each side, from which rays go to a board.
const SPOTS: u32 = 4;
/// A cosine less than this is that of a right angle or more.
const RIGHT_ANGLE: f64 = 1e-12;
/// Up to this radius over the distance, a disc with a beam is smooth.
const FAR: f64 = 0.5;
/// Up to this share of a face, what is left of it beside shadows is a rounding error.
const SLIVER: f64 = 1e-9;
/// Gauss points from -1 to 1, and their weights (published: Abramowitz & Stegun, 25.4.30).
pub const GAUSS: [[f64; 2]; 4] = [
    [-0.861_136_311_594_052_6, 0.347_854_845_137_453_85],
    [-0.339_981_043_584_856_26, 0.652_145_154_862_546_1],
    [0.339_981_043_584_856_26, 0.652_145_154_862_546_1],
    [0.861_136_311_594_052_6, 0.347_854_845_137_453_85],
];

/// What lights: a source at its place.
#[derive(Debug, Clone)]
pub struct Face<'s> {
    /// Its middle.
    middle: Vector,
    /// The direction of its axis, of length 1.
    axis: Vector,
    shape: Shape,
    /// What takes the place of the cosine: `None` for the cosine itself, or for nothing at a point.
    beam: Option<&'s Beam>,
}

#[derive(Debug, Clone, Copy)]
enum Shape {
    Point,
    Disc { radius: f64, panel: Panel },
    Rectangle(Panel),
}

/// A place that is lit, and the direction of length 1 that it faces; the middle of what lights it if `None`.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Where it is.
    pub at: Vector,
    /// The normal.
    pub normal: Option<Vector>,
}

impl<'s> Face<'s> {
    /// A source whose axis has this direction, with a beam.
    pub fn new(middle: Vector, axis: Vector, source: Option<Source>, beam: Option<&'s Beam>) -> Self {
        let panel = |sides: [Metres; 2]| Panel::upright(middle, axis, sides);
        let shape = match source {
            None => Shape::Point,
            Some(Source::Disc { diameter }) => {
                Shape::Disc { radius: diameter.get() / 2.0, panel: panel([diameter; 2]) }
            }
            Some(Source::Rectangle { width, height }) => Shape::Rectangle(panel([width, height])),
        };
        Self { middle, axis: unit(axis), shape, beam }
    }

    /// The factor at a place, 1/m², with what stands in between.
    pub fn factor(&self, place: &Place, blockers: &[Blocker]) -> f64 {
        let to = minus(place.at, self.middle);
        let normal = place.normal.unwrap_or_else(|| unit(scaled(to, -1.0)));
        let (panel, area, radius) = match self.shape {
            Shape::Point => return self.of_point(to, normal, place.at, blockers),
            Shape::Disc { radius, panel } => (panel, TAU / 2.0 * radius * radius, radius),
            Shape::Rectangle(panel) => (panel, panel.area(), panel.radius()),
        };
        let height = dot(to, self.axis);
        if height <= 0.0 {
            return 0.0;
        }
        let horizon = Side::through(place.at, normal);
        let is_whole = self.least_depth(&horizon) >= 0.0;
        let blockers: Vec<&Blocker> =
            blockers.iter().filter(|it| it.may_hide(place.at, self.middle, radius)).collect();
        if let (Shape::Disc { radius, .. }, true, true) = (self.shape, is_whole, blockers.is_empty()) {
            match self.beam {
                None => return disc(radius, height, to, self.axis, normal),
                Some(beam) if !beam.is_rough() && radius / length(to) < FAR.min(beam.scale()) => {
                    return over_disc(&panel, self.shine(beam, place.at, normal));
                }
                Some(_) => {}
            }
        }
        if let (Shape::Rectangle(_), None, true, true) =
            (self.shape, self.beam, is_whole, blockers.is_empty())
        {
            return lambert(&panel.corners(), place.at, normal) / area;
        }
        let mut parts = vec![match self.shape {
            Shape::Disc { .. } => round(&panel, if self.beam.is_some() { BEAM_CORNERS } else { CORNERS }),
            _ => panel.corners().to_vec(),
        }];
        if !is_whole {
            parts = vec![clipped(&parts[0], &horizon)];
        }
        shade(&mut parts, place.at, self.middle, &blockers);
        // What is left of a hidden face by rounding is nothing.
        parts.retain(|part| area_of(part) > area * SLIVER);
        parts.iter().map(|part| self.of_part(part, place.at, normal)).sum::<f64>() / area
    }

    /// The same on a board, whose parts even out what is rough about half shade: of a face, the share of some of its spots
    /// that is not hidden.
    pub fn on_board(&self, place: &Place, blockers: &[Blocker]) -> f64 {
        let (panel, radius) = match &self.shape {
            Shape::Point => return self.factor(place, blockers),
            Shape::Disc { panel, radius } => (panel, *radius),
            Shape::Rectangle(panel) => (panel, panel.radius()),
        };
        let near: Vec<&Blocker> =
            blockers.iter().filter(|it| it.may_hide(place.at, self.middle, radius)).collect();
        let whole = self.factor(place, &[]);
        if whole == 0.0 || near.is_empty() {
            return whole;
        }
        let spot = |index: u32| {
            let [x, y] =
                [index % SPOTS, index / SPOTS].map(|part| (f64::from(part) + 0.5) / f64::from(SPOTS));
            panel.at(if matches!(self.shape, Shape::Disc { .. }) {
                let (sine, cosine) = (TAU * y).sin_cos();
                [x.sqrt() * cosine, x.sqrt() * sine]
            } else {
                [2.0 * x - 1.0, 2.0 * y - 1.0]
            })
        };
        let is_lit = |spot: &Vector| !near.iter().any(|blocker| blocker.hides(place.at, *spot));
        let lit = (0..SPOTS * SPOTS).map(spot).filter(is_lit).count();
        whole * lit as f64 / f64::from(SPOTS * SPOTS)
    }

    /// The least height of a part of it above a plane.
    fn least_depth(&self, horizon: &Side) -> f64 {
        let reach = |panel: &Panel, of: fn(f64, f64) -> f64| {
            of(dot(panel.across, horizon.normal).abs(), dot(panel.along, horizon.normal).abs())
        };
        horizon.depth(self.middle)
            - match &self.shape {
                Shape::Point => 0.0,
                Shape::Disc { panel, .. } => reach(panel, f64::hypot),
                Shape::Rectangle(panel) => reach(panel, |a, b| a + b),
            }
    }

    /// Its middle.
    pub const fn middle(&self) -> Vector {
        self.middle
    }

    /// The distance of a place on a board from the edge of the face, or from the point, as far as that is in front of the
    /// board; else infinite.
    pub fn distance_to_edge(&self, place: Vector, board: &Panel) -> f64 {
        let (panel, is_round) = match &self.shape {
            Shape::Point if board.in_front(self.middle) > 0.0 => return length(minus(place, self.middle)),
            Shape::Point => return f64::INFINITY,
            Shape::Disc { panel, .. } => (panel, true),
            Shape::Rectangle(panel) => (panel, false),
        };
        if panel.corners().iter().all(|corner| board.in_front(*corner) <= 0.0) {
            return f64::INFINITY;
        }
        let from = minus(place, self.middle);
        let height = dot(from, self.axis);
        let halves = [panel.across, panel.along].map(|half| (dot(from, unit(half)), length(half)));
        let aside = if is_round {
            halves[0].0.hypot(halves[1].0) - halves[0].1
        } else {
            let beyond = halves.map(|(along, half)| along.abs() - half);
            if beyond[0] > 0.0 && beyond[1] > 0.0 {
                beyond[0].hypot(beyond[1])
            } else {
                beyond[0].max(beyond[1])
            }
        };
        height.hypot(aside)
    }

    /// The width of the spot of its beam where that reaches within `reach` of a place, m; `None` aside from the spot, or if
    /// its light changes slowly.
    pub fn spot(&self, place: Vector, reach: f64) -> Option<f64> {
        let scale = self.beam.map(Beam::scale).filter(|scale| *scale < 0.7)?;
        let to = minus(place, self.middle);
        let distance = length(to);
        let off = angle_deg(self.axis, to).to_radians() - (reach / distance).atan();
        (off < 4.0 * scale).then_some(scale * distance)
    }

    /// Whether the plane of the face, behind which it gives no light, passes within `reach` of a place beside it.
    pub fn has_edge_plane_within(&self, place: Vector, reach: f64) -> bool {
        !matches!(self.shape, Shape::Point) && dot(minus(place, self.middle), self.axis).abs() < reach
    }

    fn of_point(&self, to: Vector, normal: Vector, at: Vector, blockers: &[Blocker]) -> f64 {
        let distance = length(to);
        let cosine = -dot(to, normal) / distance;
        if cosine < RIGHT_ANGLE || blockers.iter().any(|blocker| blocker.hides(at, self.middle)) {
            return 0.0;
        }
        let beam = self.beam.map_or(1.0, |beam| beam.relative(angle_deg(self.axis, to)));
        cosine * beam / (distance * distance)
    }

    /// The sum over a part of the face, of which nothing is below the plane of the place.
    fn of_part(&self, corners: &[Vector], at: Vector, normal: Vector) -> f64 {
        let Some(beam) = self.beam else { return lambert(corners, at, normal) };
        let value = self.shine(beam, at, normal);
        Integrand { value, from: at, scale: beam.scale(), is_rough: beam.is_rough() }.over(corners)
    }

    /// What a part of the face gives with a beam, per area.
    fn shine(&self, beam: &Beam, at: Vector, normal: Vector) -> impl Fn(Vector) -> f64 {
        let (axis, strength) = (self.axis, beam.by_cosine());
        move |part: Vector| {
            let to = minus(at, part);
            let square = dot(to, to);
            let distance = square.sqrt();
            strength(dot(to, axis) / distance) * (-dot(to, normal)).max(0.0) / (square * distance)
        }
    }
}

/// The sum over a disc of what is smooth on it, over its area: Gauss points of the squared radius (published: Abramowitz &
/// Stegun, 25.4.30), on rings of even steps.
fn over_disc(panel: &Panel, value: impl Fn(Vector) -> f64) -> f64 {
    const STEPS: u32 = 12;
    let ring = |[square, weight]: [f64; 2]| {
        let radius = (0.5 + 0.5 * square).sqrt();
        let place = |step: u32| {
            let (sine, cosine) = (TAU * (f64::from(step) + 0.5) / f64::from(STEPS)).sin_cos();
            panel.at([radius * cosine, radius * sine])
        };
        0.5 * weight * (0..STEPS).map(place).map(&value).sum::<f64>() / f64::from(STEPS)
    };
    GAUSS.into_iter().map(ring).sum()
}

/// The factor of a Lambertian disc that is all above the plane of the place: see the head of this file.
fn disc(radius: f64, height: f64, to: Vector, axis: Vector, normal: Vector) -> f64 {
    let aside = plus(to, -height, axis);
    let away = length(aside);
    let [h, a, r] = [height * height, away * away, radius * radius];
    let sum = h + a + r;
    let (near, root) = (h + a - r, 4.0f64.mul_add(h * r, (h + a - r) * (h + a - r)).sqrt());
    // 1 - near/root, without the loss of digits far away.
    let parallel = if near > 0.0 { 2.0 * h * r / (root * (root + near)) } else { 0.5 * (1.0 - near / root) };
    let upright = 2.0 * height * r * away / (root * (sum + root));
    let inwards = -dot(normal, unit(aside));
    (parallel * -dot(normal, axis) + upright * inwards) / r
}

/// A polygon with the area of the disc in a square.
fn round(panel: &Panel, corners: u32) -> Vec<Vector> {
    let step = TAU / f64::from(corners);
    let larger = (step / step.sin()).sqrt();
    let corner = |index: u32| (step * f64::from(index)).sin_cos();
    (0..corners).map(corner).map(|(sine, cosine)| panel.at([larger * cosine, larger * sine])).collect()
}

#[cfg(test)]
mod tests;
