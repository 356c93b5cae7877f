//! How wrong the main field at a dip pole may be.
//!
//! Published error models of WMM and IGRF are global figures that hold crust and disturbance as
//! well; put through the gradient they would misplace the pole by tens of km. What counts for a pole
//! of the core field is smaller, and is told here as an isotropic horizontal field b, one sigma of
//! each component, that moves the pole by -J^-1 b. With the singular values of J at the poles of
//! IGRF-14 in 2027 (5.17 and 1.78 nT/km in the north, 8.57 and 5.30 in the south) one nT of b is a
//! root-mean-square distance of 0.594 km in the north and 0.222 km in the south.
//!
//! * Forecast. IGRF-13's forecasts for 2021 to 2025 missed IGRF-14's north dip pole by 1.45, 2.85,
//!   4.2, 5.5 and 6.9 km: 1.4 km a year, which is 2.4 nT a year. They missed the south one by 0.83 km
//!   at most: 0.75 nT a year.
//! * Crust and truncation. A model of degree 133 moves the north dip pole by 7.6 to 19.4 km from the
//!   core field's and the south one by 7.9 to 11.3 km. The root mean square of the ends of a range is
//!   taken for one sigma: 14.7 km, which is 25 nT, and 9.7 km, which is 44 nT.
//! * A model that stops at degree 12 misses degree 13 too, which moves the pole by 7.25 km in the
//!   north and by about 1.15 km in the south (IGRF-14 against itself cut off, 2025): 12 and 5 nT,
//!   added in squares.
//!
//! All these distances were computed for this library, not taken from a publication.

use crate::{Doubt, DoubtAtPole};

/// For IGRF-14, whose last fitted epoch is 2025.0.
pub const IGRF14: Doubt = Doubt {
    forecast_from: 2025.0,
    north: DoubtAtPole { forecast_nt_per_year: 2.4, crust_nt: 25.0 },
    south: DoubtAtPole { forecast_nt_per_year: 0.75, crust_nt: 44.0 },
};

/// For WMM2025: as IGRF-14, and degree 13 left out.
pub const WMM2025: Doubt = Doubt {
    forecast_from: 2025.0,
    north: DoubtAtPole { forecast_nt_per_year: 2.4, crust_nt: 27.7 },
    south: DoubtAtPole { forecast_nt_per_year: 0.75, crust_nt: 44.3 },
};

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;

    use crate::{dip_pole, igrf14};

    #[test]
    fn distances_are_those_that_the_figures_were_taken_from() {
        let model = igrf14().unwrap();
        for (hemisphere, forecast, crust) in [
            (Hemisphere::North, [6.4, 7.7], [7.6, 19.4]),
            (Hemisphere::South, [0.7, 0.9], [7.9, 11.3]),
        ] {
            let pole = dip_pole(&model, hemisphere, 2030.0, 0.0).unwrap();
            let parts = [(pole.sigma.forecast_nt, forecast), (pole.sigma.crust_nt, crust)];
            for (sigma_nt, [least, most]) in parts {
                let km = pole.ellipse(sigma_nt).rms_km();
                assert!((least..=most).contains(&km), "{hemisphere}: {km} km");
            }
        }
    }
}
