//! Axes with uneven steps: Gaussian latitudes, Mercator rows and the like.

use dipward_geodesy::{Position, position};

use crate::crs::MapProjection;

/// The coordinates of the columns' and the rows' middles on a map, each rising or falling throughout.
#[derive(Debug, PartialEq)]
pub(crate) struct ListedAxes {
    map: MapProjection,
    x: Vec<f64>,
    y: Vec<f64>,
}

impl ListedAxes {
    /// Axes on a map.
    ///
    /// # Errors
    ///
    /// When one has less than two values, or rises and falls.
    pub(crate) fn new(map: MapProjection, x: Vec<f64>, y: Vec<f64>) -> Result<Self, String> {
        for axis in [&x, &y] {
            let rises = axis.windows(2).all(|pair| pair[1] > pair[0]);
            let falls = axis.windows(2).all(|pair| pair[1] < pair[0]);
            if axis.len() < 2 || !(rises || falls) {
                return Err("has an axis that neither rises nor falls throughout".to_owned());
            }
        }
        Ok(Self { map, x, y })
    }

    pub(super) fn coordinates(&self, at: Position) -> [f64; 2] {
        let [mut x, y] = self.map.coordinates(at);
        if self.map.goes_round() {
            // From half a step before the first column, or from the middle of what the columns leave out.
            let (west, east) = match (self.x.first(), self.x.last()) {
                (Some(first), Some(last)) => (first.min(*last), first.max(*last)),
                _ => return [f64::NAN; 2],
            };
            let steps = self.x.windows(2).map(|pair| (pair[1] - pair[0]).abs());
            let half = (steps.fold(0.0, f64::max) / 2.0).min((360.0 - east + west).max(0.0) / 2.0);
            x = west - half + (x - west + half).rem_euclid(360.0);
        }
        [place(&self.x, x), place(&self.y, y)]
    }

    pub(super) fn position(&self, [column, row]: [f64; 2]) -> Position {
        let (x, y) = (value(&self.x, column), value(&self.y, row));
        if x.is_nan() || y.is_nan() {
            return position(f64::NAN, f64::NAN);
        }
        self.map.position([x, y])
    }
}

/// Where a value lies on an axis, the first middle at one half; linear between, and beyond the ends.
fn place(axis: &[f64], value: f64) -> f64 {
    let [first, .., last] = axis else { return f64::NAN };
    if value.is_nan() {
        return f64::NAN;
    }
    let after =
        axis.partition_point(|own| if last > first { *own <= value } else { *own >= value });
    let left = after.saturating_sub(1).min(axis.len() - 2);
    match axis.get(left..left + 2) {
        Some(&[low, high]) => left as f64 + 0.5 + (value - low) / (high - low),
        _ => f64::NAN,
    }
}

/// The inverse of [`place`].
fn value(axis: &[f64], place: f64) -> f64 {
    if place.is_nan() || axis.len() < 2 {
        return f64::NAN;
    }
    let left = ((place - 0.5).floor().max(0.0) as usize).min(axis.len() - 2);
    match axis.get(left..left + 2) {
        Some(&[low, high]) => low + (high - low) * (place - 0.5 - left as f64),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_go_there_and_back() {
        let axes = |x: Vec<f64>| {
            ListedAxes::new(MapProjection::LonLat, x, vec![89.0, 80.0, 60.0, 30.0]).unwrap()
        };
        for x in [vec![-170.0, -20.0, 10.0, 150.0], vec![350.0, 300.0, 120.0, 10.0]] {
            let axes = axes(x.clone());
            for (column, longitude) in x.iter().enumerate() {
                let [at, row] = axes.coordinates(position(70.0, *longitude));
                assert!(
                    (at - column as f64 - 0.5).abs() < 1e-9 && (row - 2.0).abs() < 1e-9,
                    "{at}"
                );
                let back = axes.position([at, row]);
                assert!((back.y() - 70.0).abs() < 1e-9);
                assert!((back.x() - longitude).rem_euclid(360.0).min(1e-9) < 1e-8);
            }
        }
        assert!(
            ListedAxes::new(MapProjection::LonLat, vec![0.0, 1.0, 0.5], vec![0.0, 1.0]).is_err()
        );
        assert!(ListedAxes::new(MapProjection::LonLat, vec![0.0], vec![0.0, 1.0]).is_err());
    }
}
