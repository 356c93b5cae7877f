//! The coefficients of the law.

use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    hours::{CORRELATIONS, MEANS, SCATTERS},
    motion::ScatterMemory,
    site::SITES,
};

static FILE: &str = include_str!("../../data/response/learnt_response.csv");

/// Which stations the law is fitted to.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Refit {
    /// To all five.
    #[default]
    All,
    /// Without Dumont d'Urville.
    WithoutDrv,
    /// Without Scott Base.
    WithoutSba,
    /// Without Vostok.
    WithoutVos,
    /// Without Resolute Bay.
    WithoutRes,
    /// Without Alert.
    WithoutAle,
}

impl Refit {
    /// All of them, in the order of the file's columns.
    pub const EACH: [Self; 6] = [
        Self::All,
        Self::WithoutDrv,
        Self::WithoutSba,
        Self::WithoutVos,
        Self::WithoutRes,
        Self::WithoutAle,
    ];

    /// The fits that leave a station out.
    #[must_use]
    pub const fn without_a_station() -> &'static [Self] {
        Self::EACH.split_at(1).1
    }

    /// To what it is fitted, in words.
    pub(super) const fn told(self) -> &'static str {
        match self {
            Self::All => "to all stations",
            Self::WithoutDrv => "without Dumont d'Urville",
            Self::WithoutSba => "without Scott Base",
            Self::WithoutVos => "without Vostok",
            Self::WithoutRes => "without Resolute Bay",
            Self::WithoutAle => "without Alert",
        }
    }
}

/// What the features are multiplied with.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LearntLaw {
    /// Toward the Sun and clockwise, nT.
    pub(crate) mean: [[f64; 2]; MEANS],
    /// Of the two sigmas' logarithms.
    pub(crate) log_sigma: [[f64; 2]; SCATTERS],
    /// Of the hyperbolic arc tangent of the correlation over 0.98.
    pub(crate) correlation: [f64; CORRELATIONS],
    pub(crate) memory: ScatterMemory,
    /// Logarithm of how much larger the scatter is at each station than the law says; not a number at one
    /// that it is not fitted to.
    pub(crate) site_log_factor: [f64; SITES],
    /// Mean and spread of that where no station stood.
    pub(crate) new_site: [f64; 2],
    /// One sigma of the mean's error there, along the mean and across it, in parts of its length.
    pub(crate) mean_error: f64,
    /// The farthest that a station it is fitted to stood from the magnetic pole, in tens of degrees, and a
    /// tenth of a degree more. Farther away the law is that of this distance, for its squares do not carry
    /// on: without the two outermost stations it would take their scatter for half of what it is.
    pub(crate) farthest: f64,
}

static LAWS: LazyLock<Vec<LearntLaw>> =
    LazyLock::new(|| (0..Refit::EACH.len()).map(|column| read(FILE, column)).collect());

impl LearntLaw {
    /// A fit that the library carries.
    pub(crate) fn embedded(refit: Refit) -> &'static Self {
        &LAWS[refit as usize]
    }
}

/// Reads one fit of the embedded file: `part,index` and a column for each fit.
///
/// A file of ours that is not whole is a mistake of ours: it stops the program.
#[expect(clippy::panic, reason = "the file is part of the library, and a test reads it whole")]
fn read(text: &str, column: usize) -> LearntLaw {
    let mut law = LearntLaw {
        mean: [[f64::NAN; 2]; MEANS],
        log_sigma: [[f64::NAN; 2]; SCATTERS],
        correlation: [f64::NAN; CORRELATIONS],
        memory: ScatterMemory::UNREAD,
        site_log_factor: [f64::NAN; SITES],
        new_site: [f64::NAN; 2],
        mean_error: f64::NAN,
        farthest: f64::NAN,
    };
    for line in text.lines().skip(1) {
        let mut cells = line.split(',');
        let part = cells.next().unwrap_or_default();
        let index = cells.next().and_then(|cell| cell.parse::<usize>().ok());
        let value = cells.nth(column).and_then(|cell| cell.parse::<f64>().ok());
        let place = match (part, index) {
            ("mean_toward_sun", Some(at)) => law.mean.get_mut(at).map(|pair| &mut pair[0]),
            ("mean_clockwise", Some(at)) => law.mean.get_mut(at).map(|pair| &mut pair[1]),
            ("log_sigma_toward_sun", Some(at)) => {
                law.log_sigma.get_mut(at).map(|pair| &mut pair[0])
            }
            ("log_sigma_clockwise", Some(at)) => law.log_sigma.get_mut(at).map(|pair| &mut pair[1]),
            ("correlation", Some(at)) => law.correlation.get_mut(at),
            ("site_log_factor", Some(at)) => law.site_log_factor.get_mut(at),
            ("new_site_log_mean", _) => law.new_site.get_mut(0),
            ("new_site_log_spread", _) => law.new_site.get_mut(1),
            ("new_site_mean_error", _) => Some(&mut law.mean_error),
            ("farthest", _) => Some(&mut law.farthest),
            (name, _) => law.memory.part_mut(name),
        };
        match (place, value) {
            (Some(place), Some(value)) => *place = value,
            _ => panic!("the learnt response has a line that says nothing: {line}"),
        }
    }
    law
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fit_is_whole() {
        for refit in Refit::EACH {
            let law = LearntLaw::embedded(refit);
            assert!(law.mean.as_flattened().iter().all(|value| value.is_finite()), "{refit:?}");
            assert!(law.log_sigma.as_flattened().iter().all(|value| value.is_finite()));
            assert!(law.correlation.iter().all(|value| value.is_finite()));
            let unknown = law.site_log_factor.iter().filter(|log| log.is_nan()).count();
            assert_eq!(unknown, usize::from(refit != Refit::All), "{refit:?}");
            assert!(law.new_site[0].abs() < 0.3 && (0.0..0.5).contains(&law.new_site[1]));
            assert!((0.0..0.5).contains(&law.mean_error) && (0.9..1.1).contains(&law.farthest));
            let memory = law.memory;
            let shares = memory.share_fast + memory.share_slow + memory.share_days;
            assert!((shares - 1.0).abs() < 1e-3, "{memory:?}");
            assert!(memory.memory_fast_h < memory.memory_slow_h);
            assert!(memory.memory_slow_h < memory.memory_days_h);
        }
    }
}
