use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};
use dipward_plugin::{Beyond, Change};
use geo::coord;
use proptest::prelude::*;

use super::*;

const CELLS: u32 = 100 * 100;

fn grid() -> Grid {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    Grid::new(polar, coord! { x: 1e6, y: -2e6 }, 5_000.0, 100, 100).unwrap()
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

/// A layer of `value(instant, cell)`.
#[derive(Clone)]
struct Made {
    quantity: Quantity,
    hours: Vec<f64>,
    change: Change,
    beyond: Beyond,
    value: fn(usize, u32) -> f32,
}

impl std::fmt::Debug for Made {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Made")
    }
}

impl Layer for Made {
    fn quantities(&self) -> Vec<Quantity> {
        vec![self.quantity]
    }
    fn provenance(&self) -> Provenance {
        Provenance { name: "made".into(), source: "this test".into(), licence: None }
    }
    fn lay(&self, _: Ground<'_>, _: &Control) -> Result<Box<dyn Laid>, Error> {
        Ok(Box::new(self.clone()))
    }
}

impl Laid for Made {
    fn hours(&self) -> &[f64] {
        &self.hours
    }
    fn change(&self) -> Change {
        self.change
    }
    fn beyond(&self) -> Beyond {
        self.beyond
    }
    fn fill(
        &self,
        _: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        for (cell, out) in cells.zip(out) {
            *out = (self.value)(instant, cell);
        }
        Ok(())
    }
}

const ICE: Quantity = Quantity::ICE_CONCENTRATION;

fn made(hours: &[f64], change: Change, value: fn(usize, u32) -> f32) -> Made {
    Made { quantity: ICE, hours: hours.to_vec(), change, beyond: Beyond::Hold, value }
}

fn lay(layers: &[Made], window_hours: f64) -> Result<Chart, Error> {
    let names = ["first", "second", "third", "fourth"];
    let named: Vec<NamedLayer<'_>> =
        layers.iter().zip(names).map(|(layer, name)| NamedLayer { name, layer }).collect();
    Chart::lay(grid(), clock(), window_hours, &named, &[ICE], &Control::default())
}

fn half(_: usize, cell: u32) -> f32 {
    if cell < CELLS / 2 { 0.25 } else { f32::NAN }
}

fn all(instant: usize, _: u32) -> f32 {
    0.5 + 0.1 * instant as f32
}

#[test]
fn the_first_layer_that_covers_a_cell_wins() {
    let chart =
        lay(&[made(&[], Change::Step, half), made(&[-6.0], Change::Step, all)], 24.0).unwrap();
    let values = chart.values(0, ICE, &Control::default()).unwrap();
    assert!(
        values
            .iter()
            .enumerate()
            .all(|(cell, value)| { *value == if cell < CELLS as usize / 2 { 0.25 } else { 0.5 } })
    );

    let rows = chart.coverage(&Control::default()).unwrap();
    assert_eq!((rows[0].covered, rows[0].won), ([0.5; 2], [0.5; 2]));
    assert_eq!((rows[1].covered, rows[1].won), ([1.0; 2], [0.5; 2]));
    assert_eq!((rows[0].age_h, rows[1].age_h), ([None; 2], [Some(6.0), Some(30.0)]));

    let at = |cell| chart.grid().centre(cell).unwrap();
    assert_eq!(chart.origin(1.0, ICE, at(0)).unwrap().unwrap().layer, "first");
    let below = chart.origin(1.0, ICE, at(CELLS - 1)).unwrap().unwrap();
    assert_eq!((below.layer.as_str(), below.age_h), ("second", Some(7.0)));
    let far = dipward_geodesy::position(10.0, 0.0);
    assert!(chart.origin(1.0, ICE, far).unwrap().is_none());
    assert!(chart.sample(1.0, ICE, far).unwrap().is_nan());
}

#[test]
fn a_moment_tells_the_layer_and_the_age_of_each_cell() {
    let some = made(&[0.0, 10.0], Change::Linear, |instant, cell| match cell % 3 {
        0 => instant as f32,
        1 if instant == 0 => 0.5,
        _ => f32::NAN,
    });
    let below = made(&[-6.0], Change::Step, |_, cell| if cell % 2 == 0 { 0.75 } else { f32::NAN });
    let chart = lay(&[some, below], 24.0).unwrap();
    let moment = chart.at(2.5);
    let merged = moment.merged(ICE, &Control::default()).unwrap();
    for (cell, (value, layer)) in merged.values.iter().zip(&merged.layers).enumerate() {
        // Between two instants both must cover a cell.
        let expected = match (cell % 3, cell % 2) {
            (0, _) => (0.25, Some(0)),
            (_, 0) => (0.75, Some(1)),
            _ => (f32::NAN, None),
        };
        assert_eq!(*layer, expected.1, "{cell}");
        assert_eq!(value.to_bits(), expected.0.to_bits(), "{cell}");
    }
    assert_eq!((moment.age_h(0), moment.age_h(1), moment.age_h(2)), (Some(2.5), Some(8.5), None));
}

#[test]
fn what_no_layer_covers_is_not_a_number() {
    let chart = lay(&[made(&[], Change::Step, half)], 24.0).unwrap();
    let values = chart.values(0, ICE, &Control::default()).unwrap();
    assert!(values[CELLS as usize / 2..].iter().all(|value| value.is_nan()));
    // A quantity that no layer gives is no column at all.
    let columns = chart.batch(0, 0..10, |batch| batch.columns.len()).unwrap();
    assert_eq!(columns, 1);
}

#[test]
fn linear_layers_are_mixed_at_frames_that_are_not_theirs() {
    fn ramp(instant: usize, _: u32) -> f32 {
        instant as f32
    }
    // The step on top covers nothing until hour 6 and half the cells from then on.
    let step = Made { beyond: Beyond::Uncovered, ..made(&[6.0, 50.0], Change::Step, half) };
    let chart = lay(&[step, made(&[0.0, 24.0], Change::Linear, ramp)], 48.0).unwrap();
    assert_eq!(chart.frames(), [0.0, 6.0, 6.0, 24.0]);
    let last = CELLS - 1..CELLS;
    let value = |frame, cells: Range<u32>| {
        let mut out = [0.0];
        chart.fill(frame, ICE, cells, &mut out).unwrap();
        out[0]
    };
    assert_eq!([0, 1, 2, 3].map(|frame| value(frame, last.clone())), [0.0, 0.25, 0.25, 1.0]);
    assert_eq!([0, 1, 2, 3].map(|frame| value(frame, 0..1)), [0.0, 0.25, 0.25, 0.25]);
    let at = chart.grid().centre(CELLS - 1).unwrap();
    assert_eq!(chart.sample(12.0, ICE, at).unwrap(), 0.5);
    assert_eq!(chart.frame_at(5.9), 0);
    assert_eq!(chart.frame_at(6.0), 2);
    assert_eq!(chart.frame_at(-1.0), 0);
}

#[test]
fn a_layer_that_breaks_its_promise_is_named() {
    fn infinite(_: usize, cell: u32) -> f32 {
        if cell == 77 { f32::INFINITY } else { 0.0 }
    }
    let chart = lay(&[made(&[], Change::Step, infinite)], 24.0).unwrap();
    let message = chart.values(0, ICE, &Control::default()).unwrap_err().to_string();
    assert!(message.contains("`first`") && message.contains("cell 77"), "{message}");

    let message = lay(&[made(&[5.0, 5.0], Change::Step, all)], 24.0).unwrap_err().to_string();
    assert!(message.contains("`first`"), "{message}");
    assert!(lay(&[], f64::NAN).is_err());
}

#[test]
fn too_many_frames_name_the_busiest_layer() {
    let hours: Vec<f64> = (1..3000).map(|hour| f64::from(hour) / 10.0).collect();
    let layers = [made(&[], Change::Step, half), made(&hours, Change::Step, all)];
    let message = lay(&layers, 400.0).unwrap_err().to_string();
    assert!(message.contains("`second`") && message.contains("2999"), "{message}");
}

#[test]
fn a_stopped_run_stops() {
    let control = Control::default();
    control.cancel();
    let layer = made(&[], Change::Step, all);
    let named = [NamedLayer { name: "x", layer: &layer }];
    let stopped = Chart::lay(grid(), clock(), 1.0, &named, &[ICE], &control);
    assert_eq!(stopped.unwrap_err(), Error::Cancelled);
}

#[test]
fn cells_and_frames_that_the_chart_has_not_are_refused() {
    let chart = lay(&[made(&[], Change::Step, all)], 1.0).unwrap();
    let mut out = [0.0; 2];
    assert!(chart.fill(1, ICE, 0..2, &mut out).is_err());
    assert!(chart.fill(0, ICE, 0..3, &mut out).is_err());
    assert!(chart.fill(0, ICE, CELLS - 1..CELLS + 1, &mut out).is_err());
    #[expect(clippy::reversed_empty_ranges, reason = "that is what is refused")]
    let reversed = chart.fill(0, ICE, 2..0, &mut []);
    assert!(reversed.is_err());
    assert!(chart.fill(0, ICE, 0..0, &mut []).is_ok());
}

/// The slow way to the merged value: every layer asked for one cell at one hour.
fn oracle(layers: &[Made], hour: f64, cell: u32) -> f32 {
    for layer in layers {
        let value = |instant| (layer.value)(instant, cell);
        let before = layer.hours.iter().rposition(|&at| at <= hour);
        let result = match (before, layer.change) {
            _ if layer.hours.is_empty() => value(0),
            (None, _) => value(0),
            (Some(at), Change::Linear) if at + 1 < layer.hours.len() => {
                let share = (hour - layer.hours[at]) / (layer.hours[at + 1] - layer.hours[at]);
                value(at) + (value(at + 1) - value(at)) * share as f32
            }
            (Some(at), _) => value(at),
        };
        if !result.is_nan() {
            return result;
        }
    }
    f32::NAN
}

fn patchy(instant: usize, cell: u32) -> f32 {
    let mixed = (cell + 1).wrapping_mul(2_654_435_761).wrapping_add(instant as u32 * 97) >> 16;
    if mixed.is_multiple_of(3) { f32::NAN } else { (mixed % 11) as f32 / 10.0 }
}

proptest! {
    #[test]
    fn merged_values_equal_the_slow_way(
        times in prop::collection::vec(
            (prop::collection::btree_set(-10i32..40, 0..4), any::<bool>()), 1..4),
        hour in 0.0..30.0f64,
        cell in 0..CELLS,
    ) {
        let layers: Vec<Made> = times
            .iter()
            .map(|(hours, linear)| {
                let hours: Vec<f64> = hours.iter().map(|&hour| f64::from(hour)).collect();
                made(&hours, if *linear { Change::Linear } else { Change::Step }, patchy)
            })
            .collect();
        let chart = lay(&layers, 30.0).unwrap();
        let at = chart.grid().centre(cell).unwrap();
        let sampled = chart.sample(hour, ICE, at).unwrap();
        let expected = oracle(&layers, hour, cell);
        prop_assert!(sampled == expected || sampled.is_nan() && expected.is_nan());
        // A frame shows what a sample at its hour shows, the later of the two at a jump.
        for (frame, &hour) in chart.frames().iter().enumerate() {
            if hour == 30.0 || chart.frames().get(frame + 1) == Some(&hour) {
                continue;
            }
            let mut out = [0.0];
            chart.fill(frame, ICE, cell..cell + 1, &mut out).unwrap();
            let sampled = chart.sample(hour, ICE, at).unwrap();
            prop_assert!(sampled == out[0] || sampled.is_nan() && out[0].is_nan());
        }
    }
}
