//! What made a plan change: the whole plan again with one thing changed at a time.

use dipward_geodesy::position;
use dipward_plugin::{Control, Error};
use serde_json::Value;

use super::{
    FormerPlan, SAME_H, SAME_T, Standing,
    record::{Cause, Causes, Difference, Figures},
    remaining,
    start::lies_in_port,
};
use crate::{
    PlanError, Scenario,
    approach::Lines,
    world::{Start, World},
};

/// Which things are as they are now; all others are as they were.
#[derive(Debug, Clone, Copy, Default)]
struct Now {
    ice: bool,
    pole: bool,
    standing: bool,
    rest: bool,
}

/// Tells the causes apart.
///
/// # Errors
///
/// As [`crate::plan`], for each of the worlds that stand between the former scenario and this one.
pub(super) fn causes(
    former: &Scenario,
    scenario: &Scenario,
    plan: &FormerPlan,
    standing: &Standing,
    control: &Control,
) -> Result<Causes, PlanError> {
    if former.keys.window != scenario.keys.window
        || former.keys.pole.hemisphere != scenario.keys.pole.hemisphere
    {
        return Ok(Causes::untold(
            "the causes cannot be told apart: the two scenarios have different windows or poles",
        ));
    }
    let run = |now: Now| figures(former, scenario, plan, standing, now, control);
    let before = match run(Now::default())? {
        Ok(before) => before,
        Err(reason) => {
            return Ok(Causes::untold(format!(
                "the causes cannot be told apart: in the former scenario the plan is not feasible \
                 ({reason})"
            )));
        }
    };
    let mut remarks = Vec::new();
    let off = before.less(&Figures::of(&plan.approach));
    if off.arrive_h.abs() > SAME_H || off.fuel_at_end_t.abs() > SAME_T {
        remarks.push(format!(
            "the former scenario does not give the plan's own figures (arrival {:+.1} h, fuel at the \
             end {:+.1} t): is it the one that the plan was made of?",
            off.arrive_h, off.fuel_at_end_t
        ));
    }
    let rest_differs = rest(former) != rest(scenario);
    let mut changes = vec![
        ("ice layers", Now { ice: true, ..Now::default() }),
        ("pole", Now { pole: true, ..Now::default() }),
        ("position and fuel", Now { standing: true, ..Now::default() }),
    ];
    if rest_differs {
        changes.push(("other keys", Now { rest: true, ..Now::default() }));
    }
    let mut each = Vec::with_capacity(changes.len());
    for (changed, now) in changes {
        let (figures, reason) = match run(now)? {
            Ok(figures) => (Some(figures), None),
            Err(reason) => (None, Some(reason)),
        };
        let difference = figures.map(|figures| figures.less(&before));
        each.push(Cause { changed: changed.to_owned(), reason, figures, difference });
    }
    let all = run(Now { ice: true, pole: true, standing: true, rest: true })?;
    let only_together = all.ok().and_then(|all| left_over(all.less(&before), &each));
    Ok(Causes { told_apart: true, remarks, before: Some(before), each, only_together })
}

/// The plan's figures with some things as they are now.
fn figures(
    former: &Scenario,
    scenario: &Scenario,
    plan: &FormerPlan,
    standing: &Standing,
    now: Now,
    control: &Control,
) -> Result<Result<Figures, String>, PlanError> {
    let of = |is_now: bool| if is_now { scenario } else { former };
    let world = World::blend(of(now.rest), of(now.pole), of(now.ice), control)?;
    let start = if now.standing {
        match standing.start(&world) {
            Ok(start) => start,
            // What is open in one world may be closed in another: that is an answer.
            Err(Error::Outside(reason)) => return Ok(Err(reason)),
            Err(error) => return Err(error.into()),
        }
    } else {
        match planned_start(&world, plan) {
            Some(start) => start,
            None => return Ok(Err("the plan has no start".to_owned())),
        }
    };
    let world = world.starting_from(start, &plan.approach.home_to);
    let lines = Lines::new(&world.table, control)?;
    // The turning point is no part of the figures: no ways home are sought.
    let sailed = remaining::sail(&world, &lines, &plan.approach, &[], control)?;
    Ok(sailed.planned.map(|planned| Figures::of(&planned.approach)))
}

/// Where, when and with what fuel the plan begins.
fn planned_start(world: &World<'_>, plan: &FormerPlan) -> Option<Start> {
    let approach = &plan.approach;
    let first = approach.waypoints.first()?;
    let position = position(first.latitude_deg, first.longitude_deg);
    Some(Start {
        name: approach.from.clone(),
        position,
        moved_km: 0.0,
        in_port: lies_in_port(world.scenario, position),
        hour: world.scenario.clock.hour(approach.depart),
        fuel_t: approach.fuel_t.capacity,
    })
}

/// The whole change less that of each cause alone.
fn left_over(whole: Difference, each: &[Cause]) -> Option<Difference> {
    each.iter().try_fold(whole, |left, cause| {
        let own = cause.difference?;
        Some(Difference {
            arrive_h: left.arrive_h - own.arrive_h,
            back_h: left.back_h - own.back_h,
            fuel_at_end_t: left.fuel_at_end_t - own.fuel_at_end_t,
            minimum_rio: left.minimum_rio.zip(own.minimum_rio).map(|(a, b)| a - b),
            attainment: left.attainment - own.attainment,
        })
    })
}

/// The keys of a scenario that bear on a plan's figures and are neither ice nor pole.
fn rest(scenario: &Scenario) -> Value {
    let mut keys = scenario.resolved();
    for (part, key) in [
        ("/chart", "layers"),
        ("", "pole"),
        ("", "title"),
        ("", "notes"),
        ("", "seed"),
        ("", "outputs"),
        ("", "ranking"),
        ("", "order"),
        ("/voyage", "departures"),
    ] {
        if let Some(Value::Object(map)) = keys.pointer_mut(part) {
            map.remove(key);
        }
    }
    keys
}
