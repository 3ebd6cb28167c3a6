//! Flat convex polygons in the room: what is left of one above a plane or outside a shadow, the light of a Lambertian one,
//! and sums over one.
//!
//! The light of a uniform Lambertian polygon at a surface is ½·Σ γ·(n·Γ) over its edges, with γ the angle that an edge
//! subtends and Γ the unit normal of the plane through it and the point (Lambert; published: Siegel & Howell, Thermal
//! Radiation Heat Transfer, contour integration). What is below the surface's own plane must be cut off before.

use crate::light::set::vector::{Vector, cross, dot, length, minus, plus, scaled};

/// One side of a plane: the places whose distance along the normal from the plane is 0 or more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    /// The normal, which points to the places that belong to it.
    pub normal: Vector,
    /// The distance of the plane from the origin along the normal.
    pub offset: f64,
}

impl Side {
    /// The side of a plane through a point to which the normal points.
    pub fn through(point: Vector, normal: Vector) -> Self {
        Self { normal, offset: dot(point, normal) }
    }

    /// How far a place is inside; negative outside.
    pub fn depth(&self, place: Vector) -> f64 {
        dot(place, self.normal) - self.offset
    }

    /// The other side of the plane.
    fn other(&self) -> Self {
        Self { normal: scaled(self.normal, -1.0), offset: -self.offset }
    }
}

/// The part of a polygon on one side of a plane; no corners if there is none.
pub fn clipped(corners: &[Vector], side: &Side) -> Vec<Vector> {
    let mut left = Vec::with_capacity(corners.len() + 1);
    for (index, &corner) in corners.iter().enumerate() {
        let next = corners[(index + 1) % corners.len()];
        let (here, there) = (side.depth(corner), side.depth(next));
        if here >= 0.0 {
            left.push(corner);
        }
        if (here > 0.0 && there < 0.0) || (here < 0.0 && there > 0.0) {
            left.push(plus(corner, here / (here - there), minus(next, corner)));
        }
    }
    if left.len() < 3 { Vec::new() } else { left }
}

/// The area of a flat polygon, m².
pub fn area(corners: &[Vector]) -> f64 {
    let Some((first, rest)) = corners.split_first() else { return 0.0 };
    let twice = rest
        .windows(2)
        .fold([0.0; 3], |sum, pair| plus(sum, 1.0, cross(minus(pair[0], *first), minus(pair[1], *first))));
    length(twice) / 2.0
}

/// Removes what is inside all of `shadow` from polygons, which fall into convex parts.
pub fn remove(polygons: &mut Vec<Vec<Vector>>, shadow: &[Side]) {
    let mut parts = Vec::with_capacity(polygons.len());
    for polygon in polygons.drain(..) {
        if shadow.iter().any(|side| polygon.iter().all(|corner| side.depth(*corner) <= 0.0)) {
            parts.push(polygon);
            continue;
        }
        let mut lit = Vec::new();
        let mut rest = polygon.clone();
        for side in shadow {
            if rest.is_empty() {
                break;
            }
            lit.push(clipped(&rest, &side.other()));
            rest = clipped(&rest, side);
        }
        if rest.is_empty() {
            // The shadow misses it.
            parts.push(polygon);
        } else {
            parts.extend(lit.into_iter().filter(|part| !part.is_empty()));
        }
    }
    *polygons = parts;
}

/// ∫ cosθ·cosθ′/r² dA over a polygon, of which nothing is below the plane of the point with this normal.
pub fn lambert(corners: &[Vector], point: Vector, normal: Vector) -> f64 {
    let mut sum = 0.0;
    for (index, &corner) in corners.iter().enumerate() {
        let next = corners[(index + 1) % corners.len()];
        let from = minus(corner, point);
        // The product with the edge has fewer rounding errors than that with the next corner.
        let across = cross(from, minus(next, corner));
        let size = length(across);
        if size > 0.0 {
            let angle = size.atan2(dot(from, minus(next, point)));
            sum += angle * dot(across, normal) / size;
        }
    }
    0.5 * sum.abs()
}

/// How often a part is split into four at the most.
const MAX_DEPTH: u32 = 7;
/// Differences that no longer matter, over the whole sum.
const FINE: f64 = 3e-5;
/// A part this small against its distance is smooth, whatever the light does with the angle.
const TINY: f64 = 0.04;
/// A part this small against its distance is smooth if the light changes no faster than the cosine does.
const SMALL: f64 = 0.6;
/// A part larger than this against its distance may hide a peak between its points.
const COARSE: f64 = 1.5;

/// What a sum over a polygon is taken of.
pub struct Integrand<F: Fn(Vector) -> f64> {
    /// The value at a place, per area.
    pub value: F,
    /// The point that it is seen from.
    pub from: Vector,
    /// The angle over which the light changes much, rad.
    pub scale: f64,
    /// Whether the light may have kinks and jumps.
    pub is_rough: bool,
}

impl<F: Fn(Vector) -> f64> Integrand<F> {
    /// The sum over a convex polygon: by triangles, each split as long as that changes the sum.
    pub fn over(&self, corners: &[Vector]) -> f64 {
        let mut triangles = Vec::with_capacity(corners.len());
        add_triangles(corners, &mut triangles);
        let all: Vec<([Vector; 3], f64)> =
            triangles.into_iter().map(|triangle| (triangle, self.rule(&triangle))).collect();
        let whole: f64 = all.iter().map(|(_, sum)| sum).sum();
        all.iter().map(|(triangle, own)| self.split(triangle, *own, whole, 0)).sum()
    }

    fn split(&self, triangle: &[Vector; 3], own: f64, whole: f64, depth: u32) -> f64 {
        let [a, b, c] = *triangle;
        let size = length(minus(b, a)).max(length(minus(c, b))).max(length(minus(a, c)));
        let middle = scaled(plus(plus(a, 1.0, b), 1.0, c), 1.0 / 3.0);
        let seen = size / length(minus(middle, self.from)).max(1e-12);
        let is_smooth = seen < TINY || (!self.is_rough && seen < SMALL.min(self.scale));
        if is_smooth || depth == MAX_DEPTH {
            return own;
        }
        let parts = quarters(triangle);
        let sums = parts.map(|part| self.rule(&part));
        let sum: f64 = sums.iter().sum();
        let is_coarse = seen > COARSE.min(4.0 * self.scale);
        if !is_coarse && (sum - own).abs() <= FINE * whole.max(sum) {
            return sum;
        }
        parts.iter().zip(sums).map(|(part, own)| self.split(part, own, whole.max(sum), depth + 1)).sum()
    }

    fn rule(&self, triangle: &[Vector; 3]) -> f64 {
        rule(triangle).into_iter().map(|(at, area)| area * (self.value)(at)).sum()
    }
}

/// Seven points of a triangle with their shares of its area, exact to the fifth degree (published: Radon 1948).
fn rule([a, b, c]: &[Vector; 3]) -> [(Vector, f64); 7] {
    const MIDDLE: f64 = 9.0 / 40.0;
    const NEAR: [f64; 2] = [0.101_286_507_323_456_34, 0.125_939_180_544_827_15];
    const FAR: [f64; 2] = [0.470_142_064_105_115_1, 0.132_394_152_788_506_2];
    let (to_b, to_c) = (minus(*b, *a), minus(*c, *a));
    let area = 0.5 * length(cross(to_b, to_c));
    let point = |[u, v]: [f64; 2], weight: f64| (plus(plus(*a, u, to_b), v, to_c), weight * area);
    let [near, far] = [NEAR, FAR].map(|[at, weight]| {
        let other = 2.0f64.mul_add(-at, 1.0);
        [[at, at], [other, at], [at, other]].map(|place| point(place, weight))
    });
    [point([1.0 / 3.0; 2], MIDDLE), near[0], near[1], near[2], far[0], far[1], far[2]]
}

/// Points of a convex polygon with their shares of its area: those of its triangles.
pub fn points(corners: &[Vector]) -> Vec<(Vector, f64)> {
    let mut triangles = Vec::with_capacity(corners.len());
    add_triangles(corners, &mut triangles);
    triangles.iter().flat_map(rule).collect()
}

/// A triangle in four of the same shape.
fn quarters([a, b, c]: &[Vector; 3]) -> [[Vector; 3]; 4] {
    let half = |a: Vector, b: Vector| scaled(plus(a, 1.0, b), 0.5);
    let [ab, bc, ca] = [half(*a, *b), half(*b, *c), half(*c, *a)];
    [[*a, ab, ca], [ab, *b, bc], [ca, bc, *c], [ab, bc, ca]]
}

/// Adds the triangles of a convex polygon, large ones in the middle.
fn add_triangles(corners: &[Vector], triangles: &mut Vec<[Vector; 3]>) {
    let count = corners.len();
    if count < 3 {
        return;
    }
    let [second, third] = [count.div_ceil(3), (2 * count).div_ceil(3)];
    triangles.push([corners[0], corners[second], corners[third]]);
    add_triangles(&corners[..=second], triangles);
    add_triangles(&corners[second..=third], triangles);
    let last: Vec<Vector> = corners[third..].iter().chain([&corners[0]]).copied().collect();
    add_triangles(&last, triangles);
}
