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
        assert!(stations.iter().all(|share| (0.86..0.98).contains(share)), "{stations:?}");
        assert!(sentence().contains(" to "), "{}", sentence());
    }

    /// The page holds what the fitting script found.
    #[test]
    fn the_page_has_the_cross_validation() {
        use std::fmt::Write;

        let mut table = String::from(
            "| judged on | station | Kp | hours | within the 95 % region | within the 50 % region | CRPS, nT | \
             recorded mean, nT | told mean, nT |\n|---|---|---|---|---|---|---|---|---|\n",
        );
        for line in FILE.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            let by_kp = ["drv", "res"].contains(&cells[1]) && cells[0] == "other years";
            if cells[2] != "all" && !by_kp {
                continue;
            }
            let [c95, c50, crps, seen, told] =
                [4, 5, 6, 7, 8].map(|at: usize| cells[at].parse::<f64>().unwrap());
            writeln!(
                table,
                "| {} | {} | {} | {} | {c95:.3} | {c50:.3} | {crps:.1} | {seen:.0} | {told:.0} |",
                cells[0], cells[1], cells[2], cells[3]
            )
            .unwrap();
        }
        crate::documented::table("cross-validation", &table);
    }
}
