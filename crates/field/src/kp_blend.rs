//! Kp of a time to come by all that is known of it: what was observed lately, the return of the Sun's
//! face after 27 days, the climate, and a forecast.
//!
//! How likely each value is in a three-hour slot comes from the [`KpOutlook`] of the lead; where a
//! forecast says something, it is weighed by the chance of that forecast given the value (Bayes), its
//! error being normal. A member's path takes its ups and downs from a stretch of the history: each
//! value's rank in its own season becomes the same rank among what is likely in the slot, so that the
//! correlation in time is that of Kp and the chances of each slot are those of the outlook.

use std::sync::OnceLock;

use dipward_plugin::{BuildContext, Clock, Fault, Faults, KpSlots};
use jiff::{Timestamp, tz::Offset};
use rand::{Rng, RngExt};

use crate::{
    Kp, KpOutlook, KpPast, SLOTS_A_DAY,
    kinds::{ForecastTable, HistorySpec, OutlookSpec},
    kp_past::{instant_of, slot_of},
    kp_season::{VALUES, counts_of_season},
};

/// Leads in slots that outlooks are fitted for: a slot is told of by the next longer one. Hours, a
/// day, turns of the Sun, a year and more; beyond the last one only the climate is known.
const LEADS: [usize; 17] = [1, 2, 3, 4, 6, 8, 12, 16, 24, 40, 80, 216, 432, 864, 1728, 2920, 5840];

/// Days after the last observation in which single days are told apart.
const DAYS_TOLD: usize = 3;

/// Fitted to the whole history when first asked for.
static OUTLOOKS: [OnceLock<KpOutlook>; LEADS.len() + 1] =
    [const { OnceLock::new() }; LEADS.len() + 1];

fn outlook(lead_slots: usize) -> &'static KpOutlook {
    let at = LEADS.partition_point(|lead| *lead < lead_slots);
    let past = KpPast::embedded();
    OUTLOOKS[at].get_or_init(|| match LEADS.get(at) {
        Some(lead) => KpOutlook::fit(past, 0..past.len(), *lead),
        None => KpOutlook::of_climate(past, 0..past.len()),
    })
}

/// What is known of Kp.
#[derive(Debug)]
pub(crate) struct KpBlend {
    /// The file of later observations; the history alone where there is none.
    observed: Option<KpPast>,
    forecast: Option<ForecastTable>,
    told: String,
}

impl KpBlend {
    /// Reads what the keys name; `pointer` is where they stand.
    pub(crate) fn of(
        keys: &OutlookSpec,
        context: &BuildContext,
        pointer: &str,
    ) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        let observed = keys.observed.as_ref().map(|file| {
            let bytes = context.read(file).map_err(|error| error.to_string())?;
            KpPast::with_observed(&bytes).map_err(|error| format!("{}: {error}", file.display()))
        });
        let observed = observed.transpose().unwrap_or_else(|message| {
            faults.push(Fault::at(format!("{pointer}/observed"), message));
            None
        });
        if let Some(forecast) = &keys.forecast {
            faults.extend(forecast.faults(&format!("{pointer}/forecast")));
        }
        let blend = Self { observed, forecast: keys.forecast.clone(), told: keys.told() };
        faults.into_result(blend)
    }

    /// The blend of the history that the library carries alone.
    pub(crate) fn of_history() -> Self {
        let told = OutlookSpec::default().told();
        Self { observed: None, forecast: None, told }
    }

    /// When what is known of single days ends: three days after the last observation, where the memory
    /// of Kp has fallen below a fifth, or with the forecast.
    pub(crate) fn days_known_until(&self) -> Option<Timestamp> {
        let past = self.past();
        let end = instant_of(past.len() + DAYS_TOLD * SLOTS_A_DAY);
        end.into_iter().chain(self.forecast.as_ref().and_then(ForecastTable::ends)).max()
    }

    fn past(&self) -> &KpPast {
        self.observed.as_ref().unwrap_or_else(|| KpPast::embedded())
    }

    /// How likely each Kp, in thirds, is in the three hours about an instant.
    pub(crate) fn chances(&self, instant: Timestamp) -> [f64; VALUES] {
        let past = self.past();
        let slot = slot_of(instant).unwrap_or(0);
        if let Some(kp) = past.get(slot) {
            return certain(kp);
        }
        let lead = (slot + 1).saturating_sub(past.len()).max(1);
        let chances = outlook(lead).chances(past, slot);
        match self.forecast.as_ref().and_then(|table| table.at(instant)) {
            Some((forecast, sigma)) => weighed(chances, forecast, sigma),
            None => chances,
        }
    }

    /// A member's Kp over slots.
    pub(crate) fn draw(
        &self,
        clock: Clock,
        slots: KpSlots,
        history: &mut impl Rng,
        within: &mut impl Rng,
    ) -> Vec<Kp> {
        let mut values = HistorySpec::default().bootstrap().draw(clock, slots, history);
        for (slot, kp) in values.iter_mut().enumerate() {
            let instant = clock.instant(slots.middle_h(slot));
            let season = counts_of_season(Offset::UTC.to_datetime(instant).date());
            let thirds = usize::from(kp.thirds());
            let below: f64 = season.iter().take(thirds).sum();
            let equal = season.get(thirds).copied().unwrap_or(0.0);
            let total: f64 = season.iter().sum();
            // Values are thirds: where in its own third a value lies is drawn.
            let rank = (below + within.random::<f64>() * equal) / total.max(1.0);
            *kp = at_rank(&self.chances(instant), rank);
        }
        values
    }

    /// What is taken for granted, in a sentence.
    pub(crate) fn told(&self) -> &str {
        &self.told
    }
}

/// The chances after a forecast whose error is normal.
fn weighed(mut chances: [f64; VALUES], forecast: f64, sigma: f64) -> [f64; VALUES] {
    for (thirds, chance) in (0_u8..).zip(&mut chances) {
        let off = (forecast - f64::from(thirds) / 3.0) / sigma;
        *chance *= (-0.5 * off * off).exp();
    }
    let sum: f64 = chances.iter().sum();
    // A forecast without error, or one that the outlook holds to be out of the question.
    if sum.is_nan() || sum < 1e-12 {
        return certain(Kp::nearest(forecast));
    }
    chances.map(|chance| chance / sum)
}

fn certain(kp: Kp) -> [f64; VALUES] {
    let mut chances = [0.0; VALUES];
    if let Some(chance) = chances.get_mut(usize::from(kp.thirds())) {
        *chance = 1.0;
    }
    chances
}

/// The least Kp up to which the chances add up to more than a rank.
fn at_rank(chances: &[f64; VALUES], rank: f64) -> Kp {
    let mut sum = 0.0;
    let mut last = Kp::default();
    for (thirds, chance) in (0_u8..).zip(chances) {
        sum += chance;
        if *chance > 0.0 {
            last = Kp::from_thirds(thirds).unwrap_or(Kp::GREATEST);
            if sum > rank {
                break;
            }
        }
    }
    last
}

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use dipward_geodesy::Hemisphere;
    use jiff::{Timestamp, ToSpan};
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;
    use crate::{
        KpHistory, SLOTS_A_DAY, documented,
        streams::{Draw, stream},
    };

    const START: &str = "2026-12-10T00:00Z";

    fn blend(observed: &str, forecast: Option<&str>) -> KpBlend {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("kp.csv"), observed).unwrap();
        let clock = Clock::new(START.parse().unwrap());
        let context = BuildContext::new(folder.path(), Hemisphere::North, clock, 720.0);
        let keys = OutlookSpec {
            observed: Some("kp.csv".into()),
            forecast: forecast.map(|text| serde_json::from_str(text).unwrap()),
        };
        KpBlend::of(&keys, &context, "/outlook").unwrap()
    }

    /// Kp of all slots of the 40 days before the start: quiet, but for a storm on the day that comes
    /// back on 11 December after 27 days.
    fn quiet_but_for_one_day() -> String {
        let start: Timestamp = START.parse().unwrap();
        (0..40 * 8).fold("time,kp\n".to_owned(), |mut text, slot| {
            let time = start - (40 * 24 - 3 * slot).hours();
            let kp = if (25 * 8..26 * 8).contains(&(40 * 8 - slot)) { 6.0 } else { 0.67 };
            writeln!(text, "{time},{kp}").unwrap();
            text
        })
    }

    fn members(blend: &KpBlend, days: u32, count: u32) -> Vec<Vec<Kp>> {
        let clock = Clock::new(START.parse().unwrap());
        let hours: Vec<f64> = (0..24 * days).map(f64::from).collect();
        let slots = KpSlots::covering(clock, &hours).unwrap();
        (0..count)
            .map(|member| {
                let mut history = stream(5, member, Draw::Activity);
                let mut within = stream(5, member, Draw::ForecastError);
                blend.draw(clock, slots, &mut history, &mut within)
            })
            .collect()
    }

    #[test]
    fn members_have_the_chances_of_the_outlook_and_the_memory_of_kp() {
        let forecast = r#"{"issued": "2026-12-09T22:00Z", "interval_h": 24,
            "table": [{"time": "2026-12-10T00:00Z", "kp": 3.33}], "error": [{"lead_h": 24, "sigma_kp": 0.7}]}"#;
        let blend = blend(&quiet_but_for_one_day(), Some(forecast));
        let clock = Clock::new(START.parse().unwrap());
        let all = members(&blend, 5, 6000);
        // The first slot of all is that before the start, which is observed.
        assert!(all.iter().all(|member| member[0] == Kp::nearest(0.67)));
        // Day by day: the hours of universal time differ in the history, by 5 in 100 at most, and
        // ranks keep that.
        for day in 0..5 {
            let slots = 1 + 8 * day..9 + 8 * day;
            for least in [2.0, 4.0] {
                let kp = Kp::nearest(least);
                let [mut said, mut drawn] = [0.0; 2];
                for slot in slots.clone() {
                    let instant = clock.instant(3.0 * (slot as f64 - 0.5));
                    let chances = blend.chances(instant);
                    said += chances[usize::from(kp.thirds())..].iter().sum::<f64>() / 8.0;
                    let above = all.iter().filter(|member| member[slot] >= kp).count();
                    drawn += above as f64 / 6000.0 / 8.0;
                }
                assert!((said - drawn).abs() < 0.015, "{day} {least}: {said:.3} {drawn:.3}");
            }
        }
        let storms =
            |slot: usize| all.iter().filter(|member| member[slot] >= Kp::nearest(4.0)).count();
        // Slot 12 is on the day of the return; slot 36 is three days later.
        assert!(storms(12) as f64 > 1.5 * storms(36) as f64, "{} {}", storms(12), storms(36));
        // Neighbours go together as Kp does.
        let pair = |a: usize, b: usize| {
            let mean = |of: &dyn Fn(&Vec<Kp>) -> f64| all.iter().map(of).sum::<f64>() / 6000.0;
            let [ma, mb] = [a, b].map(|slot| mean(&|member| member[slot].value()));
            let cov = mean(&|member| (member[a].value() - ma) * (member[b].value() - mb));
            let [va, vb] = [(a, ma), (b, mb)]
                .map(|(slot, m)| mean(&|member| (member[slot].value() - m).powi(2)));
            cov / (va * vb).sqrt()
        };
        assert!((pair(30, 31) - 0.78).abs() < 0.08, "{}", pair(30, 31));
        assert!(pair(30, 31) > pair(30, 34) + 0.1);
    }

    #[test]
    fn far_ahead_there_is_the_climate_alone_and_a_forecast_without_error_holds() {
        let clock = Clock::new("2040-01-01T00:00Z".parse().unwrap());
        let keys = OutlookSpec {
            observed: None,
            forecast: Some(
                serde_json::from_str(
                    r#"{"issued": "2040-01-01T00:00Z", "table": [{"time": "2040-01-01T00:00Z", "kp": 7}],
                        "error": [{"lead_h": 0, "sigma_kp": 0}]}"#,
                )
                .unwrap(),
            ),
        };
        let context = BuildContext::new(".", Hemisphere::North, clock, 100.0);
        let blend = KpBlend::of(&keys, &context, "").unwrap();
        assert_eq!(blend.chances(clock.instant(1.0)), certain(Kp::nearest(7.0)));
        let past = KpPast::embedded();
        let slot = slot_of(clock.instant(5.0)).unwrap();
        let climate = KpOutlook::of_climate(past, 0..past.len()).chances(past, slot);
        assert_eq!(blend.chances(clock.instant(5.0)), climate);
        assert!((climate.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn faults_name_their_keys() {
        let clock = Clock::new(START.parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::North, clock, 100.0);
        let keys: OutlookSpec = serde_json::from_str(
            r#"{"observed": "nowhere.csv", "forecast": {"issued": "2027-01-01T00:00Z",
                "table": [{"time": "2027-01-02T00:00Z", "kp": 1}, {"time": "2027-01-01T00:00Z", "kp": 1}]}}"#,
        )
        .unwrap();
        let faults = KpBlend::of(&keys, &context, "/outlook").unwrap_err();
        let pointers: Vec<&str> = faults.as_slice().iter().map(Fault::pointer).collect();
        assert_eq!(pointers, ["/outlook/observed", "/outlook/forecast/table/1/time"]);
    }

    /// Forecasts are made up: what came, and a normal error of the stated size.
    #[test]
    fn chances_with_a_forecast_come_true_as_often_as_they_say() {
        let past = KpPast::embedded();
        let history = KpHistory::embedded();
        let border = history.index_of(jiff::civil::date(2001, 1, 1)).unwrap() * SLOTS_A_DAY;
        let event = Kp::nearest(4.0);
        let outlook = KpOutlook::fit(past, 0..border, 8);
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let mut text = String::from(
            "| sigma of the forecast, Kp | Brier score | without forecast | forecast alone | said, % | \
             happened, % | slots |\n|---|---|---|---|---|---|---|\n",
        );
        for sigma in [0.7, 1.2] {
            let [mut own, mut without, mut alone] = [0.0; 3];
            let mut table = [[0.0; 3]; 5];
            for slot in border..past.len() {
                let kp = past.get(slot).unwrap();
                let happened = f64::from(u8::from(kp >= event));
                let draw: f64 = StandardNormal.sample(&mut rng);
                let forecast = kp.value() + sigma * draw;
                let before = outlook.chances(past, slot);
                let above = |chances: [f64; VALUES]| -> f64 { chances[12..].iter().sum() };
                let chance = above(weighed(before, forecast, sigma));
                own += (chance - happened).powi(2);
                without += (above(before) - happened).powi(2);
                alone += (f64::from(u8::from(forecast >= 4.0)) - happened).powi(2);
                let row = &mut table[((chance * 5.0) as usize).min(4)];
                *row = [row[0] + chance, row[1] + happened, row[2] + 1.0];
            }
            let count = (past.len() - border) as f64;
            let scores = [own, without, alone].map(|sum| sum / count);
            assert!(scores[0] < 0.8 * scores[1] && scores[0] < scores[2], "{scores:?}");
            for [said, happened, count] in table {
                let [said, happened] = [said, happened].map(|sum| 100.0 * sum / count);
                writeln!(
                    text,
                    "| {sigma} | {:.4} | {:.4} | {:.4} | {said:.1} | {happened:.1} | {count} |",
                    scores[0], scores[1], scores[2]
                )
                .unwrap();
                let chance = 100.0 * (said / 100.0 * (1.0 - said / 100.0) / count).sqrt();
                assert!((said - happened).abs() < 4.0 + 5.0 * chance, "{text}");
            }
        }
        print!("{text}");
        documented::table("forecast", &text);
    }
}
