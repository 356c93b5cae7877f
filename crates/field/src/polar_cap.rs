//! From Kp to the horizontal field of the currents above a dip pole.
//!
//! Every number here is an assumption, and is told as one. Kp is made from stations at lower
//! latitudes; no published relation gives the field at a dip pole from it. What is assumed:
//!
//! * Size. The K index of any station has bands that are fixed fractions of its limit L for K = 9,
//!   and ap stands for a range of 2 ap nT at a station with L = 500 nT. L is near 1500 nT in the
//!   polar cap. The range over three hours at the pole is taken as R = 2 ap (L / 500).
//! * Daily oval. The strongest regular current of the polar cap flows sunward overhead (the Hall
//!   current of the two-cell convection). The field below such a sheet is horizontal and points 90
//!   degrees counterclockwise from the Sun's azimuth as seen from above: to dusk in the north, to
//!   dawn in the south. The vector turns once a day with the local mean time of the pole. Its length
//!   is a quiet part, and a share of R.
//! * Residual. What else there is, substorms and pulsations, is a stationary random vector of
//!   correlation exp(-dt / tau) whose sigma is a share of R. With the defaults, the range over three
//!   hours of the larger component of all parts is R on average.
//! * Season. All of it swings with the year, from least at local midwinter to most at midsummer.

use dipward_geodesy::Hemisphere;
use dipward_plugin::{DisturbanceRequest, ExternalField};
use jiff::{Timestamp, tz::Offset};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::activity::Activity;

/// Range of a standard station's K index at K = 9 for which ap is defined, nT.
const STANDARD_LIMIT_NT: f64 = 500.0;
/// Day of the year of the June solstice, and the mean year.
const JUNE_SOLSTICE_DAY: f64 = 172.0;
const YEAR_DAYS: f64 = 365.25;

/// How strong the disturbance is for a Kp. All of it is an assumption.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PolarCapAmplitude {
    /// Range of the K index at K = 9 at the pole; the three-hour range is 2 ap times this over 500.
    #[schemars(range(min = 0.0, max = 10_000.0))]
    pub polar_cap_limit_nt: f64,
    /// Length of the daily turning vector when Kp is 0, on average over the year. 16 nT makes an
    /// oval of some 13 km across in the north and 5 km in the south.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub quiet_nt: f64,
    /// Local midsummer's amplitude over midwinter's.
    #[schemars(range(min = 1.0, max = 10.0))]
    pub summer_to_winter: f64,
    /// Length of the daily turning vector as a share of the three-hour range, added to `quiet_nt`.
    #[schemars(range(min = 0.0, max = 2.0))]
    pub turning_share: f64,
    /// Sigma of each component of the random part as a share of the three-hour range.
    #[schemars(range(min = 0.0, max = 2.0))]
    pub residual_share: f64,
    /// Time in which the random part's correlation falls to 1/e.
    #[schemars(range(min = 0.01, max = 100.0))]
    pub residual_correlation_h: f64,
}

impl Default for PolarCapAmplitude {
    fn default() -> Self {
        Self {
            polar_cap_limit_nt: 1500.0,
            quiet_nt: 16.0,
            summer_to_winter: 3.0,
            turning_share: 0.25,
            residual_share: 0.34,
            residual_correlation_h: 1.5,
        }
    }
}

impl PolarCapAmplitude {
    /// Fills a member's field from its activity.
    pub(crate) fn fill(
        &self,
        request: &DisturbanceRequest<'_>,
        activity: &Activity,
        rng: &mut impl Rng,
        out: &mut [ExternalField],
    ) {
        let mut residual: [f64; 2] = [0.0; 2];
        let mut before: Option<f64> = None;
        for ((&hour, pole), out) in request.hours.iter().zip(request.mean_pole).zip(out) {
            let kept = before.map_or(0.0, |before: f64| {
                (-(hour - before).max(0.0) / self.residual_correlation_h).exp()
            });
            let fresh = (1.0 - kept * kept).max(0.0).sqrt();
            residual = residual.map(|part| {
                let draw: f64 = StandardNormal.sample(rng);
                kept * part + fresh * draw
            });
            before = Some(hour);

            let range_nt = self.range_nt(activity.ap(hour));
            let instant = request.clock.instant(hour);
            let season = self.season(instant, request.hemisphere);
            let length = season * (self.quiet_nt + self.turning_share * range_nt);
            let (east, north) = vector_azimuth(instant, pole.x(), request.hemisphere).sin_cos();
            let sigma = season * self.residual_share * range_nt;
            *out = ExternalField {
                north_nt: length * north + sigma * residual[0],
                east_nt: length * east + sigma * residual[1],
                kp_thirds: Some(activity.kp(hour).thirds()),
            };
        }
    }

    /// The assumed range over three hours, nT.
    #[must_use]
    pub fn range_nt(&self, ap: f64) -> f64 {
        2.0 * ap * self.polar_cap_limit_nt / STANDARD_LIMIT_NT
    }

    /// The season's factor, 1 on average over the year.
    pub(crate) fn season(&self, instant: Timestamp, hemisphere: Hemisphere) -> f64 {
        let swing = (self.summer_to_winter - 1.0) / (self.summer_to_winter + 1.0);
        let day = f64::from(Offset::UTC.to_datetime(instant).day_of_year());
        let from_solstice = std::f64::consts::TAU * (day - JUNE_SOLSTICE_DAY) / YEAR_DAYS;
        1.0 + hemisphere.sign() * swing * from_solstice.cos()
    }

    /// What is assumed, in sentences.
    #[must_use]
    pub fn assumptions(&self) -> Vec<String> {
        self.told()
    }

    pub(crate) fn told(&self) -> Vec<String> {
        let Self {
            polar_cap_limit_nt,
            quiet_nt,
            summer_to_winter,
            turning_share,
            residual_share,
            residual_correlation_h,
        } = self;
        vec![
            format!(
                "the three-hour range of the horizontal field at the dip pole is 2 ap \
                 ({polar_cap_limit_nt}/500) nT: no published relation gives it from Kp"
            ),
            format!(
                "the daily oval is a vector of {quiet_nt} nT plus {turning_share} of that range, which \
                 points 90 degrees counterclockwise from the Sun as seen from above and turns with \
                 local mean time"
            ),
            format!(
                "the rest of the disturbance is random, sigma {residual_share} of the range, with a \
                 correlation time of {residual_correlation_h} h"
            ),
            format!(
                "the disturbance is {summer_to_winter} times as strong in midsummer as in midwinter"
            ),
        ]
    }
}

/// True azimuth of the daily vector at a place, radians.
fn vector_azimuth(instant: Timestamp, longitude_deg: f64, hemisphere: Hemisphere) -> f64 {
    let milliseconds = instant.as_millisecond().rem_euclid(86_400_000);
    let local_time_h = milliseconds as f64 / 3_600_000.0 + longitude_deg / 15.0;
    // Near a pole the Sun stands over the meridian that has noon: at local noon to the south of a
    // northern place and to the north of a southern one; from there it goes clockwise in the north
    // and counterclockwise in the south, as seen from above.
    let noon_azimuth_h = match hemisphere {
        Hemisphere::North => local_time_h,
        Hemisphere::South => 12.0 - local_time_h,
    };
    (15.0 * noon_azimuth_h - 90.0).to_radians()
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use dipward_plugin::Clock;
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};

    use super::*;
    use crate::{Kp, activity::Slots};

    fn field(
        amplitude: &PolarCapAmplitude,
        start: &str,
        hours: &[f64],
        hemisphere: Hemisphere,
        kp: u8,
        seed: u64,
    ) -> Vec<ExternalField> {
        let clock = Clock::new(start.parse().unwrap());
        let pole = match hemisphere {
            Hemisphere::North => position(85.0, 0.0),
            Hemisphere::South => position(-64.0, 90.0),
        };
        let mean_pole = vec![pole; hours.len()];
        let request = DisturbanceRequest { clock, hours, mean_pole: &mean_pole, hemisphere, seed };
        let slots = Slots::covering(clock, hours).unwrap();
        let activity = Activity { slots, kp: vec![Kp::from_thirds(kp).unwrap(); slots.count] };
        let mut out = vec![ExternalField::default(); hours.len()];
        amplitude.fill(&request, &activity, &mut ChaCha8Rng::seed_from_u64(seed), &mut out);
        out
    }

    #[test]
    fn the_quiet_vector_points_to_dusk_in_the_north_and_to_dawn_in_the_south() {
        let amplitude = PolarCapAmplitude { residual_share: 0.0, ..PolarCapAmplitude::default() };
        let at = |hemisphere, start| field(&amplitude, start, &[0.0], hemisphere, 0, 1)[0];
        // 0 E at 12 UT: noon to the south, dusk to the east.
        let noon = at(Hemisphere::North, "2027-06-21T12:00Z");
        assert!(noon.north_nt.abs() < 1e-9 && (noon.east_nt - 24.0).abs() < 1e-9, "{noon:?}");
        // Six hours later the Sun is in the west.
        let dusk = at(Hemisphere::North, "2027-06-21T18:00Z");
        assert!((dusk.north_nt + 24.0).abs() < 1e-9);
        // 90 E at 6 UT: noon to the north, dawn, where it is earlier, to the west.
        let noon = at(Hemisphere::South, "2027-06-21T06:00Z");
        assert!(noon.north_nt.abs() < 1e-9 && (noon.east_nt + 8.0).abs() < 1e-9, "{noon:?}");
        assert!((at(Hemisphere::North, "2027-12-21T12:00Z").east_nt - 8.0).abs() < 0.01);
    }

    #[test]
    fn the_three_hour_range_is_the_assumed_one() {
        // At an equinox, where the season's factor is 1, minute by minute, Kp 5o.
        let amplitude = PolarCapAmplitude::default();
        let hours: Vec<f64> = (0..180).map(|minute| f64::from(minute) / 60.0).collect();
        let range = |values: &mut dyn Iterator<Item = f64>| {
            let (low, high) =
                values.fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(x), high.max(x)));
            high - low
        };
        let mean: f64 = (0..400)
            .map(|seed| {
                let all =
                    field(&amplitude, "2027-03-22T00:00Z", &hours, Hemisphere::North, 15, seed);
                let north = range(&mut all.iter().map(|field| field.north_nt));
                north.max(range(&mut all.iter().map(|field| field.east_nt)))
            })
            .sum::<f64>()
            / 400.0;
        assert!((mean / amplitude.range_nt(48.0) - 1.0).abs() < 0.08, "{mean}");
    }
}
