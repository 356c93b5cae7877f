//! Instants of a layer, and what it shows at each.

use dipward_plugin::{Beyond, BuildContext, Change, Fault, Faults};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How values change from one instant to the next.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangeRule {
    /// What is charted holds until the next chart.
    #[default]
    Step,
    /// Linearly.
    Linear,
}

impl From<ChangeRule> for Change {
    fn from(rule: ChangeRule) -> Self {
        match rule {
            ChangeRule::Step => Self::Step,
            ChangeRule::Linear => Self::Linear,
        }
    }
}

/// What holds before the first instant and after the last.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BeyondRule {
    /// The nearest instant's values.
    #[default]
    Hold,
    /// Nothing: the cells are not covered then.
    Uncovered,
    /// The plan must not ask: an error.
    Refuse,
}

impl From<BeyondRule> for Beyond {
    fn from(rule: BeyondRule) -> Self {
        match rule {
            BeyondRule::Hold => Self::Hold,
            BeyondRule::Uncovered => Self::Uncovered,
            BeyondRule::Refuse => Self::Refuse,
        }
    }
}

/// When a layer shows which of its files.
#[derive(Debug, Clone)]
pub(super) struct Schedule {
    hours: Vec<f64>,
    /// The file of each instant; nothing where the layer covers nothing from then on.
    shows: Vec<Option<usize>>,
    /// The hour of the data of each instant, where that is not the first at which they are shown.
    data_hours: Option<Vec<f64>>,
    change: Change,
    beyond: Beyond,
}

impl Schedule {
    /// A schedule of files, each valid at an instant.
    ///
    /// # Arguments
    ///
    /// `max_age_h`: how long after its instant the last file may still be shown. Nothing is covered
    /// after that, whatever the rule for beyond the instants says.
    ///
    /// # Returns
    ///
    /// The schedule, and the order of the files in time: file `order[i]` is shown at instant `i`.
    ///
    /// # Errors
    ///
    /// A fault at the second of two files that are valid at one instant; `pointer` gives the JSON
    /// pointer of a file.
    pub(super) fn of_files(
        valid: &[Timestamp],
        rules: (ChangeRule, BeyondRule),
        max_age_h: Option<f64>,
        context: &BuildContext,
        pointer: impl Fn(usize) -> String,
    ) -> Result<Self, Faults> {
        let mut order: Vec<usize> = (0..valid.len()).collect();
        order.sort_by_key(|&file| valid.get(file).copied());
        let mut faults = Faults::default();
        for pair in order.windows(2) {
            if valid.get(pair[0]) == valid.get(pair[1]) {
                faults.push(
                    Fault::at(pointer(pair[1]), "another file is valid at this very time")
                        .help("put one of the two into a layer of its own, below this one"),
                );
            }
        }
        let mut hours: Vec<f64> = order
            .iter()
            .filter_map(|&file| valid.get(file))
            .map(|at| context.clock().hour(*at))
            .collect();
        let mut shows: Vec<Option<usize>> = order.into_iter().map(Some).collect();
        if let (Some(max_age_h), Some(&last), Some(&file)) = (max_age_h, hours.last(), shows.last())
        {
            // The last file is shown once more, so that it does not fade out linearly before its time.
            hours.extend([last + max_age_h, last + max_age_h + FADE_H]);
            shows.extend([file, None]);
        }
        let (change, beyond) = (rules.0.into(), rules.1.into());
        let beyond = match (max_age_h, beyond) {
            // After the end the last instant, which shows nothing, holds.
            (Some(_), Beyond::Refuse) => Beyond::Hold,
            (_, beyond) => beyond,
        };
        faults.into_result(Self::of_states(hours, shows, change, beyond))
    }

    /// A schedule of moments between which the state does not change; instant `i` shows state `i`.
    pub(super) fn of_moments(hours: Vec<f64>) -> Self {
        let shows = (0..hours.len()).map(Some).collect();
        Self::of_states(hours, shows, Change::Step, Beyond::Hold)
    }

    /// A schedule of moments between which the state changes linearly; instant `i` shows state `i`.
    pub(super) fn of_turns(hours: Vec<f64>) -> Self {
        Self { change: Change::Linear, ..Self::of_moments(hours) }
    }

    /// A schedule without instants: state 0 always.
    pub(super) fn always() -> Self {
        Self::of_states(Vec::new(), vec![Some(0)], Change::Step, Beyond::Hold)
    }

    /// A schedule that shows a state, or nothing, from each hour on.
    pub(super) fn of_states(
        hours: Vec<f64>,
        shows: Vec<Option<usize>>,
        change: Change,
        beyond: Beyond,
    ) -> Self {
        Self { hours, shows, data_hours: None, change, beyond }
    }

    /// The same schedule of data that are older than the instants at which they are shown.
    pub(super) fn with_data_hours(self, data_hours: Vec<f64>) -> Self {
        Self { data_hours: Some(data_hours), ..self }
    }

    /// The hour of the data that an instant shows.
    pub(super) fn data_hour(&self, instant: usize) -> Option<f64> {
        self.shows(instant)?;
        if let Some(data_hours) = &self.data_hours {
            return data_hours.get(instant).copied();
        }
        let same = |at: &usize| self.shows(*at) == self.shows(instant);
        let first = (0..instant).rev().take_while(same).last().unwrap_or(instant);
        self.hours.get(first).copied()
    }

    pub(super) fn hours(&self) -> &[f64] {
        &self.hours
    }

    pub(super) fn change(&self) -> Change {
        self.change
    }

    pub(super) fn beyond(&self) -> Beyond {
        self.beyond
    }

    /// The file that an instant shows.
    pub(super) fn shows(&self, instant: usize) -> Option<usize> {
        self.shows.get(instant).copied().flatten()
    }
}

/// How long the end of a layer takes: no time that a voyage would notice, but two instants may not
/// stand at one hour.
pub(super) const FADE_H: f64 = 1e-3;
