use super::{Hull, Propulsion, ResistanceFormula};
use crate::IceStrength;

/// Speed against the thickness of level ice at one power setting: the h-v curve, laid out as a
/// table fine enough that a cell costs one interpolation.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedCurve {
    beset_thickness_m: f32,
    steps_per_m: f32,
    speeds_m_s: Vec<f32>,
}

/// Thicker than any ice a ship is asked about; a curve that reaches it ends there.
const GREATEST_THICKNESS_M: f64 = 50.0;
const STEPS: usize = 1024;

impl SpeedCurve {
    /// Solves the curve of a hull, resistance being increasing in thickness.
    #[must_use]
    pub fn solve(
        formula: ResistanceFormula,
        hull: &Hull,
        ice: &IceStrength,
        propulsion: &Propulsion,
    ) -> Self {
        let speed_m_s = |thickness_m: f64| {
            propulsion.speed_in_m_s(formula.level_ice(hull, ice, thickness_m)).unwrap_or(0.0)
        };
        let (mut open, mut beset) = (0.0, GREATEST_THICKNESS_M);
        if speed_m_s(beset) > 0.0 {
            open = beset;
        } else {
            // 60 halvings of 50 m end below the spacing of f32.
            for _ in 0..60 {
                let middle = 0.5 * (open + beset);
                if speed_m_s(middle) > 0.0 { open = middle } else { beset = middle }
            }
        }
        let step_m = open / STEPS as f64;
        let speeds_m_s = (0..=STEPS).map(|step| speed_m_s(step as f64 * step_m) as f32).collect();
        Self {
            beset_thickness_m: open as f32,
            steps_per_m: (STEPS as f64 / open.max(f64::MIN_POSITIVE)) as f32,
            speeds_m_s,
        }
    }

    /// The thickness in which the ship is beset.
    #[must_use]
    pub fn beset_thickness_m(&self) -> f64 {
        f64::from(self.beset_thickness_m)
    }

    /// Speed in ice of a thickness: that in open water at none, 0 where the ship is beset or the
    /// thickness is not a number. Never increasing.
    #[must_use]
    #[inline]
    pub fn speed_m_s(&self, thickness_m: f32) -> f32 {
        if thickness_m.is_nan() || thickness_m >= self.beset_thickness_m {
            return 0.0;
        }
        let place = thickness_m.max(0.0) * self.steps_per_m;
        let step = place as usize;
        match self.speeds_m_s.get(step..step + 2) {
            Some(&[below, above]) => below + (above - below) * (place - step as f32),
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn ship_a(formula: ResistanceFormula, fraction: f64) -> (SpeedCurve, Hull, Propulsion) {
        let hull = Hull {
            length_m: 150.0,
            beam_m: 25.0,
            draught_m: 9.0,
            stem_angle_deg: 30.0,
            waterline_angle_deg: 24.0,
            parallel_midbody_m: 70.0,
            bow_length_m: 45.0,
        };
        let propulsion = Propulsion::new(1.0586e6, 8.2311).unwrap().at_fraction(fraction);
        (SpeedCurve::solve(formula, &hull, &IceStrength::default(), &propulsion), hull, propulsion)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn the_table_agrees_with_the_root(
            thickness_m in 0.0_f32..2.0, fraction in 0.05..1.0, lindqvist in any::<bool>(),
        ) {
            let formula =
                if lindqvist { ResistanceFormula::Lindqvist } else { ResistanceFormula::Riska };
            let (curve, hull, propulsion) = ship_a(formula, fraction);
            let ice = formula.level_ice(&hull, &IceStrength::default(), f64::from(thickness_m));
            let exact = propulsion.speed_in_m_s(ice).unwrap_or(0.0);
            prop_assert!((f64::from(curve.speed_m_s(thickness_m)) - exact).abs() < 0.005);
        }

        #[test]
        fn thicker_is_never_faster(a in 0.0_f32..2.0, b in 0.0_f32..2.0) {
            let (curve, ..) = ship_a(ResistanceFormula::Riska, 0.85);
            let (thin, thick) = if a < b { (a, b) } else { (b, a) };
            prop_assert!(curve.speed_m_s(thick) <= curve.speed_m_s(thin));
        }
    }

    #[test]
    fn odd_thicknesses_are_answered() {
        let (curve, ..) = ship_a(ResistanceFormula::Riska, 1.0);
        assert_eq!(curve.speed_m_s(f32::NAN), 0.0);
        assert_eq!(curve.speed_m_s(f32::INFINITY), 0.0);
        assert_eq!(curve.speed_m_s(-1.0), curve.speed_m_s(0.0));
        assert!((curve.speed_m_s(0.0) - 8.2311).abs() < 1e-5);
    }
}
