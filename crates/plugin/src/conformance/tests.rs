//! Plug-ins that break a promise are told which.

use std::{
    ops::{Range, RangeInclusive},
    sync::atomic::{AtomicU32, Ordering},
};

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
use geo::coord;

use super::*;
use crate::{
    Action, Approach, Beyond, CellBatch, Change, Clock, Closure, Control, Craft, CraftMode,
    Criterion, Direction, Disturbance, DisturbanceRequest, Error, ExternalField, FieldSample,
    FieldSigma, Ground, Knowledge, Laid, Layer, MainField, OutputFile, Policy, PowerSetting,
    Quantity, Report, RouteFailure, RouteProblem, RouteSet, Search, Site, Stores, Travel, Writer,
};

/// Breaks one promise of each point; a count stands for what a plug-in must not keep.
#[derive(Debug, Default)]
struct Broken(AtomicU32);

fn provenance() -> Provenance {
    Provenance { name: "broken".to_owned(), source: "this test".to_owned(), licence: None }
}

fn clock() -> Clock {
    Clock::new("2027-01-05T00:00Z".parse().unwrap())
}

#[track_caller]
fn assert_told(answer: Result<(), String>, part: &str) {
    let broken = answer.unwrap_err();
    assert!(broken.contains(part), "{broken}");
}

impl MainField for Broken {
    fn provenance(&self) -> Provenance {
        provenance()
    }

    fn years(&self) -> RangeInclusive<f64> {
        2025.0..=2030.0
    }

    /// Answers for any year.
    fn sample(&self, _: f64, _: &[Site], out: &mut [FieldSample]) -> Result<(), Error> {
        out.fill(FieldSample::default());
        Ok(())
    }

    fn sigma(&self, _: f64, _: Hemisphere) -> FieldSigma {
        FieldSigma::default()
    }
}

#[test]
fn a_main_field_that_answers_for_any_year_is_told() {
    assert_told(check_main_field(&Broken::default()), "must be `Error::Outside`");
}

impl Disturbance for Broken {
    fn provenance(&self) -> Provenance {
        provenance()
    }

    /// Goes on with one stream from member to member.
    fn member(
        &self,
        _: &DisturbanceRequest<'_>,
        _: u32,
        _: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        let north_nt = f64::from(self.0.fetch_add(1, Ordering::Relaxed));
        out.fill(ExternalField { north_nt, east_nt: 0.0, kp_thirds: None });
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
}

#[test]
fn a_disturbance_that_goes_on_from_member_to_member_is_told() {
    let context = BuildContext::new(".", Hemisphere::South, clock(), 48.0);
    assert_told(check_disturbance(&Broken::default(), &context), "order of the members");
}

impl Layer for Broken {
    fn quantities(&self) -> Vec<Quantity> {
        vec![Quantity::LAND]
    }

    fn provenance(&self) -> Provenance {
        provenance()
    }

    fn lay(&self, _: Ground<'_>, _: &Control) -> Result<Box<dyn Laid>, Error> {
        Ok(Box::new(Self::default()))
    }
}

impl Laid for Broken {
    fn hours(&self) -> &[f64] {
        &[]
    }

    fn change(&self) -> Change {
        Change::Step
    }

    fn beyond(&self) -> Beyond {
        Beyond::Hold
    }

    /// Forgets the last cell.
    fn fill(&self, _: Quantity, _: usize, _: Range<u32>, out: &mut [f32]) -> Result<(), Error> {
        if let Some((_, most)) = out.split_last_mut() {
            most.fill(0.0);
        }
        Ok(())
    }
}

#[test]
fn a_layer_that_forgets_a_cell_is_told() {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let grid = Grid::new(polar, coord! { x: 0.0, y: 0.0 }, 1000.0, 5, 5).unwrap();
    let ground = Ground { grid: &grid, clock: clock() };
    assert_told(check_layer(&Broken::default(), ground), "unwritten cell");
}

impl Craft for Broken {
    fn name(&self) -> String {
        "a broken ship".to_owned()
    }

    fn provenance(&self) -> Provenance {
        provenance()
    }

    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }

    fn mode(&self) -> CraftMode {
        CraftMode::Ship
    }

    fn reads(&self) -> Vec<Quantity> {
        vec![Quantity::ICE_THICKNESS]
    }

    fn settings(&self) -> Vec<PowerSetting> {
        vec![PowerSetting { name: "full".to_owned(), fraction: 1.0 }]
    }

    fn stores(&self) -> Stores {
        Stores { capacity_t: 10.0, reserve_t: 1.0, hold_t_per_h: 0.0 }
    }

    /// Takes what nobody knows for a pace.
    fn travel(
        &self,
        cells: &CellBatch<'_>,
        _: usize,
        _: u16,
        out: &mut [Travel],
    ) -> Result<(), Error> {
        for (index, out) in out.iter_mut().enumerate() {
            let ice_m = cells.column(Quantity::ICE_THICKNESS).map_or(0.0, |column| column[index]);
            let pace_h_per_km = 0.05 + ice_m.abs();
            *out = Travel { pace_h_per_km, ..Travel::closed(Closure::Open, f32::NAN) };
        }
        Ok(())
    }
}

#[test]
fn a_craft_that_takes_the_unknown_for_a_pace_is_told() {
    assert_told(check_craft(&Broken::default()), "a pace is above zero");
}

impl Search for Broken {
    /// Finds no route.
    fn routes(&self, _: &RouteProblem<'_>, _: &Control) -> Result<RouteSet, RouteFailure> {
        Ok(RouteSet { routes: Vec::new(), lower_bound_h: 0.0, lower_bound_t: 0.0 })
    }
}

#[test]
fn a_search_that_answers_with_no_route_is_told() {
    assert_told(check_search(&Broken::default()), "2 routes are wanted, 0 are given");
}

impl Policy for Broken {
    fn describe(&self) -> String {
        "alternates".to_owned()
    }

    /// Keeps count of its calls.
    fn act(&self, _: &Knowledge) -> Action {
        if self.0.fetch_add(1, Ordering::Relaxed) < 10 { Action::Hold } else { Action::Leave }
    }
}

#[test]
fn a_policy_that_keeps_something_is_told() {
    assert_told(check_policy(&Broken::default()), "on knowing the same");
}

impl Criterion for Broken {
    fn name(&self) -> String {
        "risk".to_owned()
    }

    fn unit(&self) -> String {
        "1".to_owned()
    }

    fn direction(&self) -> Direction {
        Direction::Greater
    }

    /// Has no figure for a craft without a risk index.
    fn merit(&self, approach: &Approach) -> f64 {
        approach.risk.minimum_rio.unwrap_or(f64::NAN)
    }

    fn weight(&self) -> f64 {
        1.0
    }
}

#[test]
fn a_criterion_without_a_figure_is_told() {
    assert_told(check_criterion(&Broken::default()), "the figure is NaN");
}

impl Writer for Broken {
    /// Writes beside the folder.
    fn files(&self, _: &Report) -> Result<Vec<OutputFile>, Error> {
        Ok(vec![OutputFile { name: "../mine".to_owned(), bytes: Vec::new() }])
    }
}

#[test]
fn a_writer_that_leaves_the_folder_is_told() {
    assert_told(check_writer(&Broken::default()), "no name within a folder");
}
