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
//!   4.2, 5.5 and 6.9 km, and the south one by 0.83 km at most: 1.4 km a year in the north. That is
//!   2.4 nT a year. In the south the same figure gives 0.5 km a year, three times what was seen,
//!   which is the safe side.
//! * Crust and truncation. A model of degree 133 moves the north dip pole by 7.6 to 19.4 km from the
//!   core field's and the south one by 7.9 to 11.3 km. 33 nT gives 19.6 km in the north, the top of
//!   that range, and 7.3 km in the south, just below it; no single figure lies within both.
//! * A model that stops at degree 12 misses 7.25 km more in the north (IGRF-14 against itself cut
//!   off, and against WMM2025, in 2025): 12 nT, added in squares.
//!
//! All these distances were computed for this library, not taken from a publication.

use crate::Doubt;

/// For IGRF-14, whose last fitted epoch is 2025.0.
pub const IGRF14: Doubt =
    Doubt { forecast_from: 2025.0, forecast_nt_per_year: 2.4, crust_nt: 33.0 };

/// For WMM2025: as IGRF-14, and degree 13 left out.
pub const WMM2025: Doubt =
    Doubt { forecast_from: 2025.0, forecast_nt_per_year: 2.4, crust_nt: 35.0 };
