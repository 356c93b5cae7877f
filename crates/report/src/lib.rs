//! Writes a ranking as tables, JSON, GeoJSON, GPX, SVG and one-file HTML.
//!
//! A writer turns a [`Report`](dipward_plugin::Report) into bytes and touches no disk; [`write_all`]
//! then puts all files of a run in place, or none. The same report gives the same bytes, but for
//! `run.json`, which holds the timings.
//!
//! [`ChartPage`] draws a chart in the same way, without a ranking.
//!
//! | kind | files |
//! |---|---|
//! | `ranking_json` | `ranking.json` |
//! | `routes_geojson` | `routes.geojson` |
//! | `gpx` | `routes/<id>.gpx` |
//! | `map_svg` | `map.svg` |
//! | `report_html` | `report.html` |
//! | `resolved_scenario` | `scenario.resolved.yaml` |
//! | `run_json` | `run.json` |
//!
//! A study of seasons has files of its own: [`season_files`]; so has a verification:
//! [`verification_files`].

mod antimeridian;
mod atomic;
mod figures;
mod geojson_routes;
mod gpx_routes;
mod groups;
mod html;
mod json;
mod map;
mod paint;
mod pilotage;
mod rhumb_legs;
mod scenario;
mod season;
mod shown;
mod table;
mod verification;
mod voyage_log;

use dipward_plugin::{DuplicateKind, Registry};

pub use atomic::{MANIFEST, write_all};
pub use geojson_routes::{RoutesGeoJson, RoutesGeoJsonSpec};
pub use gpx_routes::{GpxRoutes, GpxSpec};
pub use html::{ChartFrame, ChartLayer, ChartPage, ReportHtml, ReportHtmlSpec};
pub use json::{RankingJson, RankingJsonSpec, RunJson, RunJsonSpec};
pub use map::{MapSvg, MapSvgSpec};
pub use scenario::{ResolvedScenario, ResolvedScenarioSpec};
pub use season::{PartHead, part_bytes, read_part, season_files, season_parquet, season_summary};
pub use table::{rejected_list, table};
pub use verification::{VerificationTold, verification_files};
pub use voyage_log::{VoyageLogSpec, VoyageLogs};

/// Adds every writer of this crate to a registry.
///
/// # Errors
///
/// [`DuplicateKind`] where the registry has one of the kinds already.
pub fn register(registry: &mut Registry) -> Result<(), DuplicateKind> {
    registry
        .register::<RankingJsonSpec>()?
        .register::<RoutesGeoJsonSpec>()?
        .register::<GpxSpec>()?
        .register::<MapSvgSpec>()?
        .register::<ReportHtmlSpec>()?
        .register::<ResolvedScenarioSpec>()?
        .register::<RunJsonSpec>()?
        .register::<VoyageLogSpec>()?;
    Ok(())
}
