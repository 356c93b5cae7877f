//! A main field made of Gauss coefficients.

use std::ops::RangeInclusive;

use dipward_geodesy::Hemisphere;
use dipward_plugin::{Assumption, Error, FieldSample, FieldSigma, MainField, Provenance, Site};

use crate::{
    series::{ANY_YEAR, MAX_DEGREE, Series, index},
    synthesis::Snapshot,
};

/// How far beyond its years a model may be carried when that is asked for.
pub const EXTRAPOLATION_YEARS: f64 = 25.0;

/// How a model's doubt about the horizontal field at a dip pole grows; see [`crate::doubt`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubt {
    /// The decimal year from which the model forecasts.
    pub forecast_from: f64,
    /// About the north dip pole.
    pub north: DoubtAtPole,
    /// About the south dip pole.
    pub south: DoubtAtPole,
}

/// A model's doubt about the horizontal field near one dip pole, one sigma of each component.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoubtAtPole {
    /// For each year of forecast.
    pub forecast_nt_per_year: f64,
    /// From truncation and crust.
    pub crust_nt: f64,
}

impl Doubt {
    /// The figures of one hemisphere.
    #[must_use]
    pub const fn at(&self, hemisphere: Hemisphere) -> DoubtAtPole {
        match hemisphere {
            Hemisphere::North => self.north,
            Hemisphere::South => self.south,
        }
    }
}

/// A main field given by Gauss coefficients through time: IGRF, WMM, or a user's own.
///
/// Several series may be added to one model, a core field and a crustal field for instance.
#[derive(Debug, Clone)]
pub struct GaussModel {
    parts: Vec<Series>,
    provenance: Provenance,
    doubt: Doubt,
    extrapolate: bool,
}

impl GaussModel {
    /// A model of one series, by default as much in doubt as [`crate::doubt`] says.
    #[must_use]
    pub fn new(series: Series, provenance: Provenance, doubt: Doubt) -> Self {
        Self { parts: vec![series], provenance, doubt, extrapolate: false }
    }

    /// The same model with another series added to it.
    #[must_use]
    pub fn plus(mut self, series: Series) -> Self {
        self.parts.push(series);
        self
    }

    /// The same model, carried in straight lines up to [`EXTRAPOLATION_YEARS`] beyond its years.
    #[must_use]
    pub fn extrapolated(mut self) -> Self {
        self.extrapolate = true;
        self
    }

    /// The largest degree of its series.
    #[must_use]
    pub fn degree(&self) -> usize {
        self.parts.iter().map(Series::degree).max().unwrap_or(0)
    }

    /// The series that it adds up.
    #[must_use]
    pub fn parts(&self) -> &[Series] {
        &self.parts
    }

    /// The coefficients at one epoch, for many calls at that epoch.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for an epoch outside [`MainField::years`].
    pub fn at(&self, decimal_year: f64) -> Result<Snapshot, Error> {
        let years = self.years();
        if !years.contains(&decimal_year) {
            let (name, first, last) = (&self.provenance.name, years.start(), years.end());
            return Err(Error::Outside(format!(
                "{name} answers for the years {first} to {last}, not for {decimal_year:.3}"
            )));
        }
        let degree = self.degree().min(MAX_DEGREE);
        let mut sum = vec![[0.0; 2]; index(degree, degree) + 1];
        for part in &self.parts {
            part.add_to(decimal_year, &mut sum);
        }
        Ok(Snapshot::new(degree, &sum))
    }

    /// The years that all parts are meant for.
    fn own_years(&self) -> RangeInclusive<f64> {
        self.parts.iter().fold(ANY_YEAR, |years, part| {
            let own = part.years();
            years.start().max(*own.start())..=years.end().min(*own.end())
        })
    }
}

impl MainField for GaussModel {
    fn provenance(&self) -> Provenance {
        self.provenance.clone()
    }

    fn years(&self) -> RangeInclusive<f64> {
        let years = self.own_years();
        if !self.extrapolate {
            return years;
        }
        let first = (years.start() - EXTRAPOLATION_YEARS).max(*ANY_YEAR.start());
        first..=(years.end() + EXTRAPOLATION_YEARS).min(*ANY_YEAR.end())
    }

    fn sample(
        &self,
        decimal_year: f64,
        sites: &[Site],
        out: &mut [FieldSample],
    ) -> Result<(), Error> {
        self.at(decimal_year)?.sample(sites, out)
    }

    fn sigma(&self, decimal_year: f64, hemisphere: Hemisphere) -> FieldSigma {
        let doubt = self.doubt.at(hemisphere);
        let ahead = (decimal_year - self.doubt.forecast_from).max(0.0);
        // A model carried back beyond its first year is a forecast too, the other way.
        let behind = (self.own_years().start() - decimal_year).max(0.0);
        FieldSigma {
            forecast_nt: (ahead + behind) * doubt.forecast_nt_per_year,
            crust_nt: doubt.crust_nt,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut all = Vec::new();
        let mut assume = |text: String| all.push(Assumption::new("pole.model", text));
        let Doubt { north, south, .. } = self.doubt;
        assume(format!(
            "the horizontal field of {} errs at the north dip pole by {} nT for each year of forecast \
             and by {} nT for truncation and crust, at the south one by {} and {} nT; one sigma of \
             each component",
            self.provenance.name,
            north.forecast_nt_per_year,
            north.crust_nt,
            south.forecast_nt_per_year,
            south.crust_nt
        ));
        if self.extrapolate {
            let years = self.own_years();
            assume(format!(
                "outside its years {} to {} the model is carried on in straight lines, which nobody \
                 vouches for",
                years.start(),
                years.end()
            ));
        }
        for part in self.parts.iter().filter(|part| part.epochs().len() == 1) {
            assume(format!("the coefficients of `{}` do not change with time", part.name()));
        }
        all
    }
}
