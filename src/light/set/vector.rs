//! Vectors in the room, m (derived: vector geometry).

/// A vector: x to the right, y away, z up.
pub type Vector = [f64; 3];

/// The vector from `b` to `a`.
pub fn minus(a: Vector, b: Vector) -> Vector {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// `a` and `by` times `b`.
pub fn plus(a: Vector, by: f64, b: Vector) -> Vector {
    [by.mul_add(b[0], a[0]), by.mul_add(b[1], a[1]), by.mul_add(b[2], a[2])]
}

/// A vector, longer by a factor.
pub fn scaled(v: Vector, by: f64) -> Vector {
    v.map(|part| part * by)
}

/// The scalar product.
pub fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The vector product.
pub fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// The length of a vector.
pub fn length(v: Vector) -> f64 {
    dot(v, v).sqrt()
}

/// The vector of this direction and length 1; zero stays zero.
pub fn unit(v: Vector) -> Vector {
    let long = length(v);
    if long > 0.0 { scaled(v, 1.0 / long) } else { v }
}

/// The angle between two vectors, from both sine and cosine, which is accurate for small angles and right angles, degrees.
pub fn angle_deg(a: Vector, b: Vector) -> f64 {
    length(cross(a, b)).atan2(dot(a, b)).to_degrees()
}
