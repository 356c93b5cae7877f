//! Vectors in the Earth-fixed frame: x to the meridian of Greenwich, z to the north pole.

/// Three components along x, y and z.
pub(crate) type Vector = [f64; 3];

pub(crate) fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(crate) fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(crate) fn norm(a: Vector) -> f64 {
    dot(a, a).sqrt()
}

pub(crate) fn scaled(a: Vector, by: f64) -> Vector {
    a.map(|part| part * by)
}

/// `a + by * b`.
pub(crate) fn plus(a: Vector, by: f64, b: Vector) -> Vector {
    [a[0] + by * b[0], a[1] + by * b[1], a[2] + by * b[2]]
}
