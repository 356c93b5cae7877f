//! Bearings by a ship's own compass, freed of the ship's field.

use dipward_plugin::{Clock, Error, FieldSample, MainField};
use serde::{Deserialize, Serialize};

use super::reading::{Element, Reading};
use crate::{ShipDeviation, dip_pole::site};

/// What became of the bearing of one reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BearingCorrection {
    /// Which reading, from 0 in the order given.
    pub reading: usize,
    /// Heading by compass.
    pub heading_deg: f64,
    /// H at the reading: its own where it has one, else the model's.
    pub horizontal_nt: f64,
    /// What was taken off; `None` where the deviation means nothing and the bearing was left out.
    pub deviation_deg: Option<f64>,
}

/// Takes a ship's deviation off the declinations that have a heading with them, and adds its doubt to
/// theirs. Where H is too weak for the coefficients to mean anything the declination is left out, and
/// the reading with it if it has nothing else.
///
/// The error of a coefficient is the same in all readings; it is taken as independent from one to the
/// next, so that many bearings on one heading are trusted too much.
///
/// # Errors
///
/// Those of the model at a reading's time and place; [`ShipDeviation::check`].
pub fn correct_bearings(
    model: &dyn MainField,
    readings: Vec<Reading>,
    ship: &ShipDeviation,
) -> Result<(Vec<Reading>, Vec<BearingCorrection>), Error> {
    ship.check()?;
    let mut kept = Vec::with_capacity(readings.len());
    let mut corrections = Vec::new();
    for (index, mut reading) in readings.into_iter().enumerate() {
        let bearing = reading.elements.get(&Element::Declination).copied();
        if let (Some(heading_deg), Some(mut bearing)) = (reading.heading_deg, bearing) {
            let horizontal_nt = horizontal_nt(model, &reading)?;
            let deviation_deg = ship.at(heading_deg, horizontal_nt);
            corrections.push(BearingCorrection {
                reading: index,
                heading_deg,
                horizontal_nt,
                deviation_deg,
            });
            if let Some(deviation_deg) = deviation_deg {
                bearing.value -= deviation_deg;
                bearing.sigma = bearing.sigma.hypot(ship.sigma_at(heading_deg, horizontal_nt));
                reading.elements.insert(Element::Declination, bearing);
            } else {
                reading.elements.remove(&Element::Declination);
            }
        }
        if !reading.elements.is_empty() {
            kept.push(reading);
        }
    }
    Ok((kept, corrections))
}

/// H by the reading itself, or by the model where the reading does not say.
fn horizontal_nt(model: &dyn MainField, reading: &Reading) -> Result<f64, Error> {
    let value = |element| reading.elements.get(&element).map(|measured| measured.value);
    if let Some(h) = value(Element::Horizontal) {
        return Ok(h);
    }
    if let (Some(x), Some(y)) = (value(Element::North), value(Element::East)) {
        return Ok(x.hypot(y));
    }
    let mut out = [FieldSample::default()];
    let year = Clock::decimal_year_of(reading.time);
    model.sample(year, &[site(reading.position, reading.height_km)], &mut out)?;
    let field = out[0].vector;
    Ok(match value(Element::Inclination) {
        Some(dip_deg) => (field.down_nt / dip_deg.to_radians().tan()).abs(),
        None => field.horizontal_nt(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{igrf14, read_readings};

    #[test]
    fn deviation_comes_off_where_it_means_something_and_the_bearing_goes_where_it_does_not() {
        let rows = "\
time,latitude_deg,longitude_deg,declination_deg,declination_sigma_deg,h_nt,h_sigma_nt,heading_deg
2027-01-15T00:00Z,-45,140,12.5,1,9000,50,90
2027-01-15T06:00Z,-45,140,12.5,1,9000,50,
2027-01-16T00:00Z,-60,140,12.5,1,2500,50,90
2027-01-17T00:00Z,-63.8,135.2,12.5,1,,,90
";
        let readings = read_readings(rows.as_bytes()).unwrap();
        let ship = ShipDeviation {
            coefficients_deg: [0.5, -3.0, 0.0, 0.0, 0.0],
            sigma_deg: Some([0.2, 0.3, 0.0, 0.0, 0.0]),
            horizontal_nt: 18_000.0,
        };
        let model = igrf14().unwrap();
        let (kept, corrections) = correct_bearings(&model, readings, &ship).unwrap();
        let bearing = |at: usize| kept[at].elements.get(&Element::Declination).copied();
        // B doubles at half of the H of the swing: 0.5 - 6.
        assert!((bearing(0).unwrap().value - 18.0).abs() < 1e-9);
        assert!((bearing(0).unwrap().sigma - (1.0_f64 + 0.04 + 0.36).sqrt()).abs() < 1e-9);
        // Without a heading the bearing is no ship's.
        assert_eq!(bearing(1).unwrap().value, 12.5);
        // Below 2700 nT B alone would make more than 20 degrees; H stays.
        assert_eq!(bearing(2), None);
        assert_eq!(kept[2].elements.len(), 1);
        // The last one had nothing else; its H is the model's.
        assert_eq!(kept.len(), 3);
        let told: Vec<(usize, bool)> =
            corrections.iter().map(|one| (one.reading, one.deviation_deg.is_some())).collect();
        assert_eq!(told, [(0, true), (2, false), (3, false)]);
        assert!(corrections[2].horizontal_nt < 200.0);
    }
}
