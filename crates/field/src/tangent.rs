//! A plane that touches the ellipsoid, for moves of up to some thousand km about a point.
//!
//! ```text
//!            v (first axis turned by 90 deg clockwise)
//!            |     / \  offset (u, v) in km: turn the normal at the point of contact by the angle
//!            |    /     (u / radius, v / radius), as a rotation that carries the plane's axes along
//!            +---------- u (first axis)
//! ```
//!
//! Positions are handled as unit normals of the ellipsoid, so a geographic pole is a point like any
//! other. Offsets are coordinates, not geodesics: they are true lengths at the point of contact, and
//! within 0.1 % at 1000 km.

use dipward_geodesy::{Position, position};

use crate::ellipsoid_frame::radii_km;

type Vector = [f64; 3];

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn sum(a: f64, x: Vector, b: f64, y: Vector) -> Vector {
    std::array::from_fn(|i| a * x[i] + b * y[i])
}

fn unit(a: Vector) -> Vector {
    let length = dot(a, a).sqrt();
    a.map(|part| part / length)
}

/// The normal of the ellipsoid and the directions of north and east at a position.
fn normal_north_east(at: Position) -> [Vector; 3] {
    let (sin_lat, cos_lat) = at.y().to_radians().sin_cos();
    let (sin_lon, cos_lon) = at.x().to_radians().sin_cos();
    [
        [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
        [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
        [-sin_lon, cos_lon, 0.0],
    ]
}

fn position_of(normal: Vector) -> Position {
    let [x, y, z] = normal;
    position(z.atan2(x.hypot(y)).to_degrees(), y.atan2(x).to_degrees())
}

/// A rotation in the plane: how one pair of axes stands to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    cosine: f64,
    sine: f64,
}

impl Turn {
    /// A vector told in the axes turned to, given in the axes turned from.
    pub(crate) fn apply(self, [u, v]: [f64; 2]) -> [f64; 2] {
        [self.cosine * u + self.sine * v, self.cosine * v - self.sine * u]
    }

    /// The other way.
    pub(crate) fn undo(self, [u, v]: [f64; 2]) -> [f64; 2] {
        [self.cosine * u - self.sine * v, self.cosine * v + self.sine * u]
    }
}

/// The plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TangentPlane {
    normal: Vector,
    axes: [Vector; 2],
    radii_km: [f64; 2],
}

impl TangentPlane {
    /// The plane at a position, its axes toward north and east.
    pub(crate) fn at(contact: Position, height_km: f64) -> Self {
        let [normal, north, east] = normal_north_east(contact);
        let radii_km = radii_km(normal[2]).map(|radius| radius + height_km);
        Self { normal, axes: [north, east], radii_km }
    }

    /// The same plane with one radius for both axes, so that the axes may be turned.
    pub(crate) fn isotropic(self) -> Self {
        let radius = (self.radii_km[0] * self.radii_km[1]).sqrt();
        Self { radii_km: [radius; 2], ..self }
    }

    /// The isotropic plane at another position, with this plane's axes carried there along the
    /// shortest arc of normals.
    pub(crate) fn carried_to(self, contact: Position, height_km: f64) -> Self {
        let there = Self::at(contact, height_km).isotropic();
        Self { axes: self.axes_at(there.normal), ..there }
    }

    /// The position at an offset.
    pub(crate) fn position(&self, offset_km: [f64; 2]) -> Position {
        position_of(self.normal_at(offset_km))
    }

    fn normal_at(&self, offset_km: [f64; 2]) -> Vector {
        let [u, v] = [offset_km[0] / self.radii_km[0], offset_km[1] / self.radii_km[1]];
        let angle = u.hypot(v);
        // sin(x)/x is 1 to the last digit where it could not be divided.
        let sinc = if angle < 1e-9 { 1.0 } else { angle.sin() / angle };
        let side = sum(u, self.axes[0], v, self.axes[1]);
        unit(sum(angle.cos(), self.normal, sinc, side))
    }

    /// The offset of a position; at the far side of the Earth its direction is arbitrary.
    pub(crate) fn offset_km(&self, there: Position) -> [f64; 2] {
        let [normal, ..] = normal_north_east(there);
        let [u, v] = self.axes.map(|axis| dot(axis, normal));
        let sine = u.hypot(v);
        let angle = sine.atan2(dot(self.normal, normal));
        let scale = if sine < 1e-9 { 1.0 } else { angle / sine };
        [u * scale * self.radii_km[0], v * scale * self.radii_km[1]]
    }

    /// This plane's axes carried along the shortest arc to another normal.
    fn axes_at(&self, normal: Vector) -> [Vector; 2] {
        let across = cross(self.normal, normal);
        let cosine = dot(self.normal, normal);
        // Rodrigues' rotation; its last term is 0/0 on the far side of the Earth only.
        let denominator = (1.0 + cosine).max(1e-12);
        self.axes.map(|axis| {
            let turned = sum(cosine, axis, 1.0, cross(across, axis));
            sum(1.0, turned, dot(across, axis) / denominator, across)
        })
    }

    /// How north and east at `there` stand to this plane's axes carried there: applied to a vector
    /// told as (north, east) it gives the vector in the carried axes.
    pub(crate) fn turn_at(&self, there: Position) -> Turn {
        let [normal, north, east] = normal_north_east(there);
        let [first, _] = self.axes_at(normal);
        Turn { cosine: dot(first, north), sine: dot(first, east) }
    }

    /// Radii for its two axes, km.
    pub(crate) fn radii_km(&self) -> [f64; 2] {
        self.radii_km
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::geodesic;
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn offsets_are_lengths_near_the_contact() {
        for (lat, lon) in [(85.7, 138.0), (-63.9, 135.0), (90.0, 20.0), (89.99, -170.0)] {
            let plane = TangentPlane::at(position(lat, lon), 0.0);
            for (offset, course, km, within_km) in [
                ([10.0, 0.0], 0.0, 10.0, 1e-4),
                ([0.0, 10.0], 90.0, 10.0, 1e-4),
                ([-600.0, 800.0], 126.869_897_645_844_02, 1000.0, 1.5),
            ] {
                let exact = geodesic::direct(position(lat, lon), course, km).position;
                let off = geodesic::distance_km(plane.position(offset), exact);
                assert!(off < within_km, "{lat} {lon} {offset:?}: {off} km");
            }
        }
    }

    proptest! {
        #[test]
        fn offset_and_position_are_inverse(
            lat in prop_oneof![-90.0..=90.0, Just(90.0)],
            lon in -180.0..180.0,
            u in -3000.0..3000.0,
            v in -3000.0..3000.0,
        ) {
            let plane = TangentPlane::at(position(lat, lon), 0.0);
            let [u2, v2] = plane.offset_km(plane.position([u, v]));
            prop_assert!((u2 - u).abs() < 1e-7 && (v2 - v).abs() < 1e-7, "{u2} {v2}");
        }

        #[test]
        fn a_turn_keeps_the_direction_along_the_arc(
            lat in -90.0..=90.0,
            lon in -180.0..180.0,
            bearing in 0.0..360.0_f64,
            km in 1.0..3000.0,
        ) {
            // On a sphere of normals the arc's own direction is carried into itself; a short step
            // further along it must have the same components in the carried axes.
            let plane = TangentPlane::at(position(lat, lon), 0.0).isotropic();
            let (sin, cos) = bearing.to_radians().sin_cos();
            let there = plane.position([km * cos, km * sin]);
            let beyond = plane.position([(km + 1.0) * cos, (km + 1.0) * sin]);
            let step = TangentPlane::at(there, 0.0).isotropic().offset_km(beyond);
            let [u, v] = plane.turn_at(there).apply(step);
            let length = u.hypot(v);
            prop_assert!((u / length - cos).abs() < 1e-6 && (v / length - sin).abs() < 1e-6);
            let [n, e] = plane.turn_at(there).undo([u, v]);
            prop_assert!((n - step[0]).abs() < 1e-9 && (e - step[1]).abs() < 1e-9);
        }
    }
}
