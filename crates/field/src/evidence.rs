//! What readings prove: three claims that are never mixed.
//!
//! * The mean pole was within a stated distance. The mean pole is the one that charts and models
//!   tell of; nobody sees it.
//! * The instantaneous pole was within its ellipse of doubt about the reader: where the field was
//!   vertical at that moment cannot be told from where the reader stood.
//! * A crossing was observed: both horizontal components changed sign along two lines that are not
//!   parallel. This rests on the readings alone, not on any model.

use std::collections::BTreeMap;

use dipward_geodesy::{Hemisphere, geodesic, position};
use dipward_plugin::{Clock, Error, MainField};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::{
    DipPole, Element, FixSettings, Measured, PoleEstimate, PoleFix, Reading, dip_pole_near,
    fix_pole, tangent::TangentPlane,
};

/// Readings further apart in time than this make no line: the pole itself may have gone by.
const LINE_H: f64 = 3.0;
/// Lines that differ by less in direction count as parallel.
const PARALLEL_DEG: f64 = 20.0;

/// A reading as it goes on record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadingRecord {
    /// When, UTC.
    pub time: Timestamp,
    /// Where.
    pub latitude_deg: f64,
    /// Where.
    pub longitude_deg: f64,
    /// Height above the ellipsoid.
    pub height_km: f64,
    /// One sigma of each coordinate; 0 where the observer gave none.
    pub position_sigma_km: f64,
    /// What was measured.
    pub elements: BTreeMap<Element, Measured>,
    /// What a base station read at the same time, less its quiet mean.
    pub base_nt: Option<[f64; 3]>,
    /// Kp at the time.
    pub kp: Option<f64>,
    /// Heading by the ship's compass, where that gave the declination.
    pub heading_deg: Option<f64>,
    /// In the observer's words.
    pub instrument: Option<String>,
    /// In the observer's words.
    pub calibration: Option<String>,
    /// From the model's own mean pole of the time.
    pub model_pole_km: Option<f64>,
    /// The mean pole by all readings.
    pub mean_pole: Option<PoleEstimate>,
    /// The instantaneous pole by all readings.
    pub instantaneous_pole: Option<PoleEstimate>,
}

/// The first claim.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeanPoleClaim {
    /// The stated distance.
    pub within_km: f64,
    /// Whether a reader came as near as that to the mean pole by the readings.
    pub attained: bool,
    /// Whether the whole of its 95 % ellipse was as near as that.
    pub beyond_doubt: bool,
    /// The closest approach.
    pub closest_km: f64,
    /// The reading of the closest approach, from 0.
    pub reading: usize,
    /// The closest approach to the model's own mean pole, which readings did not move.
    pub closest_to_model_km: Option<f64>,
}

/// The second claim.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct InstantaneousPoleClaim {
    /// Whether a reader stood within the 95 % ellipse of the instantaneous pole.
    pub attained: bool,
    /// How many times that ellipse must be scaled to pass through the reader.
    pub ellipses_away: f64,
    /// The reading of the closest approach in this measure, from 0.
    pub reading: usize,
    /// That pole.
    pub pole: PoleEstimate,
}

/// A line between two readings along which both horizontal components changed sign.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CrossingLine {
    /// The reading it begins at, from 0.
    pub from: usize,
    /// The reading it ends at.
    pub to: usize,
    /// Its true bearing at the pole, 0 to 180 degrees.
    pub bearing_deg: f64,
    /// Its length.
    pub length_km: f64,
}

/// The third claim.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CrossingClaim {
    /// Whether two of the lines are not parallel.
    pub attained: bool,
    /// Every such line.
    pub lines: Vec<CrossingLine>,
}

/// The record of an attainment, or of a try.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// The model's mean pole within a distance.
    pub mean_pole: Option<MeanPoleClaim>,
    /// The instantaneous pole within its ellipse.
    pub instantaneous_pole: Option<InstantaneousPoleClaim>,
    /// The crossing.
    pub crossing: CrossingClaim,
    /// The readings.
    pub readings: Vec<ReadingRecord>,
    /// The fix that the first two claims rest on, with its residuals.
    pub fix: PoleFix,
}

/// Weighs readings as evidence.
///
/// # Arguments
///
/// `within_km`: the distance of the first claim.
///
/// # Errors
///
/// Those of [`fix_pole`].
pub fn evidence(
    model: &dyn MainField,
    hemisphere: Hemisphere,
    readings: &[Reading],
    within_km: f64,
    settings: &FixSettings,
) -> Result<Evidence, Error> {
    let fix = fix_pole(model, hemisphere, readings, settings)?;
    let about = position(fix.model_pole.latitude_deg, fix.model_pole.longitude_deg);
    let model_poles: Vec<DipPole> = readings
        .iter()
        .map(|one| dip_pole_near(model, about, Clock::decimal_year_of(one.time), one.height_km))
        .collect::<Result<_, _>>()?;
    let model_km: Vec<f64> = readings
        .iter()
        .zip(&model_poles)
        .map(|(one, pole)| geodesic::distance_km(one.position, pole.position))
        .collect();
    let nearest = |poles: &[Option<PoleEstimate>], by: fn(&PoleEstimate) -> f64| {
        let known = poles.iter().enumerate().filter_map(|(at, pole)| Some((at, (*pole)?)));
        known.min_by(|(_, a), (_, b)| by(a).total_cmp(&by(b)))
    };
    let mean_pole = nearest(&fix.mean_poles, |pole| pole.distance_km).map(|(reading, pole)| {
        let farthest = pole.distance_km + pole.ellipse_95.semi_major_km;
        MeanPoleClaim {
            within_km,
            attained: pole.distance_km <= within_km,
            beyond_doubt: farthest <= within_km,
            closest_km: pole.distance_km,
            reading,
            closest_to_model_km: model_km.iter().copied().min_by(f64::total_cmp),
        }
    });
    let instantaneous_pole =
        nearest(&fix.instantaneous_poles, |pole| pole.ellipses_away).map(|(reading, pole)| {
            InstantaneousPoleClaim {
                attained: pole.ellipses_away <= 1.0,
                ellipses_away: pole.ellipses_away,
                reading,
                pole,
            }
        });
    let crossing =
        model_poles.first().map_or(CrossingClaim { attained: false, lines: Vec::new() }, |pole| {
            crossing(readings, pole)
        });
    let records = readings.iter().enumerate().map(|(at, one)| ReadingRecord {
        time: one.time,
        latitude_deg: one.position.y(),
        longitude_deg: one.position.x(),
        height_km: one.height_km,
        position_sigma_km: one.position_sigma_km,
        elements: one.elements.clone(),
        base_nt: one.base_nt,
        kp: one.kp,
        instrument: one.instrument.clone(),
        heading_deg: one.heading_deg,
        calibration: one.calibration.clone(),
        model_pole_km: model_km.get(at).copied(),
        mean_pole: fix.mean_poles.get(at).copied().flatten(),
        instantaneous_pole: fix.instantaneous_poles.get(at).copied().flatten(),
    });
    Ok(Evidence { mean_pole, instantaneous_pole, crossing, readings: records.collect(), fix })
}

/// The lines between one reading and the next along which both components change sign by more than
/// their sigma on either side. Components are told in axes that do not turn with the meridians.
fn crossing(readings: &[Reading], pole: &DipPole) -> CrossingClaim {
    let plane = TangentPlane::at(pole.position, 0.0);
    let axes = plane.isotropic();
    let mut measured: Vec<(usize, &Reading, [f64; 2], f64)> = readings
        .iter()
        .enumerate()
        .filter_map(|(at, one)| {
            let local = one.horizontal_nt(pole.vertical_nt)?;
            let sigma = one.horizontal_sigma_nt(pole.vertical_nt)?;
            Some((at, one, axes.turn_at(one.position).apply(local), sigma))
        })
        .collect();
    measured.sort_by_key(|(_, one, ..)| one.time);
    let mut lines = Vec::new();
    for pair in measured.windows(2) {
        let [(from, start, before, before_sigma), (to, end, after, after_sigma)] = pair else {
            continue;
        };
        let hours = Clock::new(start.time).hour(end.time);
        let changes = before
            .iter()
            .zip(after)
            .all(|(a, b)| a * b < 0.0 && a.abs() > *before_sigma && b.abs() > *after_sigma);
        if hours <= LINE_H && changes {
            let (a, b) = (plane.offset_km(start.position), plane.offset_km(end.position));
            let [north, east] = [b[0] - a[0], b[1] - a[1]];
            lines.push(CrossingLine {
                from: *from,
                to: *to,
                bearing_deg: east.atan2(north).to_degrees().rem_euclid(180.0),
                length_km: north.hypot(east),
            });
        }
    }
    let parallel = |a: &CrossingLine, b: &CrossingLine| {
        let apart = (a.bearing_deg - b.bearing_deg).abs();
        apart.min(180.0 - apart) < PARALLEL_DEG
    };
    let attained = lines.iter().any(|a| lines.iter().any(|b| !parallel(a, b)));
    CrossingClaim { attained, lines }
}

#[cfg(test)]
mod tests {
    use dipward_plugin::{FieldSample, Site};
    use jiff::ToSpan;

    use super::*;
    use crate::igrf14;

    /// Readings of the model's own field at bearings and distances from its pole, half an hour apart.
    fn walk(places: &[(f64, f64)]) -> Vec<Reading> {
        let model = igrf14().unwrap();
        let start: Timestamp = "2027-01-15T00:00Z".parse().unwrap();
        let year = Clock::decimal_year_of(start);
        let pole = crate::dip_pole(&model, Hemisphere::South, year, 0.0).unwrap();
        places
            .iter()
            .enumerate()
            .map(|(at, &(bearing, km))| {
                let place = geodesic::direct(pole.position, bearing, km).position;
                let site =
                    Site { latitude_deg: place.y(), longitude_deg: place.x(), height_km: 0.0 };
                let mut out = [FieldSample::default()];
                model.sample(year, &[site], &mut out).unwrap();
                let elements = [Element::North, Element::East].map(|element| {
                    (element, Measured { value: element.of(&out[0].vector), sigma: 3.0 })
                });
                Reading {
                    time: start + (30 * at as i64).minutes(),
                    position: place,
                    position_sigma_km: 0.01,
                    height_km: 0.0,
                    elements: elements.into(),
                    base_nt: Some([0.0; 3]),
                    kp: Some(1.0),
                    heading_deg: None,
                    instrument: None,
                    calibration: None,
                }
            })
            .collect()
    }

    fn claims(places: &[(f64, f64)]) -> [bool; 3] {
        let model = igrf14().unwrap();
        let settings = FixSettings::default();
        let found = evidence(&model, Hemisphere::South, &walk(places), 5.0, &settings).unwrap();
        [
            found.mean_pole.unwrap().attained,
            found.instantaneous_pole.unwrap().attained,
            found.crossing.attained,
        ]
    }

    #[test]
    fn each_claim_stands_by_itself() {
        // Across the pole on two lines.
        assert!(claims(&[(20.0, 6.0), (200.0, 6.0), (290.0, 6.0), (110.0, 6.0)])[2]);
        // Across it twice on one line: no crossing.
        let one_line = claims(&[(20.0, 6.0), (200.0, 6.0), (20.0, 6.0)]);
        assert!(!one_line[2]);
        // Close by on one side.
        assert_eq!(claims(&[(20.0, 2.0), (40.0, 0.2)]), [true, true, false]);
        // Far away.
        assert_eq!(claims(&[(20.0, 60.0), (40.0, 60.0)]), [false; 3]);
    }
}
