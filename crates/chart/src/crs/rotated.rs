//! Longitude and latitude about a pole that is not the Earth's, as regional models have them.
//!
//! Source: CF conventions 1.11, appendix F, rotated pole; the rotation is spherical, as all such models take
//! it.

use dipward_geodesy::{Position, position};

/// Rotated longitude and latitude, in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RotatedPole {
    pole_latitude_deg: f64,
    pole_longitude_deg: f64,
    /// The true pole's longitude on the rotated grid.
    turn_deg: f64,
}

impl RotatedPole {
    /// A grid whose north pole lies at a position.
    ///
    /// # Errors
    ///
    /// For numbers that are no position.
    pub(crate) fn new(
        pole_latitude_deg: f64,
        pole_longitude_deg: f64,
        turn_deg: f64,
    ) -> Result<Self, String> {
        let sound = pole_latitude_deg.abs() <= 90.0
            && pole_longitude_deg.abs() <= 540.0
            && turn_deg.abs() <= 540.0;
        sound
            .then_some(Self { pole_latitude_deg, pole_longitude_deg, turn_deg })
            .ok_or_else(|| "states a rotated pole that is no position".to_owned())
    }

    /// Rotated longitude and latitude.
    pub(crate) fn forward(&self, at: Position) -> [f64; 2] {
        // The pole is tilted along the meridian opposite to its own.
        let [x, y, z] = unit(at.y(), at.x() - self.pole_longitude_deg - 180.0);
        let (sine, cosine) = self.pole_latitude_deg.to_radians().sin_cos();
        let tilted = [sine * x + cosine * z, y, sine * z - cosine * x];
        let [latitude, longitude] = angles(tilted);
        [around(longitude + self.turn_deg), latitude]
    }

    /// The position of rotated longitude and latitude.
    pub(crate) fn inverse(&self, [longitude, latitude]: [f64; 2]) -> Position {
        let [x, y, z] = unit(latitude, longitude - self.turn_deg);
        let (sine, cosine) = self.pole_latitude_deg.to_radians().sin_cos();
        let upright = [sine * x - cosine * z, y, sine * z + cosine * x];
        let [latitude, longitude] = angles(upright);
        position(latitude, around(longitude + self.pole_longitude_deg + 180.0))
    }
}

fn unit(latitude_deg: f64, longitude_deg: f64) -> [f64; 3] {
    let (sine, cosine) = latitude_deg.to_radians().sin_cos();
    let (east, ahead) = longitude_deg.to_radians().sin_cos();
    [cosine * ahead, cosine * east, sine]
}

fn angles([x, y, z]: [f64; 3]) -> [f64; 2] {
    [z.atan2(x.hypot(y)).to_degrees(), y.atan2(x).to_degrees()]
}

fn around(longitude_deg: f64) -> f64 {
    (longitude_deg + 180.0).rem_euclid(360.0) - 180.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn agrees_with_proj() {
        for (pole_latitude, pole_longitude, turn, latitude, longitude, x, y) in ROTATED {
            let map = RotatedPole::new(pole_latitude, pole_longitude, turn).unwrap();
            let [east, north] = map.forward(position(latitude, longitude));
            assert!((east - x).abs() < 1e-8 && (north - y).abs() < 1e-8, "{east} {north} {x} {y}");
        }
    }

    include!("rotated_samples.rs");

    proptest! {
        #[test]
        fn there_and_back(
            pole in (-89.0..89.0f64, -180.0..180.0f64, -180.0..180.0f64),
            latitude in -89.0..89.0f64,
            longitude in -179.0..179.0f64,
        ) {
            let map = RotatedPole::new(pole.0, pole.1, pole.2).unwrap();
            let back = map.inverse(map.forward(position(latitude, longitude)));
            prop_assert!((back.y() - latitude).abs() < 1e-8);
            prop_assert!((back.x() - longitude).abs() < 1e-8 / latitude.to_radians().cos());
        }
    }
}
