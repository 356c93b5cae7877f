//! The closed forms that the whole program must meet: trials, and what their answers may be.

use dipward_geodesy::{distance_km, inverse, position};
use dipward_plugin::Approach;

use crate::{BURN_T_PER_H, HOLD_T_PER_H, SPEED_KM_PER_H, Trial};

/// A figure of an approach and the bounds that it must keep.
#[derive(Debug, Clone, Copy)]
pub struct Figure {
    /// Its name.
    pub what: &'static str,
    /// Reads it off the approach.
    pub of: fn(&Approach) -> f64,
    /// The least that it may be.
    pub at_least: f64,
    /// The most that it may be.
    pub at_most: f64,
}

impl Figure {
    /// A figure that may be off by a share of what is expected.
    fn within(what: &'static str, of: fn(&Approach) -> f64, expected: f64, share: f64) -> Self {
        let off = expected.abs() * share;
        Self { what, of, at_least: expected - off, at_most: expected + off }
    }
}

/// A trial and the figures of its best approach.
#[derive(Debug, Clone)]
pub struct ClosedForm {
    /// The trial.
    pub trial: Trial,
    /// The figures.
    pub figures: Vec<Figure>,
}

impl ClosedForm {
    /// Holds the best approach of a run of the trial against the closed form.
    ///
    /// # Errors
    ///
    /// Each figure that is out of its bounds, a line each.
    pub fn check(&self, best: &Approach) -> Result<(), String> {
        let mut wrong = String::new();
        for Figure { what, of, at_least, at_most } in &self.figures {
            let found = of(best);
            if !(*at_least..=*at_most).contains(&found) {
                wrong += &format!("{what}: {found} is not within {at_least} to {at_most}\n");
            }
        }
        if wrong.is_empty() { Ok(()) } else { Err(wrong) }
    }
}

/// A trial without an approach.
#[derive(Debug, Clone)]
pub struct Refused {
    /// The trial.
    pub trial: Trial,
    /// What the reason must contain.
    pub reason: &'static str,
}

/// Hours on station.
fn stay_h(approach: &Approach) -> f64 {
    (approach.leave.as_millisecond() - approach.arrive.as_millisecond()) as f64 / 3.6e6
}

/// Open water and a pole that does not move: distance by Karney's geodesic, time by the speed, fuel by
/// the power law.
#[must_use]
pub fn open_water() -> ClosedForm {
    let (port, pole) = ((-50.0, 10.0), (-65.0, 60.0));
    let geodesic_km = distance_km(position(port.0, port.1), position(pole.0, pole.1));
    let hours = geodesic_km / SPEED_KM_PER_H;
    let shortest = Figure {
        what: "distance, against the shortest there is",
        of: |best| best.distance_km,
        at_least: geodesic_km * (1.0 - 1e-6),
        at_most: f64::INFINITY,
    };
    let bound = Figure {
        what: "lower bound, h",
        of: |best| best.lower_bound_h.unwrap_or(f64::NAN),
        at_least: hours * 0.98,
        at_most: hours * (1.0 + 1e-9),
    };
    let bound_home = Figure {
        what: "lower bound home, h",
        of: |best| best.home_bound.and_then(|bound| bound.lower_bound_h).unwrap_or(f64::NAN),
        at_least: hours * 0.98,
        at_most: hours * (1.0 + 1e-9),
    };
    let stay = Figure { what: "stay, h", of: stay_h, at_least: 4.0, at_most: 8.0 };
    ClosedForm {
        trial: Trial {
            hemisphere: "south",
            port,
            pole,
            cell_km: 10.0,
            margin_km: 300.0,
            ..Trial::default()
        },
        figures: vec![
            shortest,
            Figure::within("distance, km", |best| best.distance_km, geodesic_km, 0.003),
            Figure::within("duration, h", |best| best.duration_h, hours, 0.003),
            Figure::within("fuel out, t", |best| best.fuel_t.out, hours * BURN_T_PER_H, 0.003),
            Figure::within("fuel home, t", |best| best.fuel_t.home, hours * BURN_T_PER_H, 0.003),
            stay,
            Figure::within(
                "burn on station, t/h",
                |best| best.fuel_t.station / stay_h(best),
                HOLD_T_PER_H,
                1e-6,
            ),
            bound,
            bound_home,
            // A pole that does not move is attained for certain.
            Figure::within("attainment", |best| best.attainment.probability, 1.0, 0.0),
        ],
    }
}

/// From (0, 5) to (10, -5) with speeds of 2 and 1 on either side of y = 0, the root of the quartic of
/// the crossing; a test of this crate finds it again by ternary search.
const SNELL_TIME: f64 = 10.094_108;

/// Two half-planes of different speed: the time that Snell's law gives.
#[must_use]
pub fn two_half_planes() -> ClosedForm {
    const UNIT_KM: f64 = 20.0;
    let expected_h = SNELL_TIME * UNIT_KM / (SPEED_KM_PER_H / 2.0);
    ClosedForm {
        trial: Trial {
            port: Trial::near_pole(0.0, 5.0 * UNIT_KM),
            pole: Trial::near_pole(10.0 * UNIT_KM, -5.0 * UNIT_KM),
            cell_km: 1.0,
            layers: "    - kind: constant
      values: { speed_limit: 7.5 }
      inside: { box: { latitude_deg: [80, 90], longitude_deg: [-90, 90] } }
"
            .to_owned(),
            ..Trial::default()
        },
        figures: vec![Figure::within(
            "time by Snell's law, h",
            |best| best.duration_h,
            expected_h,
            0.003,
        )],
    }
}

/// A disc of no-go about the geographic pole, between two points: tangent, arc, tangent.
#[must_use]
pub fn disc() -> ClosedForm {
    const DISC_KM: f64 = 40.0;
    const AWAY_KM: f64 = 100.0;
    let tangent_km = (AWAY_KM * AWAY_KM - DISC_KM * DISC_KM).sqrt();
    let arc_km = DISC_KM * (std::f64::consts::PI - 2.0 * (DISC_KM / AWAY_KM).acos());
    ClosedForm {
        trial: Trial {
            port: Trial::near_pole(-AWAY_KM, 0.0),
            pole: Trial::near_pole(AWAY_KM, 0.0),
            cell_km: 0.5,
            layers: format!(
                "    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ circle: {{ latitude_deg: 90, longitude_deg: 0, radius_km: {DISC_KM} }} }}
"
            ),
            ..Trial::default()
        },
        figures: vec![Figure::within(
            "way round the disc, km",
            |best| best.distance_km,
            2.0 * tangent_km + arc_km,
            0.005,
        )],
    }
}

/// A target that moves at right angles: with d = 100, u = 1 and V = 5 the intercept triangle has the
/// meeting at 100 / sqrt(24).
#[must_use]
pub fn intercept() -> ClosedForm {
    const CELL_KM: f64 = 5.0;
    let pole_km_per_h = SPEED_KM_PER_H / 5.0;
    let start_km = 100.0 * pole_km_per_h;
    let meeting_h = 100.0 / 24.0_f64.sqrt();
    let grid_step_h = CELL_KM / SPEED_KM_PER_H;
    ClosedForm {
        trial: Trial {
            port: Trial::near_pole(-start_km / 2.0, 0.0),
            pole: Trial::near_pole(start_km / 2.0, 0.0),
            pole_km_per_h,
            // At 90 E, toward 180 E in the plane is due east.
            pole_bearing_deg: 90.0,
            cell_km: CELL_KM,
            margin_km: 250.0,
            ..Trial::default()
        },
        figures: vec![Figure {
            what: "meeting, h",
            of: |best| best.duration_h,
            at_least: meeting_h - grid_step_h,
            at_most: meeting_h + grid_step_h,
        }],
    }
}

/// The ways past the wall of [`gate`], hours: round its end, and from the gate on to the pole.
fn gate_hours() -> (f64, f64) {
    let km =
        |a: (f64, f64), b: (f64, f64)| inverse(position(a.0, a.1), position(b.0, b.1)).distance_km;
    let round_km =
        km(GATE_PORT, (88.0, 30.0)) + km((88.0, 30.0), (88.1, 30.0)) + km((88.1, 30.0), GATE_POLE);
    (round_km / SPEED_KM_PER_H, km((88.0, 0.0), GATE_POLE) / SPEED_KM_PER_H)
}

const GATE_PORT: (f64, f64) = (87.0, 0.0);
const GATE_POLE: (f64, f64) = (89.0, 0.0);
/// The hours at which the gate opens.
const GATE_EARLY_H: u32 = 6;
const GATE_LATE_H: u32 = 9;

/// A wall with a gate that opens at an hour: early, where it is waited for, and late, where the way
/// round the wall's end is earlier.
#[must_use]
pub fn gate() -> [ClosedForm; 2] {
    let (round_h, behind_gate_h) = gate_hours();
    let form = |opens_h: u32, what, expected_h| ClosedForm {
        trial: Trial {
            port: GATE_PORT,
            pole: GATE_POLE,
            cell_km: 1.0,
            margin_km: 200.0,
            layers: format!(
                "    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ box: {{ latitude_deg: [88, 88.1], longitude_deg: [-30, -2] }} }}
    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ box: {{ latitude_deg: [88, 88.1], longitude_deg: [2, 30] }} }}
    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ box: {{ latitude_deg: [88, 88.1], longitude_deg: [-2, 2] }} }}
      until: 2027-01-01T{opens_h:02}:00Z
"
            ),
            ..Trial::default()
        },
        figures: vec![Figure::within(what, |best| best.duration_h, expected_h, 0.01)],
    };
    let waited_h = f64::from(GATE_EARLY_H) + behind_gate_h;
    [
        form(GATE_EARLY_H, "waiting at the gate, h", waited_h),
        form(GATE_LATE_H, "going round the end, h", round_h),
    ]
}

/// The default trial with fuel for the way to the pole, times a factor.
fn with_fuel_for_ways(ways: f64) -> Trial {
    let trial = Trial::default();
    let (port, pole) = (trial.port, trial.pole);
    let geodesic_km = distance_km(position(port.0, port.1), position(pole.0, pole.1));
    Trial { capacity_t: ways * geodesic_km / SPEED_KM_PER_H * BURN_T_PER_H, ..trial }
}

/// Fuel for one way but not for the way home, and fuel for not even one way.
#[must_use]
pub fn too_little_fuel() -> [Refused; 2] {
    [
        Refused {
            trial: with_fuel_for_ways(1.5),
            reason: "not for the shortest stay and the way home",
        },
        Refused { trial: with_fuel_for_ways(0.5), reason: "on the fuel allowed" },
    ]
}

/// Fuel for both ways and a little more.
#[must_use]
pub fn enough_fuel() -> ClosedForm {
    ClosedForm {
        trial: with_fuel_for_ways(2.1),
        figures: vec![Figure {
            what: "fuel margin, t",
            of: |best| best.fuel_t.margin,
            at_least: 0.0,
            at_most: f64::INFINITY,
        }],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_by_snells_law_is_the_least_over_all_crossings() {
        let time = |x: f64| x.hypot(5.0) / 2.0 + (10.0 - x).hypot(5.0);
        let (mut low, mut high) = (0.0, 10.0);
        for _ in 0..200 {
            let third = (high - low) / 3.0;
            if time(low + third) < time(high - third) { high -= third } else { low += third }
        }
        assert!((time(low) - SNELL_TIME).abs() < 1e-6);
    }

    #[test]
    fn the_gate_is_worth_waiting_for_when_it_opens_early_alone() {
        let (round_h, behind_gate_h) = gate_hours();
        assert!(f64::from(GATE_EARLY_H) + behind_gate_h < 0.97 * round_h);
        assert!(1.03 * round_h < f64::from(GATE_LATE_H) + behind_gate_h);
    }
}
