//! A main field whose pole has been found.

use std::ops::RangeInclusive;

use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    Assumption, ComponentSigma, Error, FieldSample, FieldSigma, MainField, Provenance, Site,
};

/// A main field without its doubt: what currents do to the pole about its mean, wherever that is found to
/// be.
///
/// # Example
///
/// ```
/// use dipward_field::{KnownPole, igrf14};
/// use dipward_geodesy::Hemisphere;
/// use dipward_plugin::MainField;
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let model = igrf14()?;
/// let known = KnownPole::new(&model);
/// assert_eq!(known.sigma(2027.0, Hemisphere::South).total().north_nt, 0.0);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, Copy)]
pub struct KnownPole<'a>(&'a dyn MainField);

impl<'a> KnownPole<'a> {
    /// The field of a model, taken to be without error.
    #[must_use]
    pub fn new(model: &'a dyn MainField) -> Self {
        Self(model)
    }
}

impl MainField for KnownPole<'_> {
    fn provenance(&self) -> Provenance {
        self.0.provenance()
    }

    fn years(&self) -> RangeInclusive<f64> {
        self.0.years()
    }

    fn sample(
        &self,
        decimal_year: f64,
        sites: &[Site],
        out: &mut [FieldSample],
    ) -> Result<(), Error> {
        self.0.sample(decimal_year, sites, out)
    }

    fn sigma(&self, _: f64, _: Hemisphere) -> FieldSigma {
        let none = ComponentSigma::isotropic(0.0);
        FieldSigma { forecast: none, crust: none }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(
            "pole.model",
            "the mean pole has been found by the party's own readings",
        )]
    }
}
