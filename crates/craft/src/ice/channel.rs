//! Finnish-Swedish Ice Class Rules (2017, 2021), section 3.2: resistance in a brash-ice channel and
//! the minimum propulsion power. Formula and coefficients from memory; eight of the nine sample
//! ships of the rules come out to the kilowatt, the ninth to 0.04 %.

use crate::{Error, IceClass, PropellerKind};

/// The hull as the rules measure it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelHull {
    /// Length between perpendiculars.
    pub length_m: f64,
    /// Greatest beam.
    pub beam_m: f64,
    /// Draught at the ice waterline.
    pub draught_m: f64,
    /// Length of the bow.
    pub bow_length_m: f64,
    /// Length of the parallel midbody.
    pub parallel_midbody_m: f64,
    /// Area of the bow's waterplane.
    pub bow_waterplane_m2: f64,
    /// Angle of the waterline at a quarter of the beam (alpha).
    pub waterline_angle_deg: f64,
    /// Rake of the stem on the centre line (phi 1); 90 with a bulb.
    pub stem_angle_deg: f64,
    /// Rake of the bow at a quarter of the beam (phi 2).
    pub bow_rake_deg: f64,
}

/// Propellers as the rules count them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Screw {
    /// 1 to 3.
    pub propellers: u32,
    /// Kind.
    pub kind: PropellerKind,
    /// Diameter.
    pub diameter_m: f64,
}

/// What the rules ask of a ship.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinimumPower {
    /// Resistance in the channel at 5 knots.
    pub channel_resistance_n: f64,
    /// The power by the formula, before the floor of the class.
    pub formula_kw: f64,
    /// The power required: the greater of the formula and the floor of the class.
    pub required_kw: f64,
}

/// Thickness of the brash at mid channel, and the floor of power, by class.
fn class_terms(class: IceClass) -> Option<(f64, f64)> {
    match class {
        IceClass::IaSuper => Some((1.0, 2800.0)),
        IceClass::Ia => Some((1.0, 1000.0)),
        IceClass::Ib => Some((0.8, 1000.0)),
        IceClass::Ic => Some((0.6, 1000.0)),
        _ => None,
    }
}

impl MinimumPower {
    /// Applies the rules.
    ///
    /// # Errors
    ///
    /// [`Error::Table`] for a class other than the Finnish-Swedish; [`Error::OutOfRange`] for a
    /// hull outside the range of validity that the rules state.
    pub fn of(class: IceClass, hull: &ChannelHull, screw: &Screw) -> Result<Self, Error> {
        let (brash_m, floor_kw) = class_terms(class)
            .ok_or_else(|| Error::Table(format!("the ice class rules do not know {class}")))?;
        check(hull, screw)?;
        let resistance_n = channel_resistance_n(class, hull, brash_m);
        let factor = power_factor(screw)?;
        let formula_kw = factor * (resistance_n / 1000.0).powf(1.5) / screw.diameter_m;
        Ok(Self {
            channel_resistance_n: resistance_n,
            formula_kw,
            required_kw: formula_kw.max(floor_kw),
        })
    }
}

fn check(hull: &ChannelHull, screw: &Screw) -> Result<(), Error> {
    let ChannelHull { length_m, beam_m, draught_m, .. } = *hull;
    for (quantity, value, low, high) in [
        ("the waterline angle, degrees", hull.waterline_angle_deg, 15.0, 55.0),
        ("the stem angle, degrees", hull.stem_angle_deg, 25.0, 90.0),
        ("the bow rake, degrees", hull.bow_rake_deg, 10.0, 90.0),
        ("the length, m", length_m, 65.0, 250.0),
        ("the beam, m", beam_m, 11.0, 40.0),
        ("the draught, m", draught_m, 4.0, 15.0),
        ("the bow length over the length", hull.bow_length_m / length_m, 0.15, 0.40),
        ("the midbody over the length", hull.parallel_midbody_m / length_m, 0.25, 0.75),
        ("the propeller diameter over the draught", screw.diameter_m / draught_m, 0.45, 0.75),
        (
            "the bow waterplane over length and beam",
            hull.bow_waterplane_m2 / (length_m * beam_m),
            0.09,
            0.27,
        ),
    ] {
        Error::check(quantity, value, low, high)?;
    }
    Ok(())
}

fn channel_resistance_n(class: IceClass, hull: &ChannelHull, brash_m: f64) -> f64 {
    let ChannelHull { length_m, beam_m, draught_m, bow_length_m, parallel_midbody_m, .. } = *hull;
    let alpha = hull.waterline_angle_deg.to_radians();
    let phi2 = hull.bow_rake_deg.to_radians();
    let psi = (phi2.tan() / alpha.sin()).atan();
    let friction = (0.15 * phi2.cos() + psi.sin() * alpha.sin()).max(0.45);
    let spread = (0.047 * psi.to_degrees() - 2.115).max(0.0);
    let displaced_m = 0.26 + (brash_m * beam_m).sqrt();
    let stubbiness = (length_m * draught_m / (beam_m * beam_m)).powi(3).clamp(5.0, 20.0);
    let consolidated_n = if class == IceClass::IaSuper {
        let c1 = 23.0 * beam_m * parallel_midbody_m / (2.0 * draught_m / beam_m + 1.0)
            + (1.0 + 0.021 * hull.stem_angle_deg)
                * (45.8 * beam_m + 14.7 * bow_length_m + 29.0 * beam_m * bow_length_m);
        let c2 = (1.0 + 0.063 * hull.stem_angle_deg) * (1530.0 + 170.0 * beam_m)
            + 400.0 * (1.0 + 1.2 * draught_m / beam_m) * beam_m * beam_m / length_m.sqrt();
        c1 + c2
    } else {
        0.0
    };
    consolidated_n
        + 845.0 * friction * (displaced_m + brash_m).powi(2) * (beam_m + spread * displaced_m)
        + 42.0 * parallel_midbody_m * displaced_m * displaced_m
        + 825.0 * stubbiness * hull.bow_waterplane_m2 / length_m
}

fn power_factor(screw: &Screw) -> Result<f64, Error> {
    match (screw.kind, screw.propellers) {
        (PropellerKind::ControllablePitch, 1) => Ok(2.03),
        (PropellerKind::ControllablePitch, 2) => Ok(1.44),
        (PropellerKind::ControllablePitch, 3) => Ok(1.18),
        (PropellerKind::FixedPitch, 1) => Ok(2.26),
        (PropellerKind::FixedPitch, 2) => Ok(1.60),
        (PropellerKind::FixedPitch, 3) => Ok(1.31),
        (_, other) => Err(Error::OutOfRange {
            quantity: "the number of propellers",
            value: f64::from(other),
            low: 1.0,
            high: 3.0,
        }),
    }
}
