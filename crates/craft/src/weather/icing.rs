//! Freezing spray by Overland's predictor: `V (Tf - Ta) / (1 + phi (Tw - Tf))`.
//!
//! Two forms are in use, and each has its own thresholds. Overland 1990 has phi 0.3 and classes at
//! 22.4, 53.3 and 83.0; Overland et al. 1986 has phi 0.4, classes at 20.6, 45.2 and 70, and a cubic
//! for the rate that gives 0.7, 2.0 and 4.0 cm/h at these. Open code that mixes them is wrong by up
//! to 30 %, so here the class is that of 1990 and the rate that of 1986, and neither takes the
//! other's predictor.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Classes of spray icing, Overland 1990.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum IcingClass {
    /// None.
    None,
    /// Under 0.7 cm/h.
    Light,
    /// 0.7 to 2 cm/h.
    Moderate,
    /// 2 to 4 cm/h.
    Heavy,
    /// Over 4 cm/h.
    Extreme,
}

/// The weather that spray freezes in. For vessels of 20 to 75 m that steam into the wind (from
/// memory of Overland); larger ships ice less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SprayWeather {
    /// Wind, m/s.
    pub wind_m_s: f64,
    /// Air temperature.
    pub air_c: f64,
    /// Sea surface temperature.
    pub water_c: f64,
    /// Freezing point of the sea, -1.7 or -1.8, or by [`freezing_point_c`].
    pub freezing_c: f64,
    /// Ice concentration, 0 to 1.
    pub ice_concentration: f64,
}

/// What the predictor was seen to be held to in the code of NCEP.
const GREATEST_WIND_M_S: f64 = 50.0;
const COLDEST_AIR_C: f64 = -40.0;
const WARMEST_WATER_C: f64 = 12.0;
/// Ice that damps spray, as seen in the code of met.no.
const DAMPING_CONCENTRATION: f64 = 0.4;

impl SprayWeather {
    /// Whether spray can freeze at all and the predictor may be asked: air at 0 or below, water at 12
    /// or below, ice concentration below 0.4, all of them known.
    ///
    /// Water at its freezing point and below, air under -40 and wind over 50 m/s are no end of icing:
    /// icing is worst where the sea is within 2 or 3 degrees of freezing (Overland 1990). The code of
    /// NCEP gives nothing below -1.7; here the water counts as freezing, and air and wind as if they
    /// were at the limit.
    #[must_use]
    pub fn within_limits(&self) -> bool {
        self.wind_m_s >= 0.0
            && self.air_c <= 0.0
            && self.water_c <= WARMEST_WATER_C
            && self.ice_concentration < DAMPING_CONCENTRATION
    }

    fn predictor(&self, phi: f64) -> f64 {
        if !self.within_limits() {
            return 0.0;
        }
        let (wind_m_s, air_c) =
            (self.wind_m_s.min(GREATEST_WIND_M_S), self.air_c.max(COLDEST_AIR_C));
        let warmth = (self.water_c - self.freezing_c).max(0.0);
        (wind_m_s * (self.freezing_c - air_c) / (1.0 + phi * warmth)).max(0.0)
    }

    /// The predictor of 1990, m C/s; 0 outside the limits.
    #[must_use]
    pub fn predictor_1990(&self) -> f64 {
        self.predictor(0.3)
    }

    /// The predictor of 1986, m C/s; 0 outside the limits.
    #[must_use]
    pub fn predictor_1986(&self) -> f64 {
        self.predictor(0.4)
    }

    /// The class of icing, Overland 1990. Thresholds as seen in the documentation of FMI's
    /// post-processing.
    #[must_use]
    pub fn class(&self) -> IcingClass {
        match self.predictor_1990() {
            predictor if predictor > 83.0 => IcingClass::Extreme,
            predictor if predictor > 53.3 => IcingClass::Heavy,
            predictor if predictor > 22.4 => IcingClass::Moderate,
            predictor if predictor > 0.0 => IcingClass::Light,
            _ => IcingClass::None,
        }
    }

    /// The rate of icing in cm/h, Overland et al. 1986; the cubic as seen in the code of met.no and
    /// NCEP.
    #[must_use]
    pub fn rate_cm_per_h(&self) -> f64 {
        rate_of_1986(self.predictor_1986())
    }
}

fn rate_of_1986(predictor: f64) -> f64 {
    predictor * (2.73e-2 + predictor * (2.91e-4 + predictor * 1.84e-6))
}

impl fmt::Display for IcingClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::None => "no icing",
            Self::Light => "light icing, under 0.7 cm an hour",
            Self::Moderate => "moderate icing, 0.7 to 2 cm an hour",
            Self::Heavy => "heavy icing, 2 to 4 cm an hour",
            Self::Extreme => "extreme icing, over 4 cm an hour",
        })
    }
}

/// Freezing point of sea water by salinity (Stallabrass 1980, as seen in open code of met.no).
#[must_use]
pub fn freezing_point_c(salinity_psu: f64) -> f64 {
    -0.002 - 0.0524 * salinity_psu - 6.0e-5 * salinity_psu * salinity_psu
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn spray(wind_m_s: f64, air_c: f64, water_c: f64) -> SprayWeather {
        SprayWeather { wind_m_s, air_c, water_c, freezing_c: -1.7, ice_concentration: 0.0 }
    }

    #[test]
    fn published_icing_cases_recomputed() {
        for (weather, predictor_1990, class) in [
            (spray(10.0, -10.0, 0.0), 54.967, IcingClass::Heavy),
            (spray(15.0, -10.0, 2.0), 59.005, IcingClass::Heavy),
            (spray(12.0, -3.0, 4.0), 5.756, IcingClass::Light),
            (spray(20.0, -15.0, 1.0), 146.96, IcingClass::Extreme),
        ] {
            assert!((weather.predictor_1990() - predictor_1990).abs() < 0.006);
            assert_eq!(weather.class(), class);
        }
        for (weather, predictor_1986, rate) in
            [(spray(10.0, -10.0, 0.0), 49.405, 2.281), (spray(15.0, -10.0, 2.0), 50.202, 2.337)]
        {
            assert!((weather.predictor_1986() - predictor_1986).abs() < 0.0006);
            assert!((weather.rate_cm_per_h() - rate).abs() < 0.0006);
        }
    }

    /// The cubic meets 0.7, 2.0 and 4.0 cm/h at the thresholds of 1986 and misses them at those of
    /// 1990, recomputed.
    #[test]
    fn published_rate_belongs_to_the_form_of_1986_recomputed() {
        for (threshold, rate) in [
            (20.6, 0.702),
            (45.2, 1.998),
            (70.0, 3.968),
            (22.4, 0.778),
            (53.3, 2.560),
            (83.0, 5.323),
        ] {
            assert!((rate_of_1986(threshold) - rate).abs() < 0.0006, "{threshold}");
        }
    }

    #[test]
    fn published_freezing_points_recomputed() {
        assert!((freezing_point_c(35.0) - -1.9095).abs() < 1e-4);
        assert!((freezing_point_c(33.0) - -1.7965).abs() < 1e-4);
    }

    #[test]
    fn no_spray_in_ice_nor_outside_the_limits() {
        let cold = spray(20.0, -15.0, 1.0);
        for calm in [
            SprayWeather { ice_concentration: 0.4, ..cold },
            SprayWeather { ice_concentration: f64::NAN, ..cold },
            SprayWeather { air_c: 0.5, ..cold },
            SprayWeather { water_c: 12.5, ..cold },
            SprayWeather { air_c: f64::NAN, ..cold },
            SprayWeather { water_c: f64::NAN, ..cold },
        ] {
            assert_eq!((calm.class(), calm.rate_cm_per_h()), (IcingClass::None, 0.0));
        }
    }

    /// Regression: a sea under -1.7 C, where icing is worst, air under -40 C and wind over 50 m/s
    /// gave no icing at all.
    #[test]
    fn the_worst_weather_is_not_without_icing() {
        let freezing = spray(20.0, -15.0, -1.7);
        for worst in [
            SprayWeather { water_c: -1.8, ..freezing },
            SprayWeather { water_c: -1.9, ..freezing },
            SprayWeather { air_c: -41.0, ..freezing },
            SprayWeather { wind_m_s: 51.0, ..freezing },
        ] {
            assert_eq!(worst.class(), IcingClass::Extreme, "{worst:?}");
            assert!(worst.rate_cm_per_h() >= freezing.rate_cm_per_h(), "{worst:?}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn warmer_water_never_ices_more(water in (-2.5..13.0, -2.5..13.0), air_c in -45.0..1.0) {
            let (cold, warm) = (f64::min(water.0, water.1), f64::max(water.0, water.1));
            let (more, less) = (spray(15.0, air_c, cold), spray(15.0, air_c, warm));
            prop_assert!(more.class() >= less.class());
            prop_assert!(more.rate_cm_per_h() >= less.rate_cm_per_h());
        }

        #[test]
        fn more_wind_and_cold_ice_more(
            wind in (0.0..60.0, 0.0..60.0), air in (-50.0..0.0, -50.0..0.0), water_c in -2.5..12.0,
        ) {
            let (calm, windy) = (f64::min(wind.0, wind.1), f64::max(wind.0, wind.1));
            let (cold, mild) = (f64::min(air.0, air.1), f64::max(air.0, air.1));
            let (less, more) = (spray(calm, mild, water_c), spray(windy, cold, water_c));
            prop_assert!(more.class() >= less.class());
            prop_assert!(more.rate_cm_per_h() >= less.rate_cm_per_h());
        }
    }
}
