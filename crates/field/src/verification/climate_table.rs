//! What a table of month and hour would have scored: the least that a model must beat.

use super::crps::mean_difference;

/// The length of a recorded perturbation and when it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecordedLength {
    /// Calendar year, UTC.
    pub year: i16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Hour of the day, UTC, 0 to 23.
    pub hour: u8,
    /// Length of the horizontal perturbation, nT.
    pub length_nt: f64,
    /// Whether it is scored; the table is made of all.
    pub scored: bool,
}

const CELLS: usize = 12 * 24;

/// The mean CRPS of a forecast that is, for each month and hour of the day, what the record itself held
/// then in all *other* years, nT; `None` where nothing is scored.
///
/// Where there is no other year (a record of one year, or a month that only one year has), the year itself
/// stands in, so that such hours are scored by a table that knows them: it is harder to beat.
#[must_use]
pub fn climate_crps(lengths: &[RecordedLength]) -> Option<f64> {
    let mut cells: Vec<Vec<&RecordedLength>> = vec![Vec::new(); CELLS];
    for one in lengths {
        let cell = usize::from(one.month.saturating_sub(1)) * 24 + usize::from(one.hour);
        if let Some(cell) = cells.get_mut(cell) {
            cell.push(one);
        }
    }
    let (mut sum, mut count) = (0.0, 0_usize);
    for mut cell in cells {
        cell.sort_by(|a, b| a.length_nt.total_cmp(&b.length_nt));
        let mut years: Vec<i16> =
            cell.iter().filter(|one| one.scored).map(|one| one.year).collect();
        years.sort_unstable();
        years.dedup();
        for year in years {
            let mut table: Vec<f64> =
                cell.iter().filter(|one| one.year != year).map(|one| one.length_nt).collect();
            let apart = if table.is_empty() {
                table = cell.iter().map(|one| one.length_nt).collect();
                let entries = table.len() as f64;
                // The score of the table as it stands: its own hour is in it.
                mean_difference(&table) * (entries - 1.0) / entries
            } else {
                mean_difference(&table)
            };
            let sums = Sums::of(&table);
            for one in cell.iter().filter(|one| one.scored && one.year == year) {
                sum += sums.mean_distance(&table, one.length_nt) - 0.5 * apart;
                count += 1;
            }
        }
    }
    (count > 0).then(|| sum / count as f64)
}

/// Sums of the first so many of sorted values.
struct Sums(Vec<f64>);

impl Sums {
    fn of(sorted: &[f64]) -> Self {
        let mut sums = Vec::with_capacity(sorted.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for value in sorted {
            sum += value;
            sums.push(sum);
        }
        Self(sums)
    }

    /// The mean distance of the sorted values from `from`.
    fn mean_distance(&self, sorted: &[f64], from: f64) -> f64 {
        let below = sorted.partition_point(|value| *value <= from);
        let (count, at) = (sorted.len() as f64, below as f64);
        let total = self.0.last().copied().unwrap_or(0.0);
        let under = self.0.get(below).copied().unwrap_or(total);
        (from * at - under + (total - under) - from * (count - at)) / count
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verification::fair_crps;

    fn length(year: i16, hour: u8, length_nt: f64) -> RecordedLength {
        RecordedLength { year, month: 1, hour, length_nt, scored: true }
    }

    #[test]
    fn each_year_is_scored_by_the_others() {
        let lengths = [
            length(2001, 0, 3.0),
            length(2001, 0, 9.0),
            length(2002, 0, 1.0),
            length(2002, 0, 2.0),
            length(2003, 0, 7.0),
            length(2003, 5, 7.0),
            length(2004, 5, 11.0),
        ];
        let by_hand = [
            fair_crps(&[1.0, 2.0, 7.0], 3.0),
            fair_crps(&[1.0, 2.0, 7.0], 9.0),
            fair_crps(&[3.0, 7.0, 9.0], 1.0),
            fair_crps(&[3.0, 7.0, 9.0], 2.0),
            fair_crps(&[1.0, 2.0, 3.0, 9.0], 7.0),
            4.0,
            4.0,
        ];
        let mean = by_hand.iter().sum::<f64>() / 7.0;
        assert!((climate_crps(&lengths).unwrap() - mean).abs() < 1e-12);
    }

    #[test]
    fn one_year_is_scored_by_itself() {
        // Distances of 0 from 0, 4: a mean of 2; of all pairs 0 4 4 0: a mean of 2.
        let lengths = [length(2001, 0, 0.0), length(2001, 0, 4.0)];
        assert_eq!(climate_crps(&lengths), Some(2.0 - 1.0));
        assert_eq!(climate_crps(&[]), None);
        let unscored = lengths.map(|one| RecordedLength { scored: false, ..one });
        assert_eq!(climate_crps(&unscored), None);
    }
}
