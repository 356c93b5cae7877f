//! A route cell by cell and frame by frame, as a log of it tells.

use dipward_geodesy::{Position, direct, inverse};
use dipward_plugin::RoutePoint;

use crate::{
    heading::Heading,
    passage::{Leg, Medium, Passage, Stretch, sail_told},
    world::World,
};

/// A part of a passage within one cell of the grid and between two frames of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassageStep {
    /// The cell.
    pub cell: u32,
    /// Where it begins.
    pub position: Position,
    /// When it begins.
    pub begin_hour: f64,
    /// When it ends.
    pub end_hour: f64,
    /// What is sailed in it; 0 for a wait.
    pub km: f64,
    /// What is burnt in it.
    pub fuel_t: f64,
    /// The power setting; nothing for a wait.
    pub setting: Option<usize>,
}

/// The table at one power setting, whatever it costs.
struct AtSetting<'w, 't> {
    world: &'w World<'t>,
    setting: usize,
}

impl<'w, 't> AtSetting<'w, 't> {
    /// Nothing for a setting that the table does not have.
    fn new(world: &'w World<'t>, setting: usize) -> Option<Self> {
        (setting < world.table.settings).then_some(Self { world, setting })
    }
}

impl Medium for AtSetting<'_, '_> {
    fn world(&self) -> &World<'_> {
        self.world
    }

    fn padded(&self, cell: u32) -> u32 {
        self.world.padded(cell)
    }

    fn leg(&self, cell: u32, interval: usize, heading: Heading) -> Leg {
        self.world.leg_at(self.setting, cell as usize, interval, heading)
    }
}

impl World<'_> {
    /// The steps of a route: each leg sailed at the setting that its first point tells, from the hour
    /// that it tells, and each wait.
    ///
    /// # Arguments
    ///
    /// `points`: of the route; two at one place are a wait.
    ///
    /// # Returns
    ///
    /// Steps that follow one another without a gap, from the first point's hour to the last one's. A leg
    /// that cannot be sailed so in its hours is spread over its cells by length. Nothing
    /// where a leg leaves the grid.
    #[must_use]
    pub fn steps(&self, points: &[RoutePoint]) -> Option<Vec<PassageStep>> {
        let mut steps = Vec::new();
        for leg in points.windows(2) {
            let &[from, to] = leg else { continue };
            if from.position == to.position {
                self.wait(&from, &to, &mut steps)?;
            } else {
                match self.sailed(&from, &to) {
                    Some(leg) => steps.extend(leg),
                    None => steps.extend(self.spread(&from, &to)?),
                }
            }
        }
        Some(steps)
    }

    /// A leg as it is sailed at its setting.
    fn sailed(&self, from: &RoutePoint, to: &RoutePoint) -> Option<Vec<PassageStep>> {
        let medium = AtSetting::new(self, from.setting)?;
        let line = self.line(from.position, to.position)?;
        let mut stretches: Vec<Stretch> = Vec::new();
        let passage = sail_told(&medium, &line.pieces, &line.heading, from.hour, &mut stretches);
        let Passage::Arrived { hour, .. } = passage else { return None };
        let (planned_h, sailed_h) = (to.hour - from.hour, hour - from.hour);
        if (planned_h - sailed_h).abs() > 0.01 * (1.0 + planned_h) || sailed_h <= 0.0 {
            return None;
        }
        // A line is cut at the cells a little otherwise than when it was planned: its hours and tonnes
        // are those of the plan.
        let hours = planned_h / sailed_h;
        let sailed_t: f64 = stretches.iter().map(|stretch| stretch.fuel_t).sum();
        let tonnes =
            if sailed_t > 0.0 { (to.fuel_used_t - from.fuel_used_t) / sailed_t } else { 1.0 };
        let planned = |hour: f64| from.hour + hours * (hour - from.hour);
        let mut run = Run::along(from, to);
        stretches
            .iter()
            .map(|stretch| {
                Some(PassageStep {
                    cell: line.pieces.get(stretch.piece)?.cell,
                    position: run.on(stretch.km),
                    begin_hour: planned(stretch.begin_hour),
                    end_hour: planned(stretch.end_hour),
                    km: stretch.km,
                    fuel_t: tonnes * stretch.fuel_t,
                    setting: Some(from.setting),
                })
            })
            .collect()
    }

    /// A leg with its hours and tonnes spread over its cells by length.
    fn spread(&self, from: &RoutePoint, to: &RoutePoint) -> Option<Vec<PassageStep>> {
        let line = self.line(from.position, to.position)?;
        let km: f64 = line.pieces.iter().map(|piece| piece.km).sum();
        let mut run = Run::along(from, to);
        let mut begin_hour = from.hour;
        let steps = line.pieces.iter().filter(|piece| piece.km > 0.0).map(|piece| {
            let share = piece.km / km;
            let end_hour = begin_hour + share * (to.hour - from.hour);
            let step = PassageStep {
                cell: piece.cell,
                position: run.on(piece.km),
                begin_hour,
                end_hour,
                km: piece.km,
                fuel_t: share * (to.fuel_used_t - from.fuel_used_t),
                setting: Some(from.setting),
            };
            begin_hour = end_hour;
            step
        });
        Some(steps.collect())
    }

    /// A wait, frame by frame.
    fn wait(&self, from: &RoutePoint, to: &RoutePoint, steps: &mut Vec<PassageStep>) -> Option<()> {
        let cell = self.table.grid.cell_at(from.position)?;
        let whole_h = to.hour - from.hour;
        if whole_h <= 0.0 {
            return Some(());
        }
        let rate = (to.fuel_used_t - from.fuel_used_t) / whole_h;
        let frames = self.table.hours.iter().copied();
        let ends = frames.filter(|&hour| hour > from.hour && hour < to.hour).chain([to.hour]);
        let mut begin_hour = from.hour;
        for end_hour in ends {
            steps.push(PassageStep {
                cell,
                position: from.position,
                begin_hour,
                end_hour,
                km: 0.0,
                fuel_t: rate * (end_hour - begin_hour),
                setting: None,
            });
            begin_hour = end_hour;
        }
        Some(())
    }
}

/// Positions along a leg.
struct Run {
    from: Position,
    course_deg: f64,
    km: f64,
}

impl Run {
    fn along(from: &RoutePoint, to: &RoutePoint) -> Self {
        let course_deg = inverse(from.position, to.position).initial_course_deg;
        Self { from: from.position, course_deg, km: 0.0 }
    }

    /// Where it is, and then so far on.
    fn on(&mut self, km: f64) -> Position {
        let here = direct(self.from, self.course_deg, self.km).position;
        self.km += km;
        here
    }
}
