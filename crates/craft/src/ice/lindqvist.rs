//! Lindqvist, G. (1989): A straightforward method for calculation of ice resistance of ships.
//! POAC'89, Lulea. Form from memory; the terms were each seen in open calculators, which disagree
//! in their brackets: here `1 + 1/cos psi` multiplies the whole bending term, and the root term of
//! the submersion is added.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Hull, LevelIce};
use crate::Error;

const GRAVITY_M_S2: f64 = 9.81;
const WATER_DENSITY_KG_M3: f64 = 1025.0;
const YOUNG_PA: f64 = 2.0e9;
const POISSON: f64 = 0.3;

/// What the ice is made of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct IceStrength {
    /// Flexural strength.
    #[schemars(range(min = 50.0, max = 2000.0))]
    pub flexural_strength_kpa: f64,
    /// Coefficient of friction between ice and hull, 0.05 (new paint) to 0.16.
    #[schemars(range(min = 0.01, max = 0.5))]
    pub friction: f64,
    /// Density of the ice.
    #[schemars(range(min = 700.0, max = 1000.0))]
    pub density_kg_m3: f64,
}

impl Default for IceStrength {
    /// 500 kPa, friction 0.1 and 900 kg/m3, the typical values given with the formula.
    fn default() -> Self {
        Self { flexural_strength_kpa: 500.0, friction: 0.1, density_kg_m3: 900.0 }
    }
}

/// The angles of the bow, in radians, and what they make of friction.
struct Bow {
    phi: f64,
    alpha: f64,
    psi: f64,
}

impl Bow {
    fn of(hull: &Hull) -> Self {
        let phi = hull.stem_angle_deg.to_radians();
        let alpha = hull.waterline_angle_deg.to_radians();
        Self { phi, alpha, psi: (phi.tan() / alpha.sin()).atan() }
    }
}

/// The three parts of the resistance at rest, in newtons.
struct Parts {
    crushing_n: f64,
    bending_n: f64,
    submersion_n: f64,
}

fn parts(hull: &Hull, ice: &IceStrength, thickness_m: f64) -> Parts {
    let Bow { phi, alpha, psi } = Bow::of(hull);
    let (beam_m, h) = (hull.beam_m, thickness_m);
    let (mu, strength_pa) = (ice.friction, 1000.0 * ice.flexural_strength_kpa);
    let crushing_n = 0.5 * strength_pa * h * h * (phi.tan() + mu * phi.cos() / psi.cos())
        / (1.0 - mu * phi.sin() / psi.cos());
    let stiffness =
        (YOUNG_PA / (12.0 * (1.0 - POISSON * POISSON) * GRAVITY_M_S2 * WATER_DENSITY_KG_M3)).sqrt();
    let bending_n = 27.0 / 64.0 * strength_pa * beam_m * h * h.sqrt() / stiffness
        * (psi.tan() + mu * phi.cos() / (alpha.sin() * psi.cos()))
        * (1.0 + 1.0 / psi.cos());
    let submersion_n =
        (WATER_DENSITY_KG_M3 - ice.density_kg_m3) * GRAVITY_M_S2 * h * beam_m * wetted_m(hull, ice);
    Parts { crushing_n, bending_n, submersion_n }
}

/// The bracket of the submersion term: potential energy and friction along the hull.
fn wetted_m(hull: &Hull, ice: &IceStrength) -> f64 {
    let Bow { phi, alpha, psi } = Bow::of(hull);
    let (beam_m, draught_m) = (hull.beam_m, hull.draught_m);
    let root = (1.0 / phi.sin().powi(2) + 1.0 / alpha.tan().powi(2)).sqrt();
    draught_m * (beam_m + draught_m) / (beam_m + 2.0 * draught_m)
        + ice.friction
            * (0.7 * hull.length_m - draught_m / phi.tan() - beam_m / (4.0 * alpha.tan())
                + draught_m * phi.cos() * psi.cos() * root)
}

pub(super) fn level_ice(hull: &Hull, ice: &IceStrength, thickness_m: f64) -> LevelIce {
    // The speed factor of the breaking terms is singular at no thickness, where they vanish.
    if thickness_m <= 0.0 {
        return LevelIce { at_rest_n: 0.0, per_speed_n_s_per_m: 0.0 };
    }
    let Parts { crushing_n, bending_n, submersion_n } = parts(hull, ice, thickness_m);
    let breaking_n = crushing_n + bending_n;
    LevelIce {
        at_rest_n: breaking_n + submersion_n,
        per_speed_n_s_per_m: breaking_n * 1.4 / (GRAVITY_M_S2 * thickness_m).sqrt()
            + submersion_n * 9.4 / (GRAVITY_M_S2 * hull.length_m).sqrt(),
    }
}

/// Refuses hulls for which the formula is singular or its submersion term negative.
pub(super) fn check(hull: &Hull, ice: &IceStrength) -> Result<(), Error> {
    Error::check("the stem angle (Lindqvist), degrees", hull.stem_angle_deg, 5.0, 85.0)?;
    let Bow { phi, psi, .. } = Bow::of(hull);
    let sliding = ice.friction * phi.sin() / psi.cos();
    Error::check("friction sin(phi) / cos(psi) (Lindqvist)", sliding, 0.0, 0.9)?;
    Error::check("the submersion bracket (Lindqvist), m", wetted_m(hull, ice), 0.0, f64::MAX)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHIP_A: Hull = Hull {
        length_m: 150.0,
        beam_m: 25.0,
        draught_m: 9.0,
        stem_angle_deg: 30.0,
        waterline_angle_deg: 24.0,
        parallel_midbody_m: 70.0,
        bow_length_m: 45.0,
    };

    #[test]
    fn parts_of_reference_ship_as_recomputed() {
        for (h, crushing, bending, submersion) in
            [(0.5, 49.8, 67.6, 245.3), (1.0, 199.2, 191.3, 490.6), (1.5, 448.3, 351.4, 735.9)]
        {
            let got = parts(&SHIP_A, &IceStrength::default(), h);
            assert!((got.crushing_n / 1000.0 - crushing).abs() < 0.06, "{h}");
            assert!((got.bending_n / 1000.0 - bending).abs() < 0.06, "{h}");
            assert!((got.submersion_n / 1000.0 - submersion).abs() < 0.06, "{h}");
        }
    }

    #[test]
    fn the_bending_factor_is_three_thousandths() {
        let stiffness = (YOUNG_PA
            / (12.0 * (1.0 - POISSON * POISSON) * GRAVITY_M_S2 * WATER_DENSITY_KG_M3))
            .sqrt();
        assert!((27.0 / 64.0 / stiffness - 0.003126).abs() < 1e-6);
    }

    #[test]
    fn singular_bows_are_refused() {
        let steep = Hull { stem_angle_deg: 90.0, ..SHIP_A };
        assert!(check(&steep, &IceStrength::default()).is_err());
        let sticky = IceStrength { friction: 0.5, ..IceStrength::default() };
        assert!(check(&Hull { stem_angle_deg: 70.0, ..SHIP_A }, &sticky).is_err());
        assert!(check(&SHIP_A, &IceStrength::default()).is_ok());
    }
}
