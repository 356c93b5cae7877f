//! Section 3: where the points of a field lie.

use dipward_geodesy::{Ellipsoid, position};

use super::message::{be16, be32};
use crate::{
    crs::{MapProjection, polar},
    image::{Image, Placement},
};

/// The grid of a field.
#[derive(Debug)]
pub(super) struct GridSection {
    columns: usize,
    rows: usize,
    scanning: u8,
    /// Whether the file tells its rows from their ends.
    westward: bool,
    placement: Placement,
    /// Whether vectors are told along the grid.
    pub(super) along_grid: bool,
}

// Flags of table 3.3, increments given.
const I_GIVEN: u8 = 0x20;
const J_GIVEN: u8 = 0x10;
// Flags of table 3.4, scanning mode.
const I_NEGATIVE: u8 = 0x80;
const J_POSITIVE: u8 = 0x40;
const J_CONSECUTIVE: u8 = 0x20;
const ALTERNATING: u8 = 0x10;

impl GridSection {
    /// Reads the payload of a section 3: what follows its length and number.
    pub(super) fn read(payload: &[u8]) -> Result<Self, String> {
        let short = || "has a grid that is cut short".to_owned();
        let template = be16(payload, 7).ok_or_else(short)?;
        let points = be32(payload, 1).ok_or_else(short)? as usize;
        let body = Body(payload.get(9..).ok_or_else(short)?);
        // A list of the points of each row, or a grid that is defined elsewhere.
        if payload.first() != Some(&0) || payload.get(5) != Some(&0) {
            return Err(
                "is on a grid whose rows have different numbers of points: interpolate it, with \
                        CDO by `cdo -f grb2 remapbil,r1440x720 in.grib2 out.grib2`"
                    .to_owned(),
            );
        }
        let grid = match template {
            0 => Self::lon_lat(&body).ok_or_else(short)?,
            20 => Self::polar(&body).ok_or_else(short)?,
            other => Err(format!(
                "is on a grid of template 3.{other}, but longitude and latitude (3.0) or polar \
                 stereographic (3.20) is wanted: interpolate it, with CDO by `cdo -f grb2 \
                 remapbil,r1440x720 in.grib2 out.grib2`"
            )),
        }?;
        if grid.points() != points {
            return Err(format!(
                "has a grid of {} by {} points, but says that there are {points}",
                grid.columns, grid.rows
            ));
        }
        Ok(grid)
    }

    /// How many points it has.
    pub(super) fn points(&self) -> usize {
        self.columns.saturating_mul(self.rows)
    }

    /// Template 3.0; nothing where it is cut short.
    fn lon_lat(body: &Body<'_>) -> Option<Result<Self, String>> {
        let (columns, rows) = (body.u32(16)?, body.u32(20)?);
        // A basic angle other than the micro-degree is allowed and never seen.
        let basic_angle = body.u32(24)?;
        let micro = |value: f64| value / 1e6;
        let (first_latitude, last_latitude) = (micro(body.i32(32)?), micro(body.i32(41)?));
        let (first_longitude, last_longitude) = (micro(body.i32(36)?), micro(body.i32(45)?));
        let scanning = body.u8(57)?;
        let along_grid = body.u8(40)? & 0x08 != 0;
        if basic_angle != 0 && basic_angle != u32::MAX {
            return Some(Err("counts its degrees by a basic angle of its own".to_owned()));
        }
        if columns < 2 || rows < 2 || first_latitude.abs() > 90.0 || last_latitude.abs() > 90.0 {
            return Some(Err(format!(
                "has a grid of {columns} by {rows} points, or off the Earth"
            )));
        }
        let along = f64::from(columns - 1);
        // The increments, where they are given; of the first, how the last column may repeat the first.
        let flags = body.u8(40)?;
        let increment = |flag: u8, at: usize| -> Option<f64> {
            let bits = body.u32(at)?;
            (flags & flag != 0 && bits != 0 && bits != u32::MAX).then(|| f64::from(bits) / 1e6)
        };
        let (step_i, step_j) = (increment(I_GIVEN, 49), increment(J_GIVEN, 53));
        let mut span = if scanning & I_NEGATIVE == 0 {
            (last_longitude - first_longitude).rem_euclid(360.0)
        } else {
            -(first_longitude - last_longitude).rem_euclid(360.0)
        };
        if span.abs() < 1e-9 {
            span = if scanning & I_NEGATIVE == 0 { 360.0 } else { -360.0 };
        }
        let step = [span / along, (last_latitude - first_latitude) / f64::from(rows - 1)];
        let upwards = scanning & J_POSITIVE != 0;
        // Writers round a third of a degree to thousandths; more than that is a contradiction.
        let differ = |given: Option<f64>, own: f64| {
            given.is_some_and(|given| (given - own.abs()).abs() > 0.01 * own.abs())
        };
        if differ(step_i, step[0]) || differ(step_j, step[1]) || (step[1] > 0.0) != upwards {
            return Some(Err(format!(
                "has a grid that contradicts itself: from {first_latitude}, {first_longitude} to \
                 {last_latitude}, {last_longitude} in {columns} by {rows} points, which does not agree \
                 with its increments or the way it scans"
            )));
        }
        let first = [first_longitude, first_latitude];
        Some(Self::with(columns, rows, scanning, along_grid, MapProjection::LonLat, first, step))
    }

    /// Template 3.20; nothing where it is cut short.
    fn polar(body: &Body<'_>) -> Option<Result<Self, String>> {
        let (columns, rows) = (body.u32(16)?, body.u32(20)?);
        if columns < 2 || rows < 2 {
            return Some(Err(format!("has a grid of {columns} by {rows} points")));
        }
        let first = position(body.i32(24)? / 1e6, body.i32(28)? / 1e6);
        let along_grid = body.u8(32)? & 0x08 != 0;
        let true_scale_deg = body.i32(33)? / 1e6;
        let central_deg = body.i32(37)? / 1e6;
        let (dx_m, dy_m) = (f64::from(body.u32(41)?) / 1e3, f64::from(body.u32(45)?) / 1e3);
        let centre = body.u8(49)?;
        let south = centre & 0x80 != 0;
        if centre & 0x40 != 0 {
            return Some(Err("is on a map about both poles at once".to_owned()));
        }
        let scanning = body.u8(50)?;
        let ellipsoid = match body.ellipsoid()? {
            Ok(ellipsoid) => ellipsoid,
            Err(message) => return Some(Err(message)),
        };
        let true_scale_deg = if south { -true_scale_deg.abs() } else { true_scale_deg.abs() };
        let projection = match polar(ellipsoid, true_scale_deg, central_deg, 1.0, [0.0; 2]) {
            Ok(projection) => projection,
            Err(message) => return Some(Err(message)),
        };
        let step = [
            if scanning & I_NEGATIVE == 0 { dx_m } else { -dx_m },
            if scanning & J_POSITIVE == 0 { -dy_m } else { dy_m },
        ];
        let first = projection.coordinates(first);
        Some(Self::with(columns, rows, scanning, along_grid, projection, first, step))
    }

    fn with(
        columns: u32,
        rows: u32,
        scanning: u8,
        along_grid: bool,
        projection: MapProjection,
        first: [f64; 2],
        step: [f64; 2],
    ) -> Result<Self, String> {
        // Rows always run to the east, or up the map's x axis: those that are told the other way are turned.
        let westward = step[0] < 0.0;
        let west = if westward { first[0] + step[0] * f64::from(columns - 1) } else { first[0] };
        let placement = Placement {
            projection,
            corner: [west - step[0].abs() / 2.0, first[1] - step[1] / 2.0],
            along_row: [step[0].abs(), 0.0],
            along_column: [0.0, step[1]],
        };
        if !placement.is_regular() {
            return Err("has a grid of no size".to_owned());
        }
        let (columns, rows) = (columns as usize, rows as usize);
        Ok(Self { columns, rows, scanning, westward, placement, along_grid })
    }

    /// The values, which stand in the order of the scanning mode, row by row.
    pub(super) fn image(&self, values: &[f32]) -> Result<Image, String> {
        if self.points() != values.len() {
            return Err(format!(
                "has {} values for a grid of {} by {}",
                values.len(),
                self.columns,
                self.rows
            ));
        }
        let mut ordered = vec![f32::NAN; values.len()];
        for (index, value) in values.iter().enumerate() {
            let along = if self.scanning & J_CONSECUTIVE == 0 { self.columns } else { self.rows };
            let (line, mut place) = (index / along, index % along);
            if self.scanning & ALTERNATING != 0 && line % 2 == 1 {
                place = along - 1 - place;
            }
            let (row, mut column) =
                if self.scanning & J_CONSECUTIVE == 0 { (line, place) } else { (place, line) };
            if self.westward {
                column = self.columns - 1 - column;
            }
            if let Some(out) = ordered.get_mut(row * self.columns + column) {
                *out = *value;
            }
        }
        Ok(Image {
            width: self.columns,
            height: self.rows,
            values: ordered,
            placement: self.placement.clone(),
        })
    }
}

/// A template, which begins with the shape of the Earth.
struct Body<'a>(&'a [u8]);

impl Body<'_> {
    fn u8(&self, at: usize) -> Option<u8> {
        self.0.get(at).copied()
    }

    fn u32(&self, at: usize) -> Option<u32> {
        be32(self.0, at)
    }

    /// A number whose first bit is its sign.
    fn i32(&self, at: usize) -> Option<f64> {
        let bits = self.u32(at)?;
        let size = f64::from(bits & 0x7fff_ffff);
        Some(if bits >> 31 == 1 { -size } else { size })
    }

    /// Code table 3.2.
    fn ellipsoid(&self) -> Option<Result<Ellipsoid, String>> {
        let scaled = |at: usize| -> Option<f64> {
            Some(f64::from(self.u32(at + 1)?) / 10_f64.powi(i32::from(self.u8(at)?)))
        };
        let sphere = |radius_m: f64| Ellipsoid { semi_major_m: radius_m, inverse_flattening: 0.0 };
        let axes = |major_m: f64, minor_m: f64| Ellipsoid {
            semi_major_m: major_m,
            inverse_flattening: if major_m == minor_m {
                0.0
            } else {
                major_m / (major_m - minor_m)
            },
        };
        Some(Ok(match self.u8(0)? {
            0 => sphere(6_367_470.0),
            1 => sphere(scaled(1)?),
            2 => Ellipsoid { semi_major_m: 6_378_160.0, inverse_flattening: 297.0 },
            3 => axes(1000.0 * scaled(6)?, 1000.0 * scaled(11)?),
            4 => Ellipsoid { semi_major_m: 6_378_137.0, inverse_flattening: 298.257_222_101 },
            5 => Ellipsoid::WGS84,
            6 => sphere(6_371_229.0),
            7 => axes(scaled(6)?, scaled(11)?),
            8 => sphere(6_371_200.0),
            other => return Some(Err(format!("is on an Earth of the unknown shape {other}"))),
        }))
    }
}
