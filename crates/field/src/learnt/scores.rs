//! How the law did in cross-validation: small statistics that the fitting script wrote.

use std::sync::LazyLock;

static FILE: &str = include_str!("../../data/response/cross_validation.csv");

/// The shares of hours inside the 95 % region over all Kp, station by station.
fn coverages(judged: &str) -> Vec<f64> {
    FILE.lines()
        .skip(1)
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|cells| cells.first() == Some(&judged) && cells.get(2) == Some(&"all"))
        .filter_map(|cells| cells.get(4)?.parse().ok())
        .collect()
}

fn range(shares: &[f64]) -> String {
    let least = shares.iter().copied().fold(f64::INFINITY, f64::min);
    let most = shares.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    format!("{:.0} to {:.0} %", 100.0 * least, 100.0 * most)
}

static SENTENCE: LazyLock<String> = LazyLock::new(|| {
    format!(
        "held to the recorded hours of {} polar-cap observatories with Kp known, the 95 % region held {} \
         of the hours of years that it was not fitted to, and {} at a station that it was not fitted to",
        coverages("other years").len(),
        range(&coverages("other years")),
        range(&coverages("station left out")),
    )
});

/// How the law did, in a sentence.
pub(super) fn sentence() -> &'static str {
    &SENTENCE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_statistics_are_whole_and_good() {
        let [years, stations] = ["other years", "station left out"].map(coverages);
        assert_eq!((years.len(), stations.len()), (5, 5));
        assert!(years.iter().all(|share| (0.92..0.97).contains(share)), "{years:?}");
        assert!(stations.iter().all(|share| (0.88..0.98).contains(share)), "{stations:?}");
        assert!(sentence().contains(" to "), "{}", sentence());
    }
}
