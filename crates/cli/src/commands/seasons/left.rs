//! An honest estimate of the time left.

use std::time::{Duration, Instant};

/// Estimates the time left from the mean times that worlds and cases have taken so far: a world comes
/// before its cases and takes as long as many of them.
#[derive(Debug)]
pub(super) struct TimeLeft {
    since: Instant,
    worlds: Pace,
    cases: Pace,
}

#[derive(Debug, Default)]
struct Pace {
    left: u64,
    done: u64,
    took: Duration,
}

impl Pace {
    fn step(&mut self, count: u64, took: Duration) {
        self.left = self.left.saturating_sub(count);
        self.done += count;
        self.took += took;
    }

    /// Seconds for what is left; nothing where there is no experience.
    fn left_s(&self) -> Option<f64> {
        match (self.left, self.done) {
            (0, _) => Some(0.0),
            (_, 0) => None,
            (left, done) => Some(self.took.as_secs_f64() / done as f64 * left as f64),
        }
    }
}

impl TimeLeft {
    pub(super) fn new(worlds: u64, cases: u64) -> Self {
        let pace = |left| Pace { left, ..Pace::default() };
        Self { since: Instant::now(), worlds: pace(worlds), cases: pace(cases) }
    }

    /// A world is made.
    pub(super) fn world(&mut self) {
        let took = self.lap();
        self.worlds.step(1, took);
    }

    /// Cases are evaluated.
    pub(super) fn cases(&mut self, count: u64) {
        let took = self.lap();
        self.cases.step(count, took);
    }

    /// Cases need not be evaluated.
    pub(super) fn kept(&mut self, count: u64) {
        self.cases.left = self.cases.left.saturating_sub(count);
    }

    pub(super) fn cases_left(&self) -> u64 {
        self.cases.left
    }

    /// In words; nothing before there is any experience.
    pub(super) fn told(&self) -> Option<String> {
        Some(in_words(self.worlds.left_s()? + self.cases.left_s()?))
    }

    fn lap(&mut self) -> Duration {
        let now = Instant::now();
        now.duration_since(std::mem::replace(&mut self.since, now))
    }
}

/// To about a tenth, for more is not known.
fn in_words(seconds: f64) -> String {
    match seconds {
        s if s < 10.0 => "a few seconds left".to_owned(),
        s if s < 90.0 => format!("about {:.0} s left", (s / 10.0).round() * 10.0),
        s if s < 5400.0 => format!("about {:.0} min left", s / 60.0),
        s if s < 36_000.0 => format!("about {:.1} h left", s / 3600.0),
        s => format!("about {:.0} h left", s / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worlds_and_cases_have_paces_of_their_own() {
        let mut left = TimeLeft::new(3, 30);
        assert_eq!(left.told(), None);
        left.worlds.step(1, Duration::from_secs(60));
        assert_eq!(left.told(), None, "no case has been seen");
        left.cases.step(5, Duration::from_secs(10));
        // Two worlds of a minute and 25 cases of 2 s.
        assert_eq!(left.told().as_deref(), Some("about 3 min left"));
        left.kept(25);
        assert_eq!(left.cases_left(), 0);
        assert_eq!(left.told().as_deref(), Some("about 2 min left"));
        left.worlds.step(2, Duration::from_secs(1));
        assert_eq!(left.told().as_deref(), Some("a few seconds left"));
    }

    #[test]
    fn the_time_left_is_told_no_finer_than_it_is_known() {
        assert_eq!(in_words(42.0), "about 40 s left");
        assert_eq!(in_words(7_600.0), "about 2.1 h left");
        assert_eq!(in_words(72_000.0), "about 20 h left");
    }
}
