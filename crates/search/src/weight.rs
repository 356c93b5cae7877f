//! What the search makes least: hours, tonnes, or a sum of both.

use dipward_plugin::PaceTable;

/// The cost of an hour under way as a function of its burn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Weight {
    h_per_t: f64,
    /// Cost of an hour without burn.
    base: f32,
    /// Cost of a tonne.
    per_t: f32,
}

/// Next to the greatest burn, what an hour costs where only fuel counts: it breaks ties in favour of
/// the earlier route, and keeps edges without burn above zero.
const TIE_BREAK: f32 = 1e-5;

impl Weight {
    /// `h_per_t` of 0 counts hours alone, infinite counts tonnes alone.
    pub(crate) fn new(h_per_t: f64, table: &PaceTable) -> Result<Self, String> {
        if h_per_t.is_nan() || h_per_t < 0.0 {
            return Err(format!("the weight of fuel is {h_per_t} h/t and must not be negative"));
        }
        // Beyond this the hours no longer show in a sum of f32.
        if h_per_t > 1e6 {
            let most = table.burn_t_per_h.iter().fold(0.0_f32, |most, &burn| most.max(burn));
            let most = most.max(table.hold_t_per_h as f32);
            let base = if most > 0.0 { most * TIE_BREAK } else { 1.0 };
            return Ok(Self { h_per_t: f64::INFINITY, base, per_t: 1.0 });
        }
        Ok(Self { h_per_t, base: 1.0, per_t: h_per_t as f32 })
    }

    pub(crate) fn h_per_t(self) -> f64 {
        self.h_per_t
    }

    /// Whether the cost is the time.
    pub(crate) fn is_time(self) -> bool {
        self.per_t == 0.0
    }

    /// Cost of an hour with a burn.
    #[inline]
    pub(crate) fn rate(self, burn_t_per_h: f32) -> f32 {
        self.base + self.per_t * burn_t_per_h
    }

    /// Cost of hours and tonnes.
    #[inline]
    pub(crate) fn cost(self, hours: f64, fuel_t: f64) -> f64 {
        f64::from(self.base) * hours + f64::from(self.per_t) * fuel_t
    }
}
