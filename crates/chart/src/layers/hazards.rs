//! `hazards`: bergs, rocks, crevasses: points and lines with a berth, from CSV or GeoJSON.

mod berg;

use std::{ops::Range, path::PathBuf};

use dipward_geodesy::{Cell, Grid, Position, distance_km, points_along};
use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Fault, Faults, Ground, Laid, Layer, LayerPoint,
    Provenance, Quantity, Spec,
};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use self::berg::{BergBerth, CHARTED_BERTHS};
use super::scheduled::{Scheduled, Show};
use crate::vector::{Track, read_tracks};

/// Points and lines that keep a berth about them.
///
/// A file is CSV with the columns `latitude_deg`, `longitude_deg` and, if the berths differ,
/// `radius_km`; or GeoJSON of points and lines with the property `radius_km`. The parts of a line are
/// geodesics. A cell is within the berth when any part of it may be.
///
/// With `within: bergs` they are points that a ship passes at a distance by their length and by the view
/// that she has: the file has the column or property `length_m`, or the layer states one for all that
/// have none. The berth in a good view is three lengths from the berg's edge, 0.5 to 1 nautical mile
/// (from memory); `radius_km` states another, from the position on. How near a ship goes, the ship says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HazardsSpec {
    /// The file; `.csv`, or else GeoJSON.
    file: PathBuf,
    /// What holds within the berth.
    #[serde(default)]
    within: Within,
    /// The berth of what states none of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1000.0), extend("exclusiveMinimum" = 0))]
    radius_km: Option<f64>,
    /// The length of bergs that state none, the greatest there may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 500_000.0), extend("exclusiveMinimum" = 0))]
    length_m: Option<f64>,
}

/// What holds within a hazard's berth.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Within {
    /// No traffic.
    #[default]
    Closed,
    /// A greatest speed, in knots.
    SpeedLimitKn(f32),
    /// Crevasses.
    Crevasses,
    /// Bergs, which a ship passes by the view that she has.
    Bergs,
}

impl Within {
    fn quantity_and_value(self) -> (Quantity, f32) {
        match self {
            Self::Closed => (Quantity::CLOSED, 1.0),
            Self::SpeedLimitKn(limit_kn) => (Quantity::SPEED_LIMIT, limit_kn),
            Self::Crevasses => (Quantity::CREVASSES, 1.0),
            // Each cell has its own.
            Self::Bergs => (Quantity::BERG_DISTANCE, 0.0),
        }
    }
}

impl Spec for HazardsSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "hazards";
    const SUMMARY: &'static str =
        "bergs, rocks or crevasses: points and lines with a berth, from CSV or GeoJSON";
    const EXAMPLE: &'static str =
        "{kind: hazards, file: bergs.csv, within: {speed_limit_kn: 6}, radius_km: 5}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        if let Within::SpeedLimitKn(limit_kn) = self.within
            && !(limit_kn > 0.0 && limit_kn <= 100.0)
        {
            faults.push(Fault::at("/within/speed_limit_kn", "a number above 0 is wanted"));
        }
        let mut hazards = Vec::new();
        match read_tracks(&self.file, context) {
            Ok(tracks) => {
                for track in tracks {
                    match self.berth(&track) {
                        Ok(berth) => hazards.push(Hazard { track, berth }),
                        Err(fault) => faults.push(fault),
                    }
                }
            }
            Err(error) => faults.push(Fault::at("/file", error.to_string())),
        }
        let layer = Hazards { file: self.file, within: self.within, hazards };
        faults.into_result(Box::new(layer) as Box<dyn Layer>)
    }
}

impl HazardsSpec {
    fn berth(&self, track: &Track) -> Result<Berth, Fault> {
        let fault = |what: &str, remedy: &str| {
            let place = format!("{}: {}: {what}", self.file.display(), track.label);
            Fault::at("/file", place).help(remedy)
        };
        let radius_km = track.radius_km.or(self.radius_km);
        if self.within != Within::Bergs {
            return radius_km.map(Berth::Radius).ok_or_else(|| {
                fault("has no `radius_km`", "state `radius_km` in the layer for all that have none")
            });
        }
        if track.positions.len() > 1 {
            return Err(fault("is a line, and a berg is a point", "leave out `within: bergs`"));
        }
        // What the file says of a berg goes before what the layer says of all.
        track
            .radius_km
            .map(BergBerth::stated)
            .or_else(|| track.length_m.or(self.length_m).map(BergBerth::of_length))
            .or_else(|| self.radius_km.map(BergBerth::stated))
            .map(Berth::Berg)
            .ok_or_else(|| {
                fault(
                    "has no `length_m`",
                    "state `length_m` in the layer, the greatest that such a berg may have",
                )
            })
    }
}

#[derive(Debug)]
struct Hazard {
    track: Track,
    berth: Berth,
}

#[derive(Debug, Clone, Copy)]
enum Berth {
    /// So many kilometres from the track.
    Radius(f64),
    /// By the berg's length.
    Berg(BergBerth),
}

impl Berth {
    fn reach_km(self) -> f64 {
        match self {
            Self::Radius(radius_km) => radius_km,
            Self::Berg(berg) => berg.reach_km(),
        }
    }
}

#[derive(Debug)]
struct Hazards {
    file: PathBuf,
    within: Within,
    hazards: Vec<Hazard>,
}

impl Layer for Hazards {
    fn quantities(&self) -> Vec<Quantity> {
        vec![self.within.quantity_and_value().0]
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: "hazards with a berth".to_owned(),
            source: self.file.to_string_lossy().into_owned(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        if self.within != Within::Bergs {
            return Vec::new();
        }
        vec![Assumption::new(
            "chart",
            "bergs lie where their file has them for all the window; the berth of a berg in a good view \
             is three lengths from its edge, 0.5 to 1 nautical mile, where none is stated (from memory)",
        )]
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        let (_, value) = self.within.quantity_and_value();
        let cells: Vec<Result<Vec<(Cell, f32)>, Error>> = self
            .hazards
            .par_iter()
            .map(|hazard| {
                control.check()?;
                let cells = hazard.cells(ground.grid).into_iter();
                Ok(cells.map(|cell| (cell, hazard.value(cell, ground.grid, value))).collect())
            })
            .collect();
        let mut all = Vec::new();
        for (cells, hazard) in cells.into_iter().zip(&self.hazards) {
            let cells = cells?;
            if cells.is_empty() {
                return Err(Error::File {
                    path: self.file.clone(),
                    message: format!("{}: covers no cell of the grid", hazard.track.label),
                });
            }
            all.extend(cells);
        }
        // The nearest berg of a cell first, which is the one that stays.
        all.sort_unstable_by(|(cell, value), (other, than)| {
            cell.cmp(other).then(value.total_cmp(than))
        });
        all.dedup_by_key(|(cell, _)| *cell);
        Ok(Box::new(Scheduled::always(LaidHazards { cells: all })))
    }
}

impl Hazard {
    /// What a cell within reach has: of a berg the distance, by the cell's nearest corner.
    fn value(&self, cell: Cell, grid: &Grid, value: f32) -> f32 {
        let Berth::Berg(berg) = self.berth else { return value };
        let (Some(centre), Some(place)) = (grid.centre(cell), self.track.positions.first()) else {
            return value;
        };
        let nearest_km = distance_km(*place, centre) - half_diagonal_km(grid, centre);
        berg.berths(nearest_km).min(CHARTED_BERTHS) as f32
    }

    /// The cells that may hold a place within the berth.
    fn cells(&self, grid: &Grid) -> Vec<Cell> {
        let mut cells = Vec::new();
        // Close enough together that the discs about them make a band.
        let spacing_km = (self.berth.reach_km() / 2.0).max(grid.cell_km() / 2.0);
        let mut places: Vec<Position> = Vec::new();
        for leg in self.track.positions.windows(2) {
            places.extend(points_along(leg[0], leg[1], spacing_km));
        }
        if places.is_empty() {
            places.extend(self.track.positions.first());
        }
        for place in places {
            self.cells_about(place, spacing_km / 2.0, grid, &mut cells);
        }
        cells.sort_unstable();
        cells.dedup();
        cells
    }

    fn cells_about(&self, place: Position, slack_km: f64, grid: &Grid, cells: &mut Vec<Cell>) {
        let on_map = grid.coord(place);
        let scale = grid.projection().point_scale(place);
        let single = self.track.positions.len() < 2;
        let reach_km = self.berth.reach_km() + if single { 0.0 } else { slack_km };
        // The scale changes little over a berth; half as much again is ample.
        let reach_m = 1000.0 * (1.5 * reach_km * scale.max(1.0) + grid.cell_km());
        if !(on_map.x.is_finite() && on_map.y.is_finite() && reach_m.is_finite()) {
            return;
        }
        let bounds = grid.bounds().min();
        let index = |metres: f64, start: f64, count: u32| {
            ((metres - start) / grid.cell_m()).floor().clamp(0.0, f64::from(count)) as u32
        };
        let columns = index(on_map.x - reach_m, bounds.x, grid.columns())
            ..(index(on_map.x + reach_m, bounds.x, grid.columns()) + 1).min(grid.columns());
        let rows = index(on_map.y - reach_m, bounds.y, grid.rows())
            ..(index(on_map.y + reach_m, bounds.y, grid.rows()) + 1).min(grid.rows());
        for row in rows {
            for cell in columns.clone().filter_map(|column| grid.cell(row, column)) {
                let Some(centre) = grid.centre(cell) else { continue };
                if distance_km(place, centre) <= reach_km + half_diagonal_km(grid, centre) {
                    cells.push(cell);
                }
            }
        }
    }
}

fn half_diagonal_km(grid: &Grid, centre: Position) -> f64 {
    grid.cell_km() * std::f64::consts::FRAC_1_SQRT_2 / grid.projection().point_scale(centre)
}

/// Memory: 8 bytes a cell within a berth.
#[derive(Debug)]
struct LaidHazards {
    cells: Vec<(Cell, f32)>,
}

impl Show for LaidHazards {
    /// Elsewhere it leaves "not covered", so that layers below may have hazards too.
    fn show(&self, _: usize, _: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let first = self.cells.partition_point(|(cell, _)| *cell < cells.start);
        let within = self.cells.iter().skip(first).take_while(|(cell, _)| *cell < cells.end);
        for (cell, value) in within {
            if let Some(out) = out.get_mut((cell - cells.start) as usize) {
                *out = *value;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use proptest::prelude::*;

    use super::super::workbench::{build, chart, check_contract, fault, grid};
    use super::*;

    const BERGS: &str =
        "name,latitude_deg,longitude_deg,radius_km\nA23,-64.0,136.0,25\nB9,-65.5,133.0,\n";

    #[test]
    fn the_kind_keeps_its_contract() {
        check_contract::<HazardsSpec>(&[("bergs.csv", BERGS.as_bytes())]);
    }

    fn closed(layer: &dyn Layer) -> Vec<Position> {
        let laid = chart(layer).unwrap();
        let values = laid.values(0, Quantity::CLOSED, &Control::default()).unwrap();
        let cells = values.iter().enumerate().filter(|(_, value)| **value == 1.0);
        cells.map(|(cell, _)| grid().centre(cell as u32).unwrap()).collect()
    }

    #[test]
    fn every_cell_within_a_berth_is_taken_and_few_beyond() {
        let yaml = "file: b.csv\nradius_km: 5";
        let layer = build::<HazardsSpec>(yaml, &[("b.csv", BERGS.as_bytes())]).unwrap();
        let taken = closed(layer.as_ref());
        for cell in 0..grid().len() as u32 {
            let centre = grid().centre(cell).unwrap();
            let off = |latitude, longitude, berth: f64| {
                distance_km(position(latitude, longitude), centre) - berth
            };
            let off_km = off(-64.0, 136.0, 25.0).min(off(-65.5, 133.0, 5.0));
            if off_km <= 0.0 {
                assert!(taken.contains(&centre), "{centre:?}");
            }
            if off_km > 7.2 {
                assert!(!taken.contains(&centre), "{centre:?}");
            }
        }
    }

    #[test]
    fn bergs_have_a_distance_by_their_length() {
        let bergs = "latitude_deg,longitude_deg,length_m,radius_km\n\
            -64.0,136.0,30000,\n-64.0,136.4,50,\n-65.5,133.0,,30\n-63.0,133.0,,\n";
        let yaml = "file: b.csv\nwithin: bergs\nlength_m: 200";
        let layer = build::<HazardsSpec>(yaml, &[("b.csv", bergs.as_bytes())]).unwrap();
        let laid = chart(layer.as_ref()).unwrap();
        let values = laid.values(0, Quantity::BERG_DISTANCE, &Control::default()).unwrap();
        let mut near = 0;
        for (cell, value) in values.iter().enumerate() {
            let centre = grid().centre(cell as u32).unwrap();
            let corner_km = half_diagonal_km(&grid(), centre);
            let berths = |latitude, longitude, half_km: f64, berth_km: f64| {
                let off_km = distance_km(position(latitude, longitude), centre) - corner_km;
                ((off_km - half_km) / berth_km).max(0.0)
            };
            let wanted = berths(-64.0, 136.0, 15.0, 1.852)
                .min(berths(-64.0, 136.4, 0.025, 0.926))
                .min(berths(-65.5, 133.0, 0.0, 30.0))
                .min(berths(-63.0, 133.0, 0.1, 0.926));
            if wanted < CHARTED_BERTHS {
                near += 1;
                assert!((f64::from(*value) - wanted).abs() < 1e-3, "{value} {wanted}");
            } else {
                assert!(value.is_nan() || *value >= 3.999, "{value} {wanted}");
            }
        }
        assert!(near > 300);
        assert!(layer.assumptions()[0].text.contains("three lengths"));
        let files: [(&str, &[u8]); 1] = [("b.csv", bergs.as_bytes())];
        let message = fault::<HazardsSpec>("file: b.csv\nwithin: bergs", &files);
        assert!(message.contains("line 5: has no `length_m`"), "{message}");
        let line = r#"{"type":"Feature","properties":{"length_m":12},"geometry":
            {"type":"LineString","coordinates":[[133,-64],[139,-64.5]]}}"#;
        let files: [(&str, &[u8]); 1] = [("b.geojson", line.as_bytes())];
        let message = fault::<HazardsSpec>("file: b.geojson\nwithin: bergs", &files);
        assert!(message.contains("a berg is a point"), "{message}");
    }

    #[test]
    fn lines_are_bands() {
        let line = r#"{"type":"Feature","properties":{"radius_km":12},"geometry":
            {"type":"LineString","coordinates":[[133,-64],[139,-64.5]]}}"#;
        let layer =
            build::<HazardsSpec>("file: b.geojson", &[("b.geojson", line.as_bytes())]).unwrap();
        let taken = closed(layer.as_ref());
        let along = points_along(position(-64.0, 133.0), position(-64.5, 139.0), 1.0);
        for cell in 0..grid().len() as u32 {
            let centre = grid().centre(cell).unwrap();
            let off_km =
                along.iter().map(|place| distance_km(*place, centre)).fold(f64::INFINITY, f64::min);
            if off_km <= 12.0 {
                assert!(taken.contains(&centre), "{off_km}");
            }
            if off_km > 12.0 + 7.2 + 3.1 {
                assert!(!taken.contains(&centre), "{off_km}");
            }
        }
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line() {
        for (text, word) in [
            ("latitude_deg,longitude_deg\n-64,136\n", "line 2: has no `radius_km`"),
            ("y,x\n-64,136\n", "has no column `latitude_deg`"),
            ("latitude_deg,longitude_deg,radius_km\n-64,x,5\n", "line 2: `longitude_deg` is `x`"),
            ("latitude_deg,longitude_deg,radius_km\n-94,136,5\n", "line 2"),
            ("latitude_deg,longitude_deg,radius_km\n-64,136,-5\n", "line 2"),
            ("latitude_deg,longitude_deg,radius_km\n", "no rows"),
        ] {
            let message = fault::<HazardsSpec>("file: b.csv", &[("b.csv", text.as_bytes())]);
            assert!(message.contains(word), "{message}");
        }
        let far = "latitude_deg,longitude_deg,radius_km\n-64,10,5\n";
        let layer = build::<HazardsSpec>("file: b.csv", &[("b.csv", far.as_bytes())]).unwrap();
        assert!(chart(layer.as_ref()).unwrap_err().to_string().contains("line 2: covers no cell"));
    }

    proptest! {
        #[test]
        fn mutated_files_do_not_panic(place in 0usize..90, byte: u8) {
            let mut bytes = BERGS.as_bytes().to_vec();
            let place = place % bytes.len();
            bytes[place] = byte;
            if let Ok(layer) = build::<HazardsSpec>("file: b.csv\nradius_km: 5", &[("b.csv", &bytes)]) {
                let _ = chart(layer.as_ref());
            }
        }
    }
}
