//! Landings for an aircraft: the cells and hours from which its radius of action covers the pole.

use std::collections::BTreeMap;

use dipward_chart::OpenCells;
use dipward_craft::radius_of_action_nm;
use dipward_geodesy::{Cell, Grid, KM_PER_NAUTICAL_MILE, Position, inverse};
use dipward_plugin::{AirStores, AirWeather, Aircraft, Berth, Control, Error, LandingRule};
use rayon::prelude::*;

use super::{Going, Ground, Landings, grounds::Grounds, sky::Skies};
use crate::station::Measure;

/// A flight out and back along one line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Flight {
    pub(crate) out_km_h: f64,
    pub(crate) home_km_h: f64,
    /// How far it may go and come back with its reserve.
    pub(crate) radius_km: f64,
}

impl Flight {
    /// A flight that no wind makes longer.
    pub(crate) fn in_still_air(aircraft: &dyn Aircraft) -> Option<Self> {
        let still = AirWeather {
            visibility_km: f64::NAN,
            sun_altitude_deg: f64::NAN,
            wind_kn: 0.0,
            wind_from_deg: 0.0,
        };
        Self::of(aircraft, &aircraft.stores(), (&[still], &[still]), 0.0)
    }

    /// A flight on a course in the weather along its line, on the way out and on the way home. At each
    /// time the place with the worst wind counts.
    pub(crate) fn of(
        aircraft: &dyn Aircraft,
        stores: &AirStores,
        (out, home): (&[AirWeather], &[AirWeather]),
        course_deg: f64,
    ) -> Option<Self> {
        let out_km_h = slowest(aircraft, out, course_deg)?;
        let home_km_h = slowest(aircraft, home, course_deg + 180.0)?;
        let burn = stores.burn_kg_per_h;
        let radius_nm = radius_of_action_nm(
            stores.tank_kg,
            stores.held_kg + stores.on_scene_kg,
            (burn, out_km_h / KM_PER_NAUTICAL_MILE),
            (burn, home_km_h / KM_PER_NAUTICAL_MILE),
        )
        .ok()?;
        Some(Self { out_km_h, home_km_h, radius_km: KM_PER_NAUTICAL_MILE * radius_nm })
    }
}

/// Speed over the ground with the wind at whichever place is worst; nothing where it makes no way at one.
pub(crate) fn slowest(
    aircraft: &dyn Aircraft,
    places: &[AirWeather],
    course_deg: f64,
) -> Option<f64> {
    let speeds = places.iter().map(|weather| aircraft.ground_speed_km_h(weather, course_deg));
    speeds.reduce(|a, b| Some(a?.min(b?))).flatten()
}

/// The cells of the straight line on the map between two places, both ends among them.
pub(crate) fn line_of_cells(grid: &Grid, from: Position, to: Position) -> Vec<Cell> {
    let (start, end) = (grid.coord(from), grid.coord(to));
    let run = end - start;
    // Steps of less than half a cell leave out no more than the corners of cells.
    let steps = (2.5 * run.x.hypot(run.y) / grid.cell_m()).ceil().clamp(1.0, 1e6) as u32;
    let mut line: Vec<Cell> = (0..=steps)
        .filter_map(|step| grid.cell_at_coord(start + run * (f64::from(step) / f64::from(steps))))
        .collect();
    line.dedup();
    line
}

/// Whole hours that the party must stand on the ice to have attained.
pub(crate) fn ground_hours(measure: Measure) -> usize {
    measure.whole_hours() - 1
}

/// The landings of an aircraft, for each share of its radius of action.
///
/// # Errors
///
/// What the chart's layers say; [`Error::Outside`] where the weather would take too much memory.
pub(super) fn landings(
    ground: Ground<'_>,
    open: &OpenCells,
    aircraft: &dyn Aircraft,
    rule: &LandingRule,
    control: &Control,
) -> Result<(Going, Vec<Landings>), Error> {
    let stores = aircraft.stores();
    let farthest_km =
        Flight::in_still_air(aircraft).map_or(0.0, |flight| flight.radius_km) - rule.allowance_km;
    let cells = about_the_pole(ground, farthest_km);
    let (rows, columns) = rectangle(ground, &cells);
    let rows_again = rows.clone();
    let clock = ground.scenario.clock;
    let skies = Skies::read(ground.chart, rows, columns, clock, ground.hours(), control)?;
    let grounds = Grounds::read(ground.chart, aircraft, &skies, rows_again, control)?;
    let candidates: Vec<Cell> = cells.into_iter().filter(|&cell| open.is_open(cell)).collect();

    let station = &ground.scenario.keys.station;
    let measure = Measure { within_km: station.within_km, for_h: station.for_h };
    let field = Field {
        ground,
        aircraft,
        stores,
        skies: &skies,
        wait_h: ground_hours(measure),
        fit: HoursToFly::of(aircraft, &skies, ground.hours(), control)?,
    };
    let pole_lands: Vec<Result<(), &'static str>> = (0..ground.hours())
        .map(|hour| {
            let (cell, _) = ground.pole(hour).ok_or("the pole lies off the chart")?;
            grounds.may_land(hour, skies.index(cell))
        })
        .collect();
    control.begin("landings", candidates.len() as u64);
    let each: Vec<Found> = candidates
        .par_iter()
        .map(|&cell| {
            control.check()?;
            let found = field.berths(cell, &pole_lands, rule);
            control.advance(1);
            Ok(found)
        })
        .collect::<Result<_, Error>>()?;

    let mut hindered: BTreeMap<&str, usize> = BTreeMap::new();
    for (why, count) in each.iter().flat_map(|found| &found.hindered) {
        *hindered.entry(why).or_default() += count;
    }
    let hindrance = hindered.iter().max_by_key(|(_, count)| **count).map_or_else(
        || format!("no cell within {:.0} km of the pole is open to the ship", farthest_km.max(0.0)),
        |(why, _)| format!("no landing is good enough: {why}"),
    );
    let sets = (0..rule.shares.len()).map(|share| {
        let berths: Vec<Berth> =
            each.iter().flat_map(|found| &found.berths[share]).copied().collect();
        let set_out = berths.iter().map(|berth| berth.position).collect();
        Landings { berths, set_out, hindrance: hindrance.clone() }
    });
    let sets = sets.collect();
    Ok((Going::Air(Box::new((skies, grounds))), sets))
}

/// The berths of one cell by share, and what hindered how often.
struct Found {
    berths: Vec<Vec<Berth>>,
    hindered: BTreeMap<&'static str, usize>,
}

/// What the hours of a cell are judged by.
struct Field<'w> {
    ground: Ground<'w>,
    aircraft: &'w dyn Aircraft,
    stores: AirStores,
    skies: &'w Skies,
    wait_h: usize,
    fit: HoursToFly,
}

/// For each cell of the [`Skies`] a bit for each whole hour at which the aircraft flies there.
struct HoursToFly {
    words: usize,
    bits: Vec<u64>,
}

impl HoursToFly {
    fn of(
        aircraft: &dyn Aircraft,
        skies: &Skies,
        hours: usize,
        control: &Control,
    ) -> Result<Self, Error> {
        let words = hours.div_ceil(64);
        let each = skies.cells().into_par_iter().map(|cell| {
            control.check()?;
            let mut bits = vec![0_u64; words];
            for hour in 0..hours {
                if aircraft.may_fly(&skies.at(hour, cell)).is_ok() {
                    bits[hour / 64] |= 1 << (hour % 64);
                }
            }
            Ok(bits)
        });
        let each: Vec<Vec<u64>> = each.collect::<Result<_, Error>>()?;
        Ok(Self { words, bits: each.concat() })
    }

    /// The hours at which it flies all along a line.
    fn along(&self, skies: &Skies, line: &[Cell]) -> Vec<u64> {
        let mut all = vec![u64::MAX; self.words];
        for &cell in line {
            let at = skies.index(cell).map(|index| index * self.words);
            let bits = at.and_then(|at| self.bits.get(at..at + self.words));
            for (word, fit) in all.iter_mut().enumerate() {
                *fit &= bits.map_or(0, |bits| bits[word]);
            }
        }
        all
    }
}

/// Berths are cut after so many hours, so that the way on from each is told for its own time.
const BERTH_HOURS: usize = 24;
/// The pole moves so little in as many hours that course and distance are looked at no more often.
const POLE_HOURS: usize = 24;

impl Field<'_> {
    fn berths(
        &self,
        cell: Cell,
        pole_lands: &[Result<(), &'static str>],
        rule: &LandingRule,
    ) -> Found {
        let grid = &self.ground.table.grid;
        let mut found =
            Found { berths: vec![Vec::new(); rule.shares.len()], hindered: BTreeMap::new() };
        let Some(position) = grid.centre(cell) else { return found };
        // Course, distance and line to the pole, and the hours at which it flies all along that, by day.
        let mut days: Vec<Option<Away>> = Vec::new();
        for hour in (0..pole_lands.len()).step_by(POLE_HOURS) {
            days.push(self.ground.pole(hour).map(|(_, pole)| {
                let line = line_of_cells(grid, position, pole);
                Away {
                    distance_km: inverse(position, pole).distance_km,
                    course_deg: course_on_map_deg(grid, position, pole),
                    fit: self.fit.along(self.skies, &line),
                    line,
                }
            }));
        }
        let away = |hour: usize| days.get(hour / POLE_HOURS).and_then(Option::as_ref);
        // How many whole hours from each on all let it fly, and all let it stand at the pole.
        let mut open_for = vec![0_usize; pole_lands.len() + 1];
        let mut lands_for = vec![0_usize; pole_lands.len() + 1];
        for hour in (0..pole_lands.len()).rev() {
            let flies = match away(hour) {
                None => Err("the pole lies off the chart"),
                Some(away) if away.flies(hour) => Ok(()),
                Some(away) => self.skies.may_fly(self.aircraft, hour, &away.line),
            };
            match flies {
                Ok(()) => open_for[hour] = open_for[hour + 1] + 1,
                Err(why) => *found.hindered.entry(why).or_default() += 1,
            }
            match pole_lands[hour] {
                Ok(()) => lands_for[hour] = lands_for[hour + 1] + 1,
                Err(why) => *found.hindered.entry(why).or_default() += 1,
            }
        }
        let mut running: Vec<Option<usize>> = vec![None; rule.shares.len()];
        for (hour, &hours_open) in open_for.iter().enumerate().take(pole_lands.len()) {
            let flight = away(hour).and_then(|away| {
                let flight = self.flight(hour, away)?;
                let out_h = away.distance_km / flight.out_km_h;
                let until =
                    (out_h + away.distance_km / flight.home_km_h).ceil() as usize + self.wait_h;
                let arrive = (hour as f64 + out_h).ceil() as usize;
                let stands = lands_for.get(arrive).is_some_and(|&hours| hours > self.wait_h);
                Some((flight, away.distance_km)).filter(|_| hours_open > until && stands)
            });
            for ((share, berths), since) in
                rule.shares.iter().zip(&mut found.berths).zip(&mut running)
            {
                let within = flight.filter(|(flight, distance_km)| {
                    share * flight.radius_km >= distance_km + rule.allowance_km
                });
                let Some((flight, distance_km)) = within else {
                    *since = None;
                    if flight.is_some() {
                        *found.hindered.entry("the pole is out of reach").or_default() += 1;
                    }
                    continue;
                };
                if since.is_some_and(|since| hour - since < BERTH_HOURS) {
                    if let Some(berth) = berths.last_mut() {
                        berth.until_hour = hour as f64;
                    }
                } else {
                    // Without a gap to the berth before it.
                    if since.is_some()
                        && let Some(berth) = berths.last_mut()
                    {
                        berth.until_hour = hour as f64;
                    }
                    *since = Some(hour);
                    berths.push(Berth {
                        position,
                        from_hour: hour as f64,
                        until_hour: hour as f64,
                        onward_h: distance_km / flight.out_km_h,
                        onward_t: 0.0,
                    });
                }
            }
        }
        found
    }

    /// The flight that leaves at a whole hour and comes back after the shortest stay on the ice.
    fn flight(&self, hour: usize, away: &Away) -> Option<Flight> {
        let out = self.skies.along(hour, &away.line);
        let out_h = away.distance_km / slowest(self.aircraft, &out, away.course_deg)?;
        let turn = (hour as f64 + out_h).ceil() as usize + self.wait_h;
        let home = self.skies.along(turn, &away.line);
        Flight::of(self.aircraft, &self.stores, (&out, &home), away.course_deg)
    }
}

/// How the pole lies from a landing on a day.
struct Away {
    distance_km: f64,
    course_deg: f64,
    line: Vec<Cell>,
    /// A bit for each whole hour of the window at which the aircraft flies all along the line.
    fit: Vec<u64>,
}

impl Away {
    fn flies(&self, hour: usize) -> bool {
        self.fit.get(hour / 64).is_some_and(|word| word >> (hour % 64) & 1 == 1)
    }
}

/// The course from one place to another in the grid's frame, in which the winds are told.
pub(crate) fn course_on_map_deg(grid: &Grid, from: Position, to: Position) -> f64 {
    let run = grid.coord(to) - grid.coord(from);
    run.x.atan2(run.y).to_degrees()
}

/// All cells within a distance of the mean pole at some time, its own always.
fn about_the_pole(ground: Ground<'_>, within_km: f64) -> Vec<Cell> {
    let grid = &ground.table.grid;
    let poles: Vec<(Cell, Position)> =
        (0..ground.hours()).step_by(POLE_HOURS).filter_map(|hour| ground.pole(hour)).collect();
    let (Some(&(_, first)), Some(&(_, last))) = (poles.first(), poles.last()) else {
        return Vec::new();
    };
    let middle = dipward_geodesy::interpolate(first, last, 0.5);
    let spread_km =
        poles.iter().map(|(_, pole)| inverse(middle, *pole).distance_km).fold(0.0, f64::max);
    (0..grid.len() as u32)
        .filter(|&cell| {
            let near = grid.centre(cell).is_some_and(|centre| {
                // The chord is never longer than the arc, and quicker to tell.
                chord_km(centre, middle) <= within_km.max(0.0) + spread_km
            });
            near || poles.iter().any(|(pole, _)| *pole == cell)
        })
        .collect()
}

/// The straight line between two places on the sphere within the ellipsoid: at most the distance.
fn chord_km(a: Position, b: Position) -> f64 {
    /// Semi-minor axis of WGS84.
    const RADIUS_KM: f64 = 6_356.752;
    let unit = |at: Position| {
        let (up, across) = at.y().to_radians().sin_cos();
        let (east, north) = at.x().to_radians().sin_cos();
        [across * north, across * east, up]
    };
    let (a, b) = (unit(a), unit(b));
    // Geodetic latitudes are spread by up to a part in 150 against those on the sphere.
    RADIUS_KM * 0.99 * (0..3).map(|axis| (a[axis] - b[axis]).powi(2)).sum::<f64>().sqrt()
}

fn rectangle(ground: Ground<'_>, cells: &[Cell]) -> (std::ops::Range<u32>, std::ops::Range<u32>) {
    let places = || cells.iter().filter_map(|&cell| ground.table.grid.row_column(cell));
    let span = |of: fn((u32, u32)) -> u32| {
        let low = places().map(of).min().unwrap_or(0);
        low..places().map(of).max().map_or(0, |high| high + 1)
    };
    (span(|(row, _)| row), span(|(_, column)| column))
}
