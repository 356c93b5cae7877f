use dipward_plugin::{Goal, PaceTable};

use super::*;
use crate::{
    floor::Floor,
    tables::{grid, table},
};

/// Bound and truth over a world of one price, round a disc, and across two prices, for which
/// geometry and Snell's law give the truth.
#[test]
fn bounds_are_below_the_truth_and_near_it() {
    let width = |table: &PaceTable| table.grid.scale_table()[100 * 200 + 100];
    let wide = |pace: &dyn Fn(f64, f64) -> f64| {
        table(grid(200, 200, 1000.0), &[0.0], |_, x, y| pace(x.into(), y.into()))
    };
    let uniform = wide(&|_, _| 1.0);
    let disc = wide(&|x, y| if (x - 100.0).hypot(y - 100.0) < 40.0 { f64::INFINITY } else { 1.0 });
    let halves = wide(&|_, y| if y > 100.0 { 1.0 } else { 2.0 });
    let far = Coord { x: 180.0, y: 100.0 };
    let corner = Coord { x: 170.0, y: 20.0 };
    let straight = 150.0_f64.hypot(80.0);
    // To the disc's sides from 80 away, and the arc between.
    let tangent = (80.0_f64.powi(2) - 40.0_f64.powi(2)).sqrt();
    let round = 2.0 * tangent + 40.0 * 2.0 * (0.5_f64).asin();
    let snell = (0..150_000)
        .map(|x| f64::from(x) * 1e-3)
        .map(|x| 2.0 * x.hypot(80.5) + (150.0 - x).hypot(79.5))
        .fold(f64::INFINITY, f64::min);
    let from = Coord { x: 20.0, y: 100.0 };
    let low = Coord { x: 20.0, y: 20.0 };
    let high = Coord { x: 170.0, y: 180.0 };
    for (table, from, to, truth, within) in [
        (&uniform, from, far, 160.0, 0.99),
        (&uniform, from, corner, straight, 0.985),
        (&disc, from, far, round, 0.96),
        (&halves, low, high, snell, 0.97),
    ] {
        let world = World::new(table, 0.0, &Control::default()).unwrap();
        let floor = Floor::new(table);
        let goal = [world.to_position(to)];
        let start = world.to_position(from);
        let window = Window::new(&world, &floor, start, Goal::Places(&goal), (0.0, f64::INFINITY));
        for prices in [&floor.hours, &floor.tonnes] {
            let source = Source::Place(from);
            let cap = truth * width(table) * 1.05;
            let control = Control::default();
            let potential =
                Potential::new(&world, prices, &source, &window, (cap, Marches::fine(1)), &control)
                    .unwrap();
            let bound = potential.at_place(to).unwrap();
            let truth = truth * width(table);
            assert!(bound <= truth * 1.0005, "{bound} {truth}");
            assert!(bound >= truth * within, "{bound} {truth} {}", potential.steepness.worst);
        }
    }
}
