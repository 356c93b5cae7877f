//! The new plan mid-voyage: is the present plan still feasible and still best, what changed and why,
//! and when is it time to turn for home?
//!
//! ```text
//! former plan + scenario of now + present position, hour and fuel
//!   -> present: its remaining waypoints sailed from here, station, home
//!   -> ranking: a plan whose one departure is here and now
//!   -> causes:  the whole plan again with one thing changed at a time (needs the former scenario)
//!   -> turning: fuel aboard against fuel home along the way and on station
//! ```

mod causes;
mod former;
mod landing;
mod record;
mod remaining;
mod start;
mod turning;

use dipward_plugin::{Approach, CAUTION, Control, Report, SCHEMA_VERSION};

pub use former::FormerPlan;
pub use record::{
    Cause, Causes, Difference, Figures, HistoryEntry, PlanIdentity, PresentPlan, Replan, Turning,
    append_to_history, read_history,
};
pub use start::Standing;

use crate::{
    PlanError, Scenario, VERSION, World,
    approach::Lines,
    order::rank,
    plan::{Watch, plan_in},
    proofs::prove,
};

/// Arrivals that differ by less are the same to a planner, hours.
const SAME_H: f64 = 0.1;
/// Stands for the present plan's id among the new approaches.
const PRESENT: &str = "the present plan";
/// Fuel that differs by less is the same to a planner, t.
const SAME_T: f64 = 0.1;

/// Plans again from the middle of a voyage.
///
/// The craft is taken to be bound for the pole or on station; the shortest stay counts from now or
/// from the arrival, whichever is later.
///
/// # Arguments
///
/// * `scenario`: the scenario of now, with newer layers or a newer forecast.
/// * `former_scenario`: the scenario that the plan was made of. With it the causes of a change can be
///   told apart.
/// * `plan`: the present plan.
/// * `standing`: where the craft is, when, and with how much fuel.
///
/// # Returns
///
/// The answers, and the report of the new ranking, which may hold no approach.
///
/// # Errors
///
/// [`dipward_plugin::Error::Outside`] for a position off the chart or closed to the craft, an instant outside the
/// window and fuel that is not above zero or above the capacity; otherwise as [`crate::plan`].
pub fn replan(
    scenario: &Scenario,
    former_scenario: Option<&Scenario>,
    plan: &FormerPlan,
    standing: &Standing,
    control: &Control,
) -> Result<(Replan, Report), PlanError> {
    let mut watch = Watch::start();
    standing.check(scenario)?;
    let world = World::make(scenario, control)?;
    watch.lap("pole tracks, chart and paces");
    let start = standing.start(&world)?;
    let world = world.starting_from(start, &plan.approach.home_to);
    let (report, homes) = plan_in(&world, 0, watch, control)?;
    let here = world.harbours.iter().rfind(|harbour| harbour.depart);
    let homes = homes.of(here.and_then(|here| here.return_to));

    let lines = Lines::new(&world.table, control)?;
    let mut sailed = remaining::sail(&world, &lines, &plan.approach, homes, control)?;
    if let Ok(planned) = &mut sailed.planned {
        let search = scenario.search.object.as_ref();
        prove(&world, &mut [(&mut planned.approach, &planned.claims)], search, control)?;
    }
    let best = report.ranking.approaches.first();
    let present = present_plan(scenario, &sailed, &report.ranking.approaches)?;
    let planned = Figures::of(&plan.approach);
    let now = present.approach.as_ref().map(Figures::of);
    let turning = turning::turning(&world, &lines, &sailed, best, homes, control)?;
    let causes = match former_scenario {
        None => Causes::untold(
            "the causes cannot be told apart without the scenario that the plan was made of",
        ),
        Some(former) => causes::causes(former, scenario, plan, standing, control)?,
    };
    let replan = Replan {
        schema_version: SCHEMA_VERSION,
        dipward_version: VERSION.to_owned(),
        caution: CAUTION.to_owned(),
        plan: plan.identity.clone(),
        at: standing.at,
        latitude_deg: standing.position.y(),
        longitude_deg: standing.position.x(),
        fuel_t: standing.fuel_t,
        present,
        planned,
        now,
        change: now.map(|now| now.less(&planned)),
        best: best.map(|best| best.id.clone()),
        best_figures: best.map(Figures::of),
        causes,
        turning,
        notes: notes(scenario, plan, standing),
    };
    Ok((replan, report))
}

/// Judges the present plan by the scenario's own criteria among the new approaches.
fn present_plan(
    scenario: &Scenario,
    sailed: &remaining::Sailed,
    ranked: &[Approach],
) -> Result<PresentPlan, PlanError> {
    let mut approach = match &sailed.planned {
        Ok(planned) => planned.approach.clone(),
        Err(reason) => {
            return Ok(PresentPlan {
                feasible: false,
                reason: Some(reason.clone()),
                still_best: false,
                rank: None,
                approach: None,
            });
        }
    };
    let criteria: Vec<_> = scenario.criteria.iter().map(|built| built.object.as_ref()).collect();
    // A plan that was itself made here and now has the id of a new approach.
    let id = std::mem::replace(&mut approach.id, PRESENT.to_owned());
    let mut all = ranked.to_vec();
    all.push(approach.clone());
    rank(&mut all, &criteria, (&scenario.keys).into())?;
    if let Some(found) = all.into_iter().find(|one| one.id == PRESENT) {
        approach = found;
    }
    approach.id = id;
    let same = ranked.first().is_some_and(|best| {
        let difference = Figures::of(&approach).less(&Figures::of(best));
        difference.arrive_h.abs() < SAME_H && difference.fuel_at_end_t.abs() < SAME_T
    });
    // The ranking holds a twin of a plan that nothing has happened to; which of two twins stands
    // first is the matter of rounding.
    let place = if same { 1 } else { approach.rank };
    approach.rank = place;
    Ok(PresentPlan {
        feasible: true,
        reason: None,
        still_best: place == 1,
        rank: Some(place),
        approach: Some(approach),
    })
}

fn notes(scenario: &Scenario, plan: &FormerPlan, standing: &Standing) -> Vec<String> {
    let mut notes = Vec::new();
    if standing.at >= plan.approach.arrive {
        notes.push(format!(
            "the plan arrives at {}: hours served on station do not count, the shortest stay of {:.0} \
             h begins anew",
            plan.approach.arrive, scenario.keys.station.at_least_h
        ));
    }
    if let Some(leg) = &plan.approach.last_leg {
        notes.push(format!(
            "the plan lands {}: the party is taken to be aboard, with all its fuel; its ways and the ways \
             home from the landing are sought anew",
            leg.by
        ));
    }
    if plan.approach.craft != scenario.craft.object.name() {
        notes.push(format!(
            "the plan is for {}, the scenario for {}",
            plan.approach.craft,
            scenario.craft.object.name()
        ));
    }
    notes.push(
        "figures from here leave out what lies behind: the minimum RIO and the hours are those of \
         the way that is left"
            .to_owned(),
    );
    notes
}
