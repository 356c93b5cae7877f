//! Plans and ranks approaches to a dip pole: scenario in, ranking out.
//!
//! ```text
//! Document -> Scenario::read -> World::make -> outward, homeward -> approaches -> order -> Report
//! ```
//!
//! # Example
//!
//! ```no_run
//! use dipward::{Scenario, plan, registry};
//! use dipward_plugin::{Control, Document};
//!
//! let text = std::fs::read_to_string("scenarios/austral-summer.yaml")?;
//! let document = Document::parse("austral-summer.yaml", &text).map_err(|failed| failed.1)?;
//! let scenario = Scenario::read(&document, "scenarios".as_ref(), &registry()?, None)?;
//! let report = plan(&scenario, &Control::default())?;
//! println!("{}", report.ranking.approaches[0].id);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod approach;
mod approach_ids;
mod charted;
mod coast_check;
mod confidence;
pub mod criteria;
mod crust;
mod groups;
mod homeward;
mod kinds;
mod land_ice;
mod model_spread;
mod on_station;
mod order;
mod outward;
mod pack;
mod picture;
mod plan;
pub mod policies;
mod proofs;
mod questions;
mod reasons;
mod replan;
mod scenario;
mod seasons;
mod stages;
mod station;
mod station_chart;
mod stay;
mod tail;
mod trade;
mod turn_back;
mod turning;
mod voyage;
mod warnings;
mod world;

pub use charted::{Charted, doubt_of};
pub use kinds::{register, registry};
pub use on_station::OnStation;
pub use order::{Parting, RankingRule, rank};
pub use plan::{PlanError, plan};
pub use reasons::reasons;
pub use replan::{
    Cause, Causes, Difference, Figures, FormerPlan, HistoryEntry, PlanIdentity, PresentPlan,
    Replan, Standing, Turning, append_to_history, read_history, replan,
};
pub use scenario::{
    ChartKeys, Departures, Order, PoleKeys, Port, RefugeKeys, Scenario, ScenarioKeys, Slot,
    StationKeys, VoyageKeys, WhenClosed, Window, combined_schema,
};
pub use seasons::{
    CasePlace, ChoiceRule, CraftVariant, Evaluated, PolicyVariant, Study, StudyFaults, StudyKeys,
    StudyYear, choices, evaluate, season_report, study_schema,
};
pub use station::{Measure, Station, chance_by_day, haunt};
pub use stay::{Stay, wilson_interval};
pub use world::{Harbour, Moves, Refuge, World};

/// The version of the program.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");
