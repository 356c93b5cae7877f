//! A main field made of Gauss coefficients.

use std::ops::RangeInclusive;

use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    Assumption, ComponentSigma, Error, FieldSample, FieldSigma, MainField, Provenance, Site,
};

use crate::{
    Doubt, Growth,
    doubt::secular_variation,
    series::{ANY_YEAR, MAX_DEGREE, Series, index},
    synthesis::Snapshot,
};

/// How far beyond its years a model may be carried when that is asked for.
pub const EXTRAPOLATION_YEARS: f64 = 25.0;

/// How far from its epoch a model is asked that does not change with time. Farther off the secular
/// variation has moved its poles by more than such a model says of the field.
pub const STILL_YEARS: f64 = 5.0;

/// A main field given by Gauss coefficients through time: IGRF, WMM, or a user's own.
///
/// Several series may be added to one model, a core field and a crustal field for instance.
#[derive(Debug, Clone)]
pub struct GaussModel {
    parts: Vec<Series>,
    provenance: Provenance,
    doubt: Doubt,
    extrapolate: bool,
    /// The epoch of a first series that does not change with time.
    still_at: Option<f64>,
}

impl GaussModel {
    /// A model of one series that is in doubt as [`crate::doubt`] says.
    ///
    /// A series that does not change with time, of a single epoch or without secular variation, answers
    /// for [`STILL_YEARS`] on either side of its epoch, and
    /// [`secular_variation`](crate::doubt::secular_variation) is added to its doubt for each year off.
    #[must_use]
    pub fn new(series: Series, provenance: Provenance, doubt: Doubt) -> Self {
        let still_at = series.still_at();
        Self { parts: vec![series], provenance, doubt, extrapolate: false, still_at }
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
            let why = match self.still_at {
                Some(epoch) => format!(": it has no secular variation from its epoch {epoch} on"),
                None => String::new(),
            };
            return Err(Error::Outside(format!(
                "{name} answers for the years {first} to {last}, not for {decimal_year:.3}{why}"
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
        let about = |epoch: f64| epoch - STILL_YEARS..=epoch + STILL_YEARS;
        self.parts.iter().fold(self.still_at.map_or(ANY_YEAR, about), |years, part| {
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
        let hindcast = (self.doubt.hindcast_before - decimal_year).max(0.0);
        let still = self.still_at.map_or(0.0, |epoch| (decimal_year - epoch).abs());
        let forecast = [
            doubt.forecast.sigma(behind),
            ComponentSigma::isotropic(hindcast * doubt.hindcast_nt_per_year),
            secular_variation(hemisphere).scaled(still),
        ];
        FieldSigma {
            forecast: forecast.into_iter().fold(doubt.forecast.sigma(ahead), ComponentSigma::plus),
            crust: doubt.crust,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut all = Vec::new();
        let mut assume = |text: String| all.push(Assumption::new("pole.model", text));
        for (side, at) in [("north", self.doubt.north), ("south", self.doubt.south)] {
            let mut parts = Vec::new();
            if self.still_at.is_none() {
                let (x, y) = (in_words(at.forecast.north), in_words(at.forecast.east));
                let from = self.doubt.forecast_from;
                parts.push(format!(
                    "by {x} nT of X and {y} nT of Y for t years of forecast from {from:.1}"
                ));
            }
            if *self.own_years().start() < self.doubt.hindcast_before {
                let (each, before) = (at.hindcast_nt_per_year, self.doubt.hindcast_before);
                parts.push(format!("by {each} nT for each year before {before:.0}"));
            }
            let (x, y) = (at.crust.north_nt, at.crust.east_nt);
            parts.push(format!(
                "by {x} nT of X and {y} nT of Y for truncation and the crust, a judgement"
            ));
            assume(format!(
                "the horizontal field of {} errs at the {side} dip pole {}; one sigma of each component",
                self.provenance.name,
                parts.join(", ")
            ));
        }
        if self.extrapolate {
            let years = self.own_years();
            assume(format!(
                "outside its years {} to {} the model is carried on in straight lines, which nobody \
                 vouches for",
                years.start(),
                years.end()
            ));
        }
        if let Some(epoch) = self.still_at {
            let [north, south] = [Hemisphere::North, Hemisphere::South].map(secular_variation);
            assume(format!(
                "{} has no secular variation: it is the field of {epoch}, held for other years with a \
                 doubt that grows by {} nT of X and {} nT of Y a year at the north dip pole and by {} \
                 and {} nT at the south one",
                self.provenance.name, north.north_nt, north.east_nt, south.north_nt, south.east_nt
            ));
        }
        for part in self.parts.iter().skip(1).filter(|part| part.still_at().is_some()) {
            assume(format!("the coefficients of `{}` do not change with time", part.name()));
        }
        all
    }
}

/// "12 t" or "13 t + 0.3 t^2".
fn in_words(Growth { nt_per_year, nt_per_year2 }: Growth) -> String {
    if nt_per_year2 == 0.0 {
        format!("{nt_per_year} t")
    } else {
        format!("{nt_per_year} t + {nt_per_year2} t^2")
    }
}
