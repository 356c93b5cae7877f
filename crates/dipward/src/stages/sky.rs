//! The weather of one who flies, about the pole and the landings, hour by hour.

use std::ops::Range;

use dipward_chart::Chart;
use dipward_craft::{ApparentSun, julian_day, sidereal_time_deg};
use dipward_geodesy::Cell;
use dipward_plugin::{AirWeather, Aircraft, Clock, Control, Error, Quantity};

use super::grounds;

/// The most bytes that the weather of a last leg may take.
const MAX_BYTES: usize = 2 << 30;

const READ: [Quantity; 3] =
    [Quantity::VISIBILITY, Quantity::WIND_GRID_EAST, Quantity::WIND_GRID_NORTH];
const KNOTS_PER_M_S: f64 = 3600.0 / 1852.0;

/// What a last leg through the air reads of the chart.
pub(crate) fn reads() -> Vec<Quantity> {
    READ.into_iter().chain(grounds::READ).chain(Quantity::ICE_PARTIALS).collect()
}

/// The wind is looked at in so many places of a line at most, its ends among them.
const WINDS: usize = 5;

/// The weather in a rectangle of cells. Between two frames of the chart it changes linearly; what is
/// unknown at either is unknown between. The sun is reckoned, not read.
#[derive(Debug)]
pub(crate) struct Skies {
    rows: Range<u32>,
    columns: Range<u32>,
    grid_columns: u32,
    /// Hours that do not decrease, each with the values of [`READ`] for each cell of the rectangle.
    frames: Vec<(f64, Vec<[f32; 3]>)>,
    /// Sine and cosine of the latitude and the longitude in radians of each cell.
    places: Vec<[f64; 3]>,
    /// For each whole hour sine and cosine of the declination, and what the hour angle is less the
    /// longitude, in radians.
    suns: Vec<[f64; 3]>,
}

impl Skies {
    /// Reads the weather of a rectangle of cells.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] where it would take more than 2 GiB; what the chart's layers say.
    pub(crate) fn read(
        chart: &Chart,
        rows: Range<u32>,
        columns: Range<u32>,
        clock: Clock,
        hours: usize,
        control: &Control,
    ) -> Result<Self, Error> {
        let grid = chart.grid();
        let cells = rows.len() * columns.len();
        let bytes =
            cells.saturating_mul(chart.frames().len()).saturating_mul(size_of::<[f32; 3]>());
        if bytes > MAX_BYTES {
            return Err(Error::Outside(format!(
                "the weather of a last leg over {cells} cells at {} frames needs {} MiB, more than {}: \
                 take larger cells, a shorter window, fewer instants or less range",
                chart.frames().len(),
                bytes >> 20,
                MAX_BYTES >> 20
            )));
        }
        let mut skies = Self {
            grid_columns: grid.columns(),
            frames: Vec::new(),
            places: Vec::with_capacity(cells),
            suns: (0..hours).map(|hour| sun(clock, hour as f64)).collect(),
            rows,
            columns,
        };
        for cell in skies.cells() {
            let place = grid.centre(cell).map_or([f64::NAN; 3], |at| {
                let (sine, cosine) = at.y().to_radians().sin_cos();
                [sine, cosine, at.x().to_radians()]
            });
            skies.places.push(place);
        }
        for (frame, &hour) in chart.frames().iter().enumerate() {
            control.check()?;
            let mut values = vec![[f32::NAN; 3]; cells];
            let mut column = vec![f32::NAN; skies.columns.len()];
            for (at, quantity) in READ.into_iter().enumerate() {
                if !chart.quantities().contains(&quantity) {
                    continue;
                }
                for (row, out) in skies.rows.clone().zip(values.chunks_mut(column.len().max(1))) {
                    chart.fill(frame, quantity, skies.run(row), &mut column)?;
                    for (out, value) in out.iter_mut().zip(&column) {
                        out[at] = *value;
                    }
                }
            }
            skies.push(hour, values);
        }
        Ok(skies)
    }

    /// The weather along a line of cells at a whole hour, in a few places for the wind.
    pub(crate) fn along(&self, hour: usize, line: &[Cell]) -> Vec<AirWeather> {
        let places = line.len().min(WINDS);
        let last = line.len().saturating_sub(1);
        (0..places)
            .filter_map(|place| line.get(place * last / (places - 1).max(1)))
            .map(|&cell| self.at(hour, cell))
            .collect()
    }

    /// The cells that the weather is known in.
    pub(crate) fn cells(&self) -> Vec<Cell> {
        self.rows.clone().flat_map(|row| self.run(row)).collect()
    }

    /// The first hindrance along a line of cells at a whole hour.
    ///
    /// # Errors
    ///
    /// What it is, in words.
    pub(crate) fn may_fly(
        &self,
        aircraft: &dyn Aircraft,
        hour: usize,
        line: &[Cell],
    ) -> Result<(), &'static str> {
        line.iter().try_for_each(|&cell| aircraft.may_fly(&self.at(hour, cell)))
    }

    /// Adds a frame, and takes the one before out if it stands between two equals.
    fn push(&mut self, hour: f64, values: Vec<[f32; 3]>) {
        let same = |a: &[[f32; 3]], b: &[[f32; 3]]| {
            a.iter().flatten().zip(b.iter().flatten()).all(|(a, b)| a.to_bits() == b.to_bits())
        };
        if let [.., (_, first), (middle, second)] = self.frames.as_mut_slice()
            && same(first, &values)
            && same(second, &values)
        {
            *middle = hour;
        } else {
            self.frames.push((hour, values));
        }
    }

    /// The cells of a row of the rectangle.
    pub(crate) fn run(&self, row: u32) -> Range<Cell> {
        let first = row * self.grid_columns;
        first + self.columns.start..first + self.columns.end
    }

    pub(crate) fn index(&self, cell: Cell) -> Option<usize> {
        let (row, column) = (cell / self.grid_columns, cell % self.grid_columns);
        let inside = self.rows.contains(&row) && self.columns.contains(&column);
        inside.then(|| {
            (row - self.rows.start) as usize * self.columns.len()
                + (column - self.columns.start) as usize
        })
    }

    /// The weather in a cell at a whole hour, the wind in the grid's frame; unknown outside the
    /// rectangle and the hours.
    pub(crate) fn at(&self, hour: usize, cell: Cell) -> AirWeather {
        let unknown = AirWeather {
            visibility_km: f64::NAN,
            sun_altitude_deg: f64::NAN,
            wind_kn: f64::NAN,
            wind_from_deg: f64::NAN,
        };
        let (Some(index), Some(&[sine, cosine, angle])) = (self.index(cell), self.suns.get(hour))
        else {
            return unknown;
        };
        let Some(&[up, across, longitude]) = self.places.get(index) else { return unknown };
        let after = self.frames.partition_point(|(at, _)| *at <= hour as f64);
        let Some((begin, before)) = self.frames.get(after.saturating_sub(1)) else {
            return unknown;
        };
        let mut values = before[index].map(f64::from);
        if let Some((end, next)) = self.frames.get(after)
            && end > begin
        {
            let share = ((hour as f64 - begin) / (end - begin)).clamp(0.0, 1.0);
            for (value, next) in values.iter_mut().zip(next[index]) {
                *value += share * (f64::from(next) - *value);
            }
        }
        let [visibility_km, east, north] = values;
        let altitude = up * sine + across * cosine * (angle + longitude).cos();
        AirWeather {
            visibility_km,
            sun_altitude_deg: altitude.clamp(-1.0, 1.0).asin().to_degrees(),
            wind_kn: KNOTS_PER_M_S * east.hypot(north),
            wind_from_deg: (-east).atan2(-north).to_degrees(),
        }
    }
}

fn sun(clock: Clock, hour: f64) -> [f64; 3] {
    let instant = clock.instant(hour);
    let sun = ApparentSun::at_instant(instant);
    let (sine, cosine) = sun.declination_deg.to_radians().sin_cos();
    let angle = sidereal_time_deg(julian_day(instant)) - sun.right_ascension_deg;
    [sine, cosine, angle.to_radians()]
}
