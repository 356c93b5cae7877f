use dipward_plugin::LandingGround;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::ice::StageOfDevelopment;

/// What a helicopter lands on. Land and shelves are good; zones that are closed and what is not known are not.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct LandsOn {
    /// Whether it has floats: then open water and any ice will do.
    pub floats: bool,
    /// Least concentration of the ice.
    #[schemars(range(min = 0.1, max = 1.0))]
    pub least_concentration: f64,
    /// Least thickness of the ice. By Gold's rule at 4 kg/cm2 a machine of 4 t stands on 0.32 m of good
    /// freshwater ice, and on 0.56 m of sea ice of 0.65 of its strength that bears half where a load stands
    /// (the factors from memory).
    #[schemars(range(min = 0.1, max = 10.0))]
    pub least_thickness_m: f64,
    /// The youngest stage of the ice that counts: of it and of older ice there must be the least concentration.
    /// Where it is not stated the age is not looked at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub youngest: Option<StageOfDevelopment>,
}

impl Default for LandsOn {
    fn default() -> Self {
        Self { floats: false, least_concentration: 0.9, least_thickness_m: 0.6, youngest: None }
    }
}

impl LandsOn {
    /// Whether a ground is good to land and to stand on.
    ///
    /// # Errors
    ///
    /// Why not, in words.
    pub fn may_land(&self, ground: &LandingGround) -> Result<(), &'static str> {
        if ground.closed > 0.5 {
            return Err("the place to land lies in a closed zone");
        }
        if ground.land > 0.5 || ground.shelf > 0.5 {
            return Ok(());
        }
        if ground.ice_concentration.is_nan() {
            return Err("the ice to land on is not known");
        }
        if self.floats {
            return Ok(());
        }
        // A sum of partial concentrations may fall short by rounding.
        let least = self.least_concentration - 1e-4;
        if ground.ice_concentration < least {
            return Err("open water where it is to land");
        }
        let thick_enough = (self.least_thickness_m - 1e-4..).contains(&ground.ice_thickness_m);
        if !thick_enough {
            return Err("the ice to land on is too thin, or its thickness is not known");
        }
        let old_enough = self.youngest.is_none_or(|youngest| {
            let older = ground.ice_partials.iter().skip(youngest.index());
            (least..).contains(&older.sum::<f64>())
        });
        if !old_enough {
            return Err("the ice to land on is too young, or its age is not known");
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ice(concentration: f64, thickness_m: f64, stage: StageOfDevelopment) -> LandingGround {
        let mut ice_partials = [0.0; 11];
        ice_partials[stage.index()] = concentration;
        LandingGround {
            land: 0.0,
            ice_concentration: concentration,
            ice_thickness_m: thickness_m,
            ice_partials,
            ..LandingGround::UNKNOWN
        }
    }

    #[test]
    fn only_known_firm_ground_will_do() {
        use StageOfDevelopment as S;
        let lands = LandsOn::default();
        let pack = ice(0.9, 0.6, S::ThinFirstYear2);
        assert_eq!(lands.may_land(&pack), Ok(()));
        assert!(lands.may_land(&ice(0.89, 0.6, S::ThinFirstYear2)).unwrap_err().contains("water"));
        assert!(lands.may_land(&ice(0.9, 0.59, S::ThinFirstYear2)).unwrap_err().contains("thin"));
        assert!(lands.may_land(&ice(0.9, f64::NAN, S::ThinFirstYear2)).is_err());
        assert!(lands.may_land(&LandingGround::UNKNOWN).unwrap_err().contains("not known"));
        let zone = LandingGround { closed: 1.0, ..pack };
        assert!(lands.may_land(&zone).unwrap_err().contains("zone"));
        assert_eq!(lands.may_land(&LandingGround { land: 1.0, ..LandingGround::UNKNOWN }), Ok(()));
        assert_eq!(lands.may_land(&LandingGround { shelf: 1.0, ..LandingGround::UNKNOWN }), Ok(()));
    }

    #[test]
    fn a_stated_age_must_be_known_and_reached() {
        use StageOfDevelopment as S;
        let lands = LandsOn { youngest: Some(S::SecondYear), ..LandsOn::default() };
        assert_eq!(lands.may_land(&ice(1.0, 2.0, S::HeavyMultiYear)), Ok(()));
        assert_eq!(lands.may_land(&ice(1.0, 2.0, S::SecondYear)), Ok(()));
        assert!(lands.may_land(&ice(1.0, 2.0, S::ThickFirstYear)).unwrap_err().contains("young"));
        let unknown =
            LandingGround { ice_partials: [f64::NAN; 11], ..ice(1.0, 2.0, S::SecondYear) };
        assert!(lands.may_land(&unknown).is_err());
    }

    #[test]
    fn floats_need_no_ice_but_must_know() {
        let floats = LandsOn { floats: true, ..LandsOn::default() };
        assert_eq!(floats.may_land(&ice(0.0, f64::NAN, StageOfDevelopment::New)), Ok(()));
        assert!(floats.may_land(&LandingGround::UNKNOWN).is_err());
    }
}
