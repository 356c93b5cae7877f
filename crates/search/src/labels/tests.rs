//! The labels against every way there is on worlds of three by three cells: each path that visits no
//! cell twice, at every setting of every move, with and without a wait until the next mark at every
//! stop. Only the sailing of a move is shared with the search; `tests/oracles.rs` has that.

use dipward_geodesy::Position;
use dipward_plugin::{Goal, PaceTable, RouteProblem};
use proptest::{prelude::*, strategy::ValueTree, test_runner::TestRunner};

use super::*;
use crate::{stencil::Headings, tables::grid};

/// A world of three by three cells of 10 km, two settings, the second slower and thriftier.
fn table(hours: Vec<f64>, pace: &[f32], burn: &[f32], slower: f32, hold_t_per_h: f64) -> PaceTable {
    let grid = grid(3, 3, 10_000.0);
    let both = |values: &[f32], factor: f32| {
        let second = values.iter().map(|value| value * factor);
        values.iter().copied().chain(second).collect::<Vec<f32>>()
    };
    PaceTable {
        grid,
        hours,
        settings: 2,
        sectors: 1,
        pace_h_per_km: both(pace, slower),
        burn_t_per_h: both(burn, 0.5 / slower),
        hold_t_per_h,
    }
}

fn worlds(frames: std::ops::Range<usize>) -> impl Strategy<Value = PaceTable> {
    frames.prop_flat_map(|frames| {
        let pace = prop_oneof![9 => 0.05_f32..0.4, 1 => Just(f32::INFINITY)];
        (
            prop::collection::vec(0.5_f64..6.0, frames),
            prop::collection::vec(pace, 9 * frames),
            prop::collection::vec(0.3_f32..2.0, 9 * frames),
            1.1_f32..2.0,
            0.0_f64..0.3,
        )
            .prop_map(|(gaps, pace, burn, slower, hold_t_per_h)| {
                let mut hour = 0.0;
                let hours = gaps.iter().map(|gap| {
                    hour += gap;
                    hour
                });
                table(hours.collect(), &pace, &burn, slower, hold_t_per_h)
            })
    })
}

/// The earliest hour at the goal of every way within a limit, from a place that was come to.
struct Enumeration<'a, 't> {
    world: &'a World<'t>,
    goal: u32,
    fuel_t: f64,
    depart_hour: f64,
    best: f64,
}

impl Enumeration<'_, '_> {
    fn from(&mut self, cell: usize, hour: f64, fuel_t: f64, visited: u16, at_port: bool) {
        let world = self.world;
        if fuel_t > self.fuel_t || hour >= self.best {
            return;
        }
        if cell as u32 == self.goal {
            self.best = hour;
            return;
        }
        let until_hour = if at_port {
            f64::INFINITY
        } else {
            match world.openings.state_at(cell as u32, hour) {
                Some(state) => world.openings.end_hour(state),
                None => return,
            }
        };
        let mark = ((hour - self.depart_hour) / MARK_H + 1e-9).floor() + 1.0;
        let depart_hour = self.depart_hour;
        let marks = (0..).map(|later| depart_hour + (mark + f64::from(later)) * MARK_H);
        for waited_to in std::iter::once(hour).chain(marks) {
            if waited_to >= until_hour.min(self.best) {
                break;
            }
            let hold = world.table.hold_t_per_h;
            for step in 0..Headings::Eight.count() {
                let Some(line) = MoveLine::new(world, cell, step) else { continue };
                let end = line.end();
                let Some(place) = world.padding.cell_at(end as usize) else { continue };
                if visited & (1 << place) != 0 {
                    continue;
                }
                for setting in 0..world.table.settings {
                    let medium = MovesAt { world, setting };
                    let mut from_hour = waited_to;
                    while let Some((left, arrive, burnt_t)) = sail_when_open(
                        &medium,
                        line.pieces(),
                        line.heading(),
                        from_hour,
                        until_hour,
                    ) {
                        if world.openings.state_at(end, arrive).is_some() {
                            let fuel_t = fuel_t + hold * (left - hour) + burnt_t;
                            self.from(end as usize, arrive, fuel_t, visited | (1 << place), false);
                        }
                        // Again after each closing of the end.
                        let Some(opens) = world.openings.next_opening(end, arrive) else { break };
                        let on_time = depart_for_end(&medium, line.pieces(), line.heading(), opens);
                        from_hour = on_time.map_or(f64::INFINITY, |on_time| on_time.max(left));
                        if from_hour >= until_hour {
                            break;
                        }
                    }
                }
            }
        }
    }
}

/// What the search and the enumeration say.
fn both(table: &PaceTable, limit_t: f64, epsilon: f64) -> (Option<f64>, [f64; 2]) {
    let control = Control::default();
    let centre = |cell: u32| -> Position { table.grid.centre(cell).unwrap() };
    let goal = [centre(8)];
    let world = World::new(table, 0.0, &control).unwrap();
    let problem = RouteProblem {
        table,
        start: centre(0),
        depart_hour: 0.25,
        goal: Goal::Places(&goal),
        fuel_weight_h_per_t: 0.0,
        fuel_limit_t: Some(limit_t),
        latest_hour: 30.0,
        routes: 1,
        bounds: false,
    };
    let limits = Limits {
        fuel_t: limit_t,
        before_hour: problem.latest_hour,
        weight_h_per_t: 1.0,
        epsilon,
        labels: 1_000_000,
    };
    let answer = Question::new(&world, &problem, Headings::Eight).ok().map(|question| {
        earliest_within(&world, &Floor::new(table), &question, limits, &control).unwrap()
    });
    let found = match answer {
        Some(Answer::Found(way)) => {
            assert!(way.fuel_t <= limit_t);
            Some(way.hour)
        }
        Some(Answer::TooMany) => panic!("more labels than a small world can have"),
        _ => None,
    };
    let enumerated = [limit_t, limit_t * (1.0 - epsilon)].map(|fuel_t| {
        let start = world.padding.padded(0);
        let goal = world.padding.padded(8) as u32;
        let depart_hour = problem.depart_hour;
        let best = problem.latest_hour;
        let mut all = Enumeration { world: &world, goal, fuel_t, depart_hour, best };
        let open =
            world.openings.spans(start as u32).iter().any(|span| span.end_hour > depart_hour);
        if open {
            all.from(start, depart_hour, 0.0, 1, true);
        }
        all.best
    });
    (found, enumerated)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// In ice that does not change, no wait is of use: exact without epsilon, and with it as stated.
    #[test]
    fn ice_that_stays_is_exact(
        table in worlds(1..2),
        limit_t in 0.5_f64..12.0,
        epsilon in 0.0_f64..0.1,
    ) {
        let (found, [with, _]) = both(&table, limit_t, 0.0);
        prop_assert_eq!(found.is_some(), with < 30.0);
        prop_assert!((found.unwrap_or(30.0) - with).abs() < 1e-9, "{:?} {}", found, with);
        let (found, [with, without]) = both(&table, limit_t, epsilon);
        let found = found.unwrap_or(30.0);
        prop_assert!(with <= found + 1e-9 && found <= without + 1e-9, "{with} {found} {without}");
    }
}

/// In ice that comes and goes: never better than the best, and as good as stated but for waits that end
/// between two marks, which one world in two thousand turns on.
#[test]
fn ice_that_changes_is_near() {
    let mut runner = TestRunner::deterministic();
    let asked = (worlds(2..5), 0.5_f64..12.0, 0.0_f64..0.1);
    let mut later = 0;
    for _ in 0..100 {
        let (table, limit_t, epsilon) = asked.new_tree(&mut runner).unwrap().current();
        let (found, [with, without]) = both(&table, limit_t, epsilon);
        let found = found.unwrap_or(30.0);
        assert!(with <= found + 1e-9, "{with} {found}");
        later += usize::from(found > without + 1e-9);
    }
    assert!(later <= 1, "{later}");
}
