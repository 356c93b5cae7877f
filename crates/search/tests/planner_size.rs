//! A problem of the size that a plan has, timed by hand: `cargo test --release -- --ignored --nocapture`.

mod tables;

/// CPU time of this thread, which other work on the machine does not lengthen.
struct Instant(f64);

impl Instant {
    fn now() -> Self {
        let stat = std::fs::read_to_string("/proc/thread-self/stat").unwrap();
        let fields: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
        Self(fields[11].parse::<f64>().unwrap() * 10.0)
    }

    fn elapsed(&self) -> f64 {
        Self::now().0 - self.0
    }
}

use dipward_plugin::{Control, Goal, PaceTable, RouteProblem, Search};
use dipward_search::{Field, GridSearch, Headings, World};
use tables::{at, grid};

fn big(settings: usize, frames: usize) -> PaceTable {
    let grid = grid(700, 450, 5000.0);
    let mut pace = Vec::new();
    let mut burn = Vec::new();
    for setting in 0..settings {
        for frame in 0..frames {
            for row in 0..450_u32 {
                for column in 0..700_u32 {
                    let (x, y, t) = (f64::from(column), f64::from(row), frame as f64);
                    let ice = ((x / 37.0 + t * 0.13).sin()
                        + (y / 29.0 - t * 0.09).cos()
                        + ((x + y) / 11.0).sin() * 0.4)
                        .max(0.0);
                    let power = 1.0 - 0.15 * setting as f64;
                    let speed = 28.0 * power.cbrt() / (1.0 + ice * (1.0 + 0.5 * setting as f64));
                    let shut = ice > 1.9;
                    pace.push(if shut { f32::INFINITY } else { (1.0 / speed) as f32 });
                    burn.push((0.2 + 2.0 * power) as f32);
                }
            }
        }
    }
    PaceTable {
        grid,
        hours: (0..frames).map(|f| f as f64 * 24.0).collect(),
        settings,
        sectors: 1,
        pace_h_per_km: pace,
        burn_t_per_h: burn,
        hold_t_per_h: 0.1,
    }
}

#[test]
#[ignore = "a timing, not a check"]
fn time() {
    let table = big(5, 20);
    let control = Control::default();
    for frames in [1, 2] {
        let table = big(1, frames);
        let world = World::new(&table, 0.0, &control).unwrap();
        let start = at(&table.grid, 40.0, 40.0);
        for headings in [Headings::Eight, Headings::Sixteen, Headings::ThirtyTwo] {
            for _ in 0..2 {
                let begun = Instant::now();
                let field =
                    Field::solve(&world, headings, start, 0.0, f64::INFINITY, &control).unwrap();
                println!(
                    "field frames {frames} {headings:?} {:?} {:?}",
                    begun.elapsed(),
                    field.cost_at(&world, 300_000)
                );
            }
        }
    }
    for weight in [0.0, 1.0] {
        let begun = Instant::now();
        let world = World::new(&table, weight, &control).unwrap();
        println!("world {weight}: {:?}", begun.elapsed());
        let start = at(&table.grid, 40.0, 40.0);
        for headings in [Headings::Eight, Headings::Sixteen, Headings::ThirtyTwo] {
            let begun = Instant::now();
            let field =
                Field::solve(&world, headings, start, 0.0, f64::INFINITY, &control).unwrap();
            println!(
                "field {headings:?} {:?} {:?}",
                begun.elapsed(),
                field.cost_at(&world, 300_000)
            );
        }
        let goals = [at(&table.grid, 650.0, 400.0)];
        let problem = RouteProblem {
            fuel_weight_h_per_t: weight,
            ..tables::problem(&table, start, Goal::Places(&goals))
        };
        let search = GridSearch { smoothing: false, ..GridSearch::default() };
        for search in [search.clone(), GridSearch { smoothing: true, ..search }] {
            let begun = Instant::now();
            let routes = search.routes(&problem, &control).unwrap();
            let route = &routes.routes[0];
            println!(
                "routes smoothing {} {:?} ms hours {} fuel {} km {} points {} bound {} h {} t",
                search.smoothing,
                begun.elapsed(),
                route.arrive_hour(),
                route.fuel_t(),
                route.distance_km,
                route.points.len(),
                routes.lower_bound_h,
                routes.lower_bound_t,
            );
        }
        let problems: Vec<_> =
            (0..2).map(|k| RouteProblem { depart_hour: f64::from(k) * 6.0, ..problem }).collect();
        let begun = Instant::now();
        let all = search.routes_of_all(&problems, &control);
        println!(
            "20 problems {:?} {:?}",
            begun.elapsed(),
            all.iter().filter_map(|r| r.as_ref().err()).collect::<Vec<_>>()
        );
    }
}
