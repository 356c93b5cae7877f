//! The chart about the mean pole, hour by hour, as a craft on station meets it.

use dipward_field::PoleTracks;
use dipward_geodesy::{Position, direct};
use dipward_plugin::{OffsetKm, PaceTable};

use crate::station::{length, less};

/// Where a craft may lie and how fast it gets on about the mean pole.
///
/// Offsets from the mean pole of the hour are put on the chart's map by the map's scale and turn at the
/// mean pole: within a cell of 5 km as far as 150 km out.
#[derive(Debug)]
pub struct StationChart<'a> {
    table: &'a PaceTable,
    /// One for each whole hour of the window.
    hours: Vec<Here>,
    /// The least pace of any cell in each frame.
    fastest_h_per_km: Vec<f32>,
}

/// The mean pole on the map at a whole hour, in cells, and what a kilometre is there.
#[derive(Debug, Clone, Copy)]
struct Here {
    /// The frames before and after.
    frames: [usize; 2],
    /// Where they begin in the arrays, and the share of the latter.
    near: usize,
    far: usize,
    share: f64,
    column: f64,
    row: f64,
    /// Columns and rows of a kilometre to the north, and to the east.
    north: [f64; 2],
    east: [f64; 2],
}

/// Pace and burn beyond holding in a cell.
#[derive(Debug, Clone, Copy)]
struct Going {
    pace_h_per_km: f64,
    extra_t_per_h: f64,
}

/// How far short of a closed cell a way ends, in cells: where a log has the place by its degrees, it is on this side
/// too.
const SHORT_OF_A_SIDE: f64 = 0.1;

/// The sides of cells that a straight way crosses, one after the other.
struct Sides {
    /// The cell that the way is in, as column and row.
    cell: [f64; 2],
    /// Whether it leads to greater columns and rows.
    steps: [f64; 2],
    /// The share of the way at which it crosses the next side of columns and of rows.
    crossings: [f64; 2],
    /// The share of the way from one such side to the next.
    apart: [f64; 2],
}

impl Sides {
    fn new(from: [f64; 2], to: [f64; 2]) -> Self {
        let cell = from.map(f64::round);
        let way = [0, 1].map(|axis| to[axis] - from[axis]);
        let steps = way.map(f64::signum);
        // Along an axis on which it does not move it crosses none.
        let apart = way.map(|way| 1.0 / way.abs());
        let crossings = [0, 1].map(|axis| {
            let to_side = 0.5 + steps[axis] * (cell[axis] - from[axis]);
            if apart[axis].is_finite() { to_side * apart[axis] } else { f64::INFINITY }
        });
        Self { cell, steps, crossings, apart }
    }

    /// Goes on to the next cell: the share of the way at which its side is crossed.
    fn next(&mut self) -> f64 {
        let axis = usize::from(self.crossings[1] < self.crossings[0]);
        let share = self.crossings[axis];
        self.crossings[axis] += self.apart[axis];
        self.cell[axis] += self.steps[axis];
        share
    }
}

impl<'a> StationChart<'a> {
    pub(crate) fn new(tracks: &PoleTracks, table: &'a PaceTable) -> Self {
        let grid = &table.grid;
        let cells = |at: Position| {
            let (place, origin) = (grid.coord(at), grid.origin());
            [(place.x - origin.x) / grid.cell_m(), (place.y - origin.y) / grid.cell_m()]
        };
        let hours = tracks
            .mean_track()
            .iter()
            .enumerate()
            .map(|(hour, &pole)| {
                let hour = hour as f64;
                let next = table.hours.partition_point(|&frame| frame <= hour);
                let near = next.saturating_sub(1);
                let far = if next < table.hours.len() { next } else { near };
                let (begin, end) = (table.hours[near], table.hours[far]);
                let share =
                    if end > begin { ((hour - begin) / (end - begin)).max(0.0) } else { 0.0 };
                let [column, row] = cells(pole);
                let along = |course_deg: f64| {
                    let [to_column, to_row] = cells(direct(pole, course_deg, 1.0).position);
                    [to_column - column, to_row - row]
                };
                Here {
                    frames: [near, far],
                    near: table.offset(0, 0, near),
                    far: table.offset(0, 0, far),
                    share,
                    column,
                    row,
                    north: along(0.0),
                    east: along(90.0),
                }
            })
            .collect();
        let fastest = |frame: usize| {
            let begin = table.offset(0, 0, frame);
            let paces = table.pace_h_per_km.get(begin..begin + grid.len()).unwrap_or_default();
            paces.iter().copied().fold(f32::INFINITY, f32::min)
        };
        let fastest_h_per_km = (0..table.hours.len()).map(fastest).collect();
        Self { table, hours, fastest_h_per_km }
    }

    /// What a way along the map, to its east and to its north, is from the mean pole of a whole hour.
    pub(crate) fn along_the_map(&self, hour: usize, km: OffsetKm) -> Option<OffsetKm> {
        let here = self.hours.get(hour)?;
        let cells_per_km = here.north[0].hypot(here.north[1]);
        let [east, north] = km.map(|km| km * cells_per_km);
        Some(here.offset_km([here.column + east, here.row + north]))
    }

    /// Farther than this no craft comes in the hour, wherever on the chart it is.
    pub(crate) fn most_km(&self, hour: usize) -> f64 {
        let Some(here) = self.hours.get(hour) else { return 0.0 };
        let paces = here.frames.map(|frame| self.fastest_h_per_km.get(frame).copied());
        let least = paces.into_iter().flatten().fold(f32::INFINITY, f32::min);
        1.0 / f64::from(least)
    }

    /// Whether a craft can be at an offset at a whole hour and go on from there; not off the chart.
    #[must_use]
    pub fn is_open(&self, hour: usize, offset_km: OffsetKm) -> bool {
        self.going(hour, offset_km).is_some()
    }

    /// How far a craft at an offset would come in an hour that is as that cell is.
    #[must_use]
    pub fn reach_km(&self, hour: usize, offset_km: OffsetKm) -> f64 {
        self.going(hour, offset_km).map_or(0.0, |going| 1.0 / going.pace_h_per_km)
    }

    /// The way straight toward an aim in what is left of an hour, from side to side of the cells that lie between: it ends short of
    /// what is closed, and where the fuel for moving about does.
    ///
    /// # Returns
    ///
    /// Where the craft then is, and the fuel that it then has.
    #[must_use]
    pub fn sail(
        &self,
        (hour, mut left_h): (usize, f64),
        from_km: OffsetKm,
        aim_km: OffsetKm,
        mut fuel_t: f64,
    ) -> (OffsetKm, f64) {
        let way = less(aim_km, from_km);
        let whole_km = length(way);
        let Some(here) = self.hours.get(hour).filter(|_| whole_km > 0.0) else {
            return (from_km, fuel_t);
        };
        let (from, aim) = (here.place(from_km), here.place(aim_km));
        let short = SHORT_OF_A_SIDE / (aim[0] - from[0]).hypot(aim[1] - from[1]);
        let mut sides = Sides::new(from, aim);
        let mut going = self.going_in(here, sides.cell);
        let mut gone = 0.0_f64;
        while let Some(in_cell) = going {
            let side = sides.next();
            let ahead = if side < 1.0 { self.going_in(here, sides.cell) } else { None };
            let until = match ahead {
                None if side < 1.0 => (side - short).max(gone),
                _ => side.min(1.0),
            };
            let pace_h = whole_km * in_cell.pace_h_per_km;
            let afloat_h = if in_cell.extra_t_per_h > 0.0 {
                left_h.min(fuel_t / in_cell.extra_t_per_h)
            } else {
                left_h
            };
            let hours = (until - gone) * pace_h;
            if hours >= afloat_h {
                gone += afloat_h / pace_h;
                fuel_t = (fuel_t - afloat_h * in_cell.extra_t_per_h).max(0.0);
                break;
            }
            gone = until;
            left_h -= hours;
            fuel_t -= hours * in_cell.extra_t_per_h;
            going = ahead;
        }
        let to_km = if gone >= 1.0 {
            aim_km
        } else {
            [from_km[0] + way[0] * gone, from_km[1] + way[1] * gone]
        };
        (to_km, fuel_t)
    }

    /// The offset of the nearest cell centre that is open at a whole hour, within a distance.
    #[must_use]
    pub fn nearest_open(&self, hour: usize, from_km: OffsetKm, within_km: f64) -> Option<OffsetKm> {
        let here = self.hours.get(hour)?;
        let around = (within_km / self.table.grid.cell_km()).ceil().clamp(0.0, 200.0) as i32;
        let [column, row] = here.place(from_km).map(f64::round);
        let mut best: Option<(f64, OffsetKm)> = None;
        for row_off in -around..=around {
            for column_off in -around..=around {
                let place = [column + f64::from(column_off), row + f64::from(row_off)];
                let offset_km = here.offset_km(place);
                let away_km = length(less(offset_km, from_km));
                let nearer = best.is_none_or(|(km, _)| away_km < km);
                if away_km <= within_km && nearer && self.is_open(hour, offset_km) {
                    best = Some((away_km, offset_km));
                }
            }
        }
        best.map(|(_, offset_km)| offset_km)
    }

    fn going(&self, hour: usize, offset_km: OffsetKm) -> Option<Going> {
        let here = self.hours.get(hour)?;
        self.going_in(here, here.place(offset_km).map(f64::round))
    }

    fn going_in(&self, here: &Here, cell: [f64; 2]) -> Option<Going> {
        let cell = self.cell(cell)?;
        let value = |of: &[f32]| {
            let (near, far) =
                (f64::from(*of.get(here.near + cell)?), f64::from(*of.get(here.far + cell)?));
            // What is closed at either end is closed between, as in the search.
            Some(if near.is_finite() && far.is_finite() {
                near + here.share * (far - near)
            } else {
                f64::INFINITY
            })
        };
        let pace_h_per_km = value(&self.table.pace_h_per_km)?;
        let burn = value(&self.table.burn_t_per_h)?;
        let extra_t_per_h = (burn - self.table.hold_t_per_h).max(0.0);
        pace_h_per_km.is_finite().then_some(Going { pace_h_per_km, extra_t_per_h })
    }

    fn cell(&self, [column, row]: [f64; 2]) -> Option<usize> {
        let grid = &self.table.grid;
        let inside = (0.0..f64::from(grid.columns())).contains(&column)
            && (0.0..f64::from(grid.rows())).contains(&row);
        inside.then(|| row as usize * grid.columns() as usize + column as usize)
    }
}

impl Here {
    fn place(&self, [north_km, east_km]: OffsetKm) -> [f64; 2] {
        [
            self.column + north_km * self.north[0] + east_km * self.east[0],
            self.row + north_km * self.north[1] + east_km * self.east[1],
        ]
    }

    fn offset_km(&self, [column, row]: [f64; 2]) -> OffsetKm {
        let ([a, c], [b, d]) = (self.north, self.east);
        let (x, y) = (column - self.column, row - self.row);
        let determinant = a * d - b * c;
        [(d * x - b * y) / determinant, (a * y - c * x) / determinant]
    }
}
