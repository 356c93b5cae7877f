//! Where the sun stands: Meeus, Astronomical Algorithms, 2nd edition, chapters 12, 13, 16 and 25
//! (the formulae of low accuracy, 0.01 degrees).

use dipward_plugin::Clock;
use jiff::Timestamp;

/// Terrestrial less universal time in the 2020s, seconds. A minute more or less moves the sun by
/// less than a thousandth of a degree among the stars.
const DELTA_T_S: f64 = 69.2;
const EPOCH_2000_JD: f64 = 2_451_545.0;
const EPOCH_1970_JD: f64 = 2_440_587.5;

/// Julian day of an instant (UTC taken for UT).
#[must_use]
pub fn julian_day(instant: Timestamp) -> f64 {
    EPOCH_1970_JD + instant.as_millisecond() as f64 / 86_400_000.0
}

/// The sun's place among the stars, with the steps on the way as Meeus names them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ApparentSun {
    /// Julian centuries from 2000 (T).
    pub centuries: f64,
    /// Geometric mean longitude, 0 to 360 (L0).
    pub mean_longitude_deg: f64,
    /// Mean anomaly, 0 to 360 (M).
    pub mean_anomaly_deg: f64,
    /// Eccentricity of the earth's orbit (e).
    pub eccentricity: f64,
    /// Equation of the centre (C).
    pub equation_of_centre_deg: f64,
    /// Apparent longitude, 0 to 360 (lambda).
    pub longitude_deg: f64,
    /// Mean obliquity of the ecliptic.
    pub mean_obliquity_deg: f64,
    /// Obliquity corrected for the apparent place.
    pub obliquity_deg: f64,
    /// Apparent right ascension, 0 to 360.
    pub right_ascension_deg: f64,
    /// Apparent declination.
    pub declination_deg: f64,
    /// Distance in astronomical units.
    pub distance_au: f64,
}

impl ApparentSun {
    /// The sun at a Julian day of terrestrial time.
    #[must_use]
    pub fn at(julian_day_tt: f64) -> Self {
        let t = (julian_day_tt - EPOCH_2000_JD) / 36_525.0;
        let mean_longitude_deg =
            (280.466_46 + t * (36_000.769_83 + t * 0.000_303_2)).rem_euclid(360.0);
        let mean_anomaly_deg =
            (357.529_11 + t * (35_999.050_29 - t * 0.000_153_7)).rem_euclid(360.0);
        let eccentricity = 0.016_708_634 - t * (0.000_042_037 + t * 0.000_000_126_7);
        let anomaly = mean_anomaly_deg.to_radians();
        let equation_of_centre_deg = (1.914_602 - t * (0.004_817 + t * 0.000_014)) * anomaly.sin()
            + (0.019_993 - 0.000_101 * t) * (2.0 * anomaly).sin()
            + 0.000_289 * (3.0 * anomaly).sin();
        let node = (125.04 - 1_934.136 * t).to_radians();
        let true_longitude_deg = mean_longitude_deg + equation_of_centre_deg;
        let longitude_deg =
            (true_longitude_deg - 0.005_69 - 0.004_78 * node.sin()).rem_euclid(360.0);
        let true_anomaly = (mean_anomaly_deg + equation_of_centre_deg).to_radians();
        let mean_obliquity_deg =
            23.439_291_11 - t * (46.8150 + t * (0.000_59 - t * 0.001_813)) / 3600.0;
        let obliquity_deg = mean_obliquity_deg + 0.002_56 * node.cos();
        let (longitude, obliquity) = (longitude_deg.to_radians(), obliquity_deg.to_radians());
        Self {
            centuries: t,
            mean_longitude_deg,
            mean_anomaly_deg,
            eccentricity,
            equation_of_centre_deg,
            longitude_deg,
            mean_obliquity_deg,
            obliquity_deg,
            right_ascension_deg: (obliquity.cos() * longitude.sin())
                .atan2(longitude.cos())
                .to_degrees()
                .rem_euclid(360.0),
            declination_deg: (obliquity.sin() * longitude.sin())
                .clamp(-1.0, 1.0)
                .asin()
                .to_degrees(),
            distance_au: 1.000_001_018 * (1.0 - eccentricity * eccentricity)
                / (1.0 + eccentricity * true_anomaly.cos()),
        }
    }

    /// The sun at an instant.
    #[must_use]
    pub fn at_instant(instant: Timestamp) -> Self {
        Self::at(julian_day(instant) + DELTA_T_S / 86_400.0)
    }
}

/// Mean sidereal time at Greenwich, 0 to 360, at a Julian day of universal time (Meeus 12.4).
#[must_use]
pub fn sidereal_time_deg(julian_day_ut: f64) -> f64 {
    let days = julian_day_ut - EPOCH_2000_JD;
    let t = days / 36_525.0;
    (280.460_618_37 + 360.985_647_366_29 * days + t * t * (0.000_387_933 - t / 38_710_000.0))
        .rem_euclid(360.0)
}

/// The sun as seen from a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunInSky {
    /// Altitude of the centre above the horizon, without refraction.
    pub altitude_deg: f64,
    /// Azimuth clockwise from north; without meaning at the poles.
    pub azimuth_deg: f64,
}

/// The sun as seen from a latitude and longitude.
#[must_use]
pub fn sun_in_sky(instant: Timestamp, latitude_deg: f64, longitude_deg: f64) -> SunInSky {
    let sun = ApparentSun::at_instant(instant);
    let hour_angle = (sidereal_time_deg(julian_day(instant)) + longitude_deg
        - sun.right_ascension_deg)
        .to_radians();
    let (latitude, declination) = (latitude_deg.to_radians(), sun.declination_deg.to_radians());
    let sine =
        latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * hour_angle.cos();
    let azimuth = (-hour_angle.sin() * declination.cos()).atan2(
        declination.sin() * latitude.cos() - declination.cos() * latitude.sin() * hour_angle.cos(),
    );
    SunInSky {
        altitude_deg: sine.clamp(-1.0, 1.0).asin().to_degrees(),
        azimuth_deg: azimuth.to_degrees().rem_euclid(360.0),
    }
}

/// Refraction to be added to a true altitude: Saemundsson's formula, scaled by pressure and
/// temperature (Meeus 16.4). None below -2 degrees, where it has no meaning.
#[must_use]
pub fn refraction_deg(altitude_deg: f64, pressure_hpa: f64, temperature_c: f64) -> f64 {
    if altitude_deg < -2.0 {
        return 0.0;
    }
    let angle = (altitude_deg + 10.3 / (altitude_deg + 5.11)).to_radians();
    let standard = 1.02 / angle.tan() / 60.0;
    (standard * pressure_hpa / 1010.0 * 283.0 / (273.0 + temperature_c)).max(0.0)
}

/// One passing of the sun through an altitude.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crossing {
    /// When.
    pub instant: Timestamp,
    /// Upwards.
    pub rising: bool,
}

/// What the sun does in 24 hours. Never a root search without this answer: in high latitudes there
/// is often no root, and on some days only one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Daylight {
    /// Above the altitude throughout.
    AlwaysUp,
    /// Below the altitude throughout.
    AlwaysDown,
    /// It crosses, at these instants in order.
    Crosses(Vec<Crossing>),
}

impl Daylight {
    /// Altitude of the centre at sunrise and sunset: refraction and the sun's radius.
    pub const SUNRISE_DEG: f64 = -0.833;
    /// Altitude at the ends of civil twilight.
    pub const CIVIL_DEG: f64 = -6.0;
    /// Altitude at the ends of nautical twilight.
    pub const NAUTICAL_DEG: f64 = -12.0;
    /// Altitude at the ends of astronomical twilight.
    pub const ASTRONOMICAL_DEG: f64 = -18.0;

    /// The 24 hours from an instant at a place.
    ///
    /// The altitude is sampled every 20 minutes, with its summits and its troughs found between the
    /// samples, so that a sun that shows itself for a minute is not missed; crossings are then
    /// bisected to the second.
    #[must_use]
    pub fn of_day(
        start: Timestamp,
        latitude_deg: f64,
        longitude_deg: f64,
        threshold_deg: f64,
    ) -> Self {
        let clock = Clock::new(start);
        let above = |hour: f64| {
            sun_in_sky(clock.instant(hour), latitude_deg, longitude_deg).altitude_deg
                - threshold_deg
        };
        let mut nodes: Vec<(f64, f64)> =
            (0..=72).map(|step| f64::from(step) / 3.0).map(|hour| (hour, above(hour))).collect();
        let turns: Vec<(f64, f64)> = nodes
            .windows(3)
            .filter_map(|three| match *three {
                [(from, a), (_, b), (to, c)] if (b - a) * (c - b) <= 0.0 => {
                    let sign = if b >= a { 1.0 } else { -1.0 };
                    let hour = summit(|hour| sign * above(hour), from, to);
                    Some((hour, above(hour)))
                }
                _ => None,
            })
            .collect();
        nodes.extend(turns);
        nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
        let crossings: Vec<Crossing> = nodes
            .windows(2)
            .filter_map(|two| match *two {
                [(from, a), (to, b)] if (a < 0.0) != (b < 0.0) => {
                    let hour = bisect(above, from, to);
                    Some(Crossing { instant: clock.instant(hour), rising: a < 0.0 })
                }
                _ => None,
            })
            .collect();
        match nodes.first() {
            _ if !crossings.is_empty() => Self::Crosses(crossings),
            Some(&(_, first)) if first >= 0.0 => Self::AlwaysUp,
            _ => Self::AlwaysDown,
        }
    }
}

/// The place of the only summit of `height` between two hours, by thirds.
fn summit(height: impl Fn(f64) -> f64, mut from: f64, mut to: f64) -> f64 {
    while to - from > 1.0e-4 {
        let third = (to - from) / 3.0;
        if height(from + third) < height(to - third) { from += third } else { to -= third }
    }
    0.5 * (from + to)
}

/// The hour between two at which `above` changes sign.
fn bisect(above: impl Fn(f64) -> f64, mut from: f64, mut to: f64) -> f64 {
    let below_first = above(from) < 0.0;
    while to - from > 1.0e-4 {
        let middle = 0.5 * (from + to);
        if (above(middle) < 0.0) == below_first { from = middle } else { to = middle }
    }
    0.5 * (from + to)
}
