use dipward_geodesy::Position;
use jiff::Timestamp;

/// The horizontal perturbation that one station recorded: means over equal intervals, without a gap in
/// time; an interval that was not recorded holds NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct StationRecord {
    /// What the record is called: the station's code, or the file's name.
    pub name: String,
    /// Where the station stands.
    pub place: Position,
    /// The start of the first interval, UTC.
    pub start: Timestamp,
    /// Length of an interval, hours: 1, or a whole part of it (1/60 for minutes).
    pub cadence_h: f64,
    /// For each interval the mean of the horizontal field less its quiet level, toward true north and
    /// east, nT.
    pub perturbation_nt: Vec<[f32; 2]>,
    /// What was done to get there and what is in doubt, in sentences for a report: the one quiet level of
    /// a record without two winters, for instance.
    pub remarks: Vec<String>,
}

impl StationRecord {
    /// The start of an interval.
    #[must_use]
    pub fn instant(&self, index: usize) -> Timestamp {
        let milliseconds = (index as f64 * self.cadence_h * 3_600_000.0).round() as i64;
        let from = self.start.as_millisecond();
        // Records end long before the end of time.
        Timestamp::from_millisecond(from.saturating_add(milliseconds)).unwrap_or(Timestamp::MAX)
    }

    /// How many intervals were recorded.
    #[must_use]
    pub fn recorded(&self) -> usize {
        self.perturbation_nt.iter().filter(|nt| nt.iter().all(|part| part.is_finite())).count()
    }
}
