//! Riska, K., Wilhelmson, M., Englund, K., Leiviska, T. (1997): Performance of merchant vessels in
//! ice in the Baltic. Winter Navigation Research Board, report 52. Coefficients and form from
//! memory; they agree with the coefficients of the Finnish-Swedish Ice Class Rules at 0.1 m and 5
//! m/s.

use super::{Hull, LevelIce};

const F1_KN_PER_M3: f64 = 0.23;
const F2_KN_PER_M3: f64 = 4.58;
const F3_KN_PER_M3: f64 = 1.47;
const F4_KN_PER_M3: f64 = 0.29;
const G1_KN_S_PER_M2_5: f64 = 18.9;
const G2_KN_S_PER_M3: f64 = 0.67;
const G3_KN_S_PER_M3_5: f64 = 1.55;

/// Resistance `C1 + C2 v`, the formula in kilonewtons (which `KN` stands for in this file alone).
pub(super) fn level_ice(hull: &Hull, thickness_m: f64) -> LevelIce {
    let Hull { length_m, beam_m, draught_m, stem_angle_deg, .. } = *hull;
    let h = thickness_m;
    let c1 = F1_KN_PER_M3 * beam_m * hull.parallel_midbody_m * h / (2.0 * draught_m / beam_m + 1.0)
        + (1.0 + 0.021 * stem_angle_deg)
            * (F2_KN_PER_M3 * beam_m * h * h
                + F3_KN_PER_M3 * hull.bow_length_m * h * h
                + F4_KN_PER_M3 * beam_m * hull.bow_length_m * h);
    let c2 = (1.0 + 0.063 * stem_angle_deg)
        * (G1_KN_S_PER_M2_5 * h * h.sqrt() + G2_KN_S_PER_M3 * beam_m * h)
        + G3_KN_S_PER_M3_5 * h * (1.0 + 1.2 * draught_m / beam_m) * beam_m * beam_m
            / length_m.sqrt();
    LevelIce { at_rest_n: 1000.0 * c1, per_speed_n_s_per_m: 1000.0 * c2 }
}
