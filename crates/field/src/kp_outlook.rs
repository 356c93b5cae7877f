//! How likely each Kp is some hours ahead, from what has been observed so far.
//!
//! What is expected is the climate of the month and the phase of the solar cycle, plus shares of how
//! much the last three hours, the last day, the same time one turn of the Sun ago, and the last year
//! were above it. The shares are fitted by least squares for each lead. The chances are then counted:
//! how often each Kp came in the past when about as much was expected.
//!
//! `docs/pole.md` has how well that does in years held out, beside climate and persistence; a test
//! computes it.

use std::ops::Range;

use crate::{Kp, KpPast, SLOTS_A_DAY, fix::Cholesky, kp_past::CLIMATES, kp_season::VALUES};

const SUN_TURN_SLOTS: usize = 27 * SLOTS_A_DAY;
const YEAR_SLOTS: usize = 365 * SLOTS_A_DAY;
const SHARES: usize = 4;
/// A class of what is expected holds at least so many cases, and is at least so wide: few enough
/// classes to count well, and great storms apart from lesser ones.
const CLASS_CASES: usize = 300;
const CLASS_WIDTH: f64 = 0.15;

/// An outlook for one lead, fitted to a part of what was observed.
#[derive(Debug, Clone)]
pub struct KpOutlook {
    lead_slots: usize,
    climate: Vec<f64>,
    shares: [f64; SHARES],
    /// Upper ends of the classes of what is expected.
    ends: Vec<f64>,
    /// How likely each Kp, in thirds, is in each class.
    chances: Vec<[f64; VALUES]>,
}

impl KpOutlook {
    /// Fits an outlook.
    ///
    /// # Arguments
    ///
    /// * `slots`: the three-hour slots, from 0, that may be learnt from.
    /// * `lead_slots`: from the last slot observed to the one that is told of; at least 1.
    #[must_use]
    pub fn fit(past: &KpPast, slots: Range<usize>, lead_slots: usize) -> Self {
        let mut outlook = Self {
            lead_slots: lead_slots.max(1),
            climate: climate(past, slots.clone()),
            shares: [0.0; SHARES],
            ends: Vec::new(),
            chances: Vec::new(),
        };
        let mut matrix = vec![0.0; SHARES * SHARES];
        let mut right = [0.0; SHARES];
        for slot in slots.clone() {
            let (Some(terms), Some(kp)) = (outlook.departures(past, slot).known(), past.get(slot))
            else {
                continue;
            };
            let above = kp.value() - outlook.climate_of(past, slot);
            for (row, a) in terms.into_iter().enumerate() {
                right[row] += a * above;
                for (column, b) in terms.into_iter().enumerate() {
                    matrix[row * SHARES + column] += a * b;
                }
            }
        }
        if let Some(factor) = Cholesky::of(SHARES, matrix) {
            for (share, fitted) in outlook.shares.iter_mut().zip(factor.solve(&right)) {
                *share = fitted;
            }
        }
        outlook.count(past, slots)
    }

    /// The outlook that knows nothing but the month and the phase of the solar cycle.
    #[must_use]
    pub fn of_climate(past: &KpPast, slots: Range<usize>) -> Self {
        let outlook = Self {
            lead_slots: 1,
            climate: climate(past, slots.clone()),
            shares: [0.0; SHARES],
            ends: Vec::new(),
            chances: Vec::new(),
        };
        outlook.count(past, slots)
    }

    /// Counts what came when about as much was expected.
    fn count(mut self, past: &KpPast, slots: Range<usize>) -> Self {
        let mut all: Vec<(f64, Kp)> = slots
            .filter(|&slot| self.departures(past, slot).known().is_some())
            .filter_map(|slot| Some((self.expected(past, slot), past.get(slot)?)))
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut rest = all.as_slice();
        while let Some((least, _)) = rest.first() {
            let wide = rest.partition_point(|(expected, _)| *expected < least + CLASS_WIDTH);
            let length = wide.max(CLASS_CASES);
            // What is left for another class must be enough for one.
            let length = if rest.len() < length + CLASS_CASES { rest.len() } else { length };
            let (class, after) = rest.split_at(length.min(rest.len()));
            let mut chances = [0.0; VALUES];
            for (_, kp) in class {
                chances[usize::from(kp.thirds()).min(VALUES - 1)] += 1.0 / class.len() as f64;
            }
            self.ends.push(class.last().map_or(f64::INFINITY, |last| last.0));
            self.chances.push(chances);
            rest = after;
        }
        self
    }

    /// The shares of the last three hours, the last day, the last turn of the Sun and the last year
    /// that were fitted.
    #[must_use]
    pub const fn shares(&self) -> [f64; SHARES] {
        self.shares
    }

    /// How likely each Kp, in thirds, is in a slot by what was known so many slots before. What is
    /// not known is taken to be as usual.
    #[must_use]
    pub fn chances(&self, past: &KpPast, slot: usize) -> [f64; VALUES] {
        let expected = self.expected(past, slot);
        let class = self.ends.partition_point(|end| *end < expected);
        let last = self.chances.len().saturating_sub(1);
        self.chances.get(class.min(last)).copied().unwrap_or([1.0 / VALUES as f64; VALUES])
    }

    /// The chance that Kp is at least `kp` in a slot.
    #[must_use]
    pub fn chance(&self, past: &KpPast, slot: usize, kp: Kp) -> f64 {
        self.chances(past, slot).iter().skip(usize::from(kp.thirds())).sum()
    }

    fn climate_of(&self, past: &KpPast, slot: usize) -> f64 {
        self.climate.get(past.climate(slot)).copied().unwrap_or(0.0)
    }

    fn expected(&self, past: &KpPast, slot: usize) -> f64 {
        let terms = self.departures(past, slot);
        let above =
            self.shares.iter().zip(terms.0).map(|(share, term)| share * term.unwrap_or(0.0));
        self.climate_of(past, slot) + above.sum::<f64>()
    }

    /// How much the last three hours, day, turn and year were above the climate of a slot.
    fn departures(&self, past: &KpPast, slot: usize) -> Departures {
        let clim = self.climate_of(past, slot);
        let until_known = |length: usize| {
            let known = (slot + 1).checked_sub(self.lead_slots)?;
            past.mean(known.checked_sub(length)?..known)
        };
        // Where the lead is longer than a turn, as many turns back as it takes.
        let turns = (self.lead_slots + 4).div_ceil(SUN_TURN_SLOTS);
        let then = slot.checked_sub(turns * SUN_TURN_SLOTS);
        let turn = then.and_then(|then| past.mean(then.checked_sub(3)?..then + 4));
        let all = [until_known(1), until_known(SLOTS_A_DAY), turn, until_known(YEAR_SLOTS)];
        Departures(all.map(|mean| Some(mean? - clim)))
    }
}

struct Departures([Option<f64>; SHARES]);

impl Departures {
    /// All of them, where all are known.
    fn known(&self) -> Option<[f64; SHARES]> {
        let [Some(now), Some(day), Some(turn), Some(year)] = self.0 else { return None };
        Some([now, day, turn, year])
    }
}

/// The mean of Kp in each climate over some slots.
fn climate(past: &KpPast, slots: Range<usize>) -> Vec<f64> {
    let (mut sums, mut numbers) = (vec![0.0; CLIMATES], vec![0.0; CLIMATES]);
    for slot in slots {
        let at = past.climate(slot);
        if let (Some(kp), Some(sum), Some(number)) =
            (past.get(slot), sums.get_mut(at), numbers.get_mut(at))
        {
            *sum += kp.value();
            *number += 1.0;
        }
    }
    let whole = sums.iter().sum::<f64>() / f64::max(numbers.iter().sum(), 1.0);
    sums.iter()
        .zip(&numbers)
        .map(|(sum, number)| if *number > 0.0 { sum / number } else { whole })
        .collect()
}

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use super::*;
    use crate::{KpHistory, documented};

    const EVENT: f64 = 4.0;

    /// Learnt from the years to 2000, tried on those from 2001.
    #[test]
    fn chances_come_true_as_often_as_they_say_in_years_held_out() {
        let past = KpPast::embedded();
        let history = KpHistory::embedded();
        let border = history.index_of(jiff::civil::date(2001, 1, 1)).unwrap() * SLOTS_A_DAY;
        let event = Kp::nearest(EVENT);
        let climate = KpOutlook::of_climate(past, 0..border);
        let mut scores = String::from(
            "| lead, h | Brier score | by climate | by persistence | by persistence made reliable |\n\
             |---|---|---|---|---|\n",
        );
        let mut reliability =
            String::from("| lead, h | said, % | happened, % | slots |\n|---|---|---|---|\n");
        for lead_slots in [1, 8, 24, 80] {
            let outlook = KpOutlook::fit(past, 0..border, lead_slots);
            let happens = |slot: usize| past.get(slot).unwrap() >= event;
            // How often the event followed upon itself and upon its absence, in the years learnt from.
            let mut followed = [[0.0; 2]; 2];
            for slot in lead_slots..border {
                let row = &mut followed[usize::from(happens(slot - lead_slots))];
                *row = [row[0] + f64::from(u8::from(happens(slot))), row[1] + 1.0];
            }
            let mut sums = [0.0; 4];
            let mut table = [[0.0; 3]; 10];
            for slot in border..past.len() {
                let happened = f64::from(u8::from(happens(slot)));
                let before = happens(slot - lead_slots);
                let chance = outlook.chance(past, slot, event);
                let [often, of] = followed[usize::from(before)];
                let said = [
                    chance,
                    climate.chance(past, slot, event),
                    f64::from(u8::from(before)),
                    often / of,
                ];
                for (sum, said) in sums.iter_mut().zip(said) {
                    *sum += (said - happened).powi(2);
                }
                let row = &mut table[((chance * 10.0) as usize).min(9)];
                *row = [row[0] + chance, row[1] + happened, row[2] + 1.0];
            }
            let lead_h = 3 * lead_slots;
            let [own, climate, persistence, reliable] =
                sums.map(|sum| sum / (past.len() - border) as f64);
            println!("{lead_h} h: shares {:.3?}", outlook.shares);
            let row = format!(
                "| {lead_h} | {own:.4} | {climate:.4} | {persistence:.4} | {reliable:.4} |\n"
            );
            print!("{row}");
            scores.push_str(&row);
            assert!(own < 0.95 * climate && own < 0.8 * persistence && own < 0.99 * reliable);
            for [said, happened, count] in table.into_iter().filter(|row| row[2] > 0.0) {
                let [said, happened] = [said, happened].map(|sum| 100.0 * sum / count);
                let row = format!("| {lead_h} | {said:.1} | {happened:.1} | {count} |\n");
                print!("{row}");
                write!(reliability, "{row}").unwrap();
                // Five standard errors besides, since slots of one storm are not independent.
                let chance = 100.0 * (said / 100.0 * (1.0 - said / 100.0) / count).sqrt();
                assert!((said - happened).abs() < 4.0 + 5.0 * chance, "{row}");
            }
        }
        documented::table("scores", &scores);
        documented::table("reliability", &reliability);
    }
}
