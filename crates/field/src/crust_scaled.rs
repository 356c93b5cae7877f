//! A main field whose crust is taken to be larger or smaller than the model says.

use std::ops::RangeInclusive;

use dipward_geodesy::Hemisphere;
use dipward_plugin::{Assumption, Error, FieldSample, FieldSigma, MainField, Provenance, Site};

/// A main field with its doubt about the crust multiplied by a factor; all else is the model's.
///
/// How large the crust's field is at a pole that nobody has surveyed is a judgement (see
/// [`crate::doubt`]), and much hangs on it: a result is to be told for half and twice of it too.
///
/// # Example
///
/// ```
/// use dipward_field::{CrustScaled, igrf14};
/// use dipward_geodesy::Hemisphere;
/// use dipward_plugin::MainField;
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let model = igrf14()?;
/// let half = CrustScaled::new(&model, 0.5);
/// let [whole, half] = [model.sigma(2027.0, Hemisphere::South), half.sigma(2027.0, Hemisphere::South)];
/// assert_eq!(half.crust, whole.crust.scaled(0.5));
/// assert_eq!(half.forecast, whole.forecast);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, Copy)]
pub struct CrustScaled<'a> {
    model: &'a dyn MainField,
    factor: f64,
}

impl<'a> CrustScaled<'a> {
    /// A model with a factor to its crust's sigma, 0 or more.
    #[must_use]
    pub fn new(model: &'a dyn MainField, factor: f64) -> Self {
        Self { model, factor }
    }
}

impl MainField for CrustScaled<'_> {
    fn provenance(&self) -> Provenance {
        self.model.provenance()
    }

    fn years(&self) -> RangeInclusive<f64> {
        self.model.years()
    }

    fn sample(
        &self,
        decimal_year: f64,
        sites: &[Site],
        out: &mut [FieldSample],
    ) -> Result<(), Error> {
        self.model.sample(decimal_year, sites, out)
    }

    fn sigma(&self, decimal_year: f64, hemisphere: Hemisphere) -> FieldSigma {
        let FieldSigma { forecast, crust } = self.model.sigma(decimal_year, hemisphere);
        FieldSigma { forecast, crust: crust.scaled(self.factor) }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut all = self.model.assumptions();
        let text = format!("the crust's field is taken to be {} times as large", self.factor);
        all.push(Assumption::new("pole.model", text));
        all
    }
}
