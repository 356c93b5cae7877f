//! The columns of the table of cases.

use dipward_plugin::{SeasonCase, SeasonOutcome};
use jiff::Timestamp;

/// A column: its name, with the unit, and what each case has in it.
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) kind: Kind,
    pub(super) cell: fn(&SeasonCase) -> Cell,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Whole,
    Flag,
    Text,
    Instant,
    Real,
}

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    None,
    Whole(u64),
    Flag(bool),
    Text(String),
    Instant(Timestamp),
    Real(f64),
}

impl Cell {
    /// As text; blank where there is nothing.
    pub(super) fn text(self) -> String {
        match self {
            Self::None => String::new(),
            Self::Whole(value) => value.to_string(),
            Self::Flag(value) => value.to_string(),
            Self::Text(value) => value,
            Self::Instant(value) => value.to_string(),
            Self::Real(value) => value.to_string(),
        }
    }
}

fn of_outcome(case: &SeasonCase, cell: impl Fn(&SeasonOutcome) -> Cell) -> Cell {
    case.outcome.as_ref().map_or(Cell::None, cell)
}

fn real(value: Option<f64>) -> Cell {
    value.filter(|value| value.is_finite()).map_or(Cell::None, Cell::Real)
}

macro_rules! columns {
    (
        {$($name:ident: $kind:ident = |$case:ident| $cell:expr;)*}
        outcome {$($field:ident: $field_kind:ident = |$outcome:ident| $value:expr;)*}
        {$($last:ident: $last_kind:ident = |$last_case:ident| $last_cell:expr;)*}
    ) => {
        /// All columns.
        pub(super) const COLUMNS: &[Column] = &[
            $(Column { name: stringify!($name), kind: Kind::$kind, cell: |$case| $cell },)*
            $(Column {
                name: stringify!($field),
                kind: Kind::$field_kind,
                cell: |case| of_outcome(case, |$outcome| $value),
            },)*
            $(Column { name: stringify!($last), kind: Kind::$last_kind, cell: |$last_case| $last_cell },)*
        ];
    };
}

columns! {
    {
    case: Whole = |case| Cell::Whole(case.case);
    year: Text = |case| Cell::Text(case.year.clone());
    craft: Text = |case| Cell::Text(case.craft.clone());
    port: Text = |case| Cell::Text(case.port.clone());
    day: Text = |case| Cell::Text(case.day.clone());
    policy: Text = |case| Cell::Text(case.policy.clone());
    depart: Instant = |case| Cell::Instant(case.depart);
    seed: Whole = |case| Cell::Whole(case.seed);
    feasible: Flag = |case| Cell::Flag(case.outcome.is_some());
    }
    outcome {
    sought: Text = |one| Cell::Text(one.sought.clone());
    home_to: Text = |one| Cell::Text(one.home_to.clone());
    arrive: Instant = |one| Cell::Instant(one.arrive);
    leave: Instant = |one| Cell::Instant(one.leave);
    back: Instant = |one| Cell::Instant(one.back);
    distance_km: Real = |one| real(Some(one.distance_km));
    duration_h: Real = |one| real(Some(one.duration_h));
    out_t: Real = |one| real(Some(one.out_t));
    station_t: Real = |one| real(Some(one.station_t));
    home_t: Real = |one| real(Some(one.home_t));
    margin_t: Real = |one| real(Some(one.margin_t));
    attainment: Real = |one| real(Some(one.attainment));
    attainment_low: Real = |one| real(Some(one.attainment_low));
    attainment_high: Real = |one| real(Some(one.attainment_high));
    if_holding: Real = |one| real(Some(one.if_holding));
    if_clairvoyant: Real = |one| real(Some(one.if_clairvoyant));
    expected_closest_km: Real = |one| real(Some(one.expected_closest_km));
    worst_tenth_closest_km: Real = |one| real(Some(one.worst_tenth_closest_km));
    half_attained_d: Real = |one| real(one.half_attained_d);
    minimum_rio: Real = |one| real(one.minimum_rio);
    hours_elevated: Real = |one| real(Some(one.hours_elevated));
    }
    {
    reason: Text = |case| case.reason.clone().map_or(Cell::None, Cell::Text);
    }
}
