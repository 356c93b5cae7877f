use crate::Error;

/// Radius of action: how far out the fuel less the reserve reaches, burning and moving at different
/// rates out and home: `(F - R) / (f_out / g_out + f_home / g_home)`.
///
/// # Arguments
///
/// Fuel in any one unit, flows in that unit an hour, speeds over the ground in knots.
///
/// # Errors
///
/// [`Error::OutOfRange`] where the reserve exceeds the fuel, or a flow or a speed is not above
/// zero.
pub fn radius_of_action_nm(
    fuel: f64,
    reserve: f64,
    (out_flow, out_speed_kn): (f64, f64),
    (home_flow, home_speed_kn): (f64, f64),
) -> Result<f64, Error> {
    Error::check("the fuel", fuel, 0.0, f64::MAX)?;
    Error::check("the reserve", reserve, 0.0, fuel)?;
    for (quantity, value) in [
        ("the flow out", out_flow),
        ("the flow home", home_flow),
        ("the ground speed out, kn", out_speed_kn),
        ("the ground speed home, kn", home_speed_kn),
    ] {
        Error::check(quantity, value, f64::MIN_POSITIVE, f64::MAX)?;
    }
    Ok((fuel - reserve) / (out_flow / out_speed_kn + home_flow / home_speed_kn))
}

/// The last point from which one can return to the origin on the safe endurance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointOfNoReturn {
    /// Hours out.
    pub hours: f64,
    /// Distance out.
    pub distance_nm: f64,
}

impl PointOfNoReturn {
    /// `t = E H / (O + H)`, with E the endurance less the reserve, O the ground speed out, H that
    /// home.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] for a negative endurance or a speed not above zero.
    pub fn of(endurance_h: f64, out_kn: f64, home_kn: f64) -> Result<Self, Error> {
        let endurance_h = Error::check("the safe endurance, h", endurance_h, 0.0, 1.0e6)?;
        let out_kn = Error::check("the ground speed out, kn", out_kn, f64::MIN_POSITIVE, 1.0e4)?;
        let home_kn = Error::check("the ground speed home, kn", home_kn, f64::MIN_POSITIVE, 1.0e4)?;
        let hours = endurance_h * home_kn / (out_kn + home_kn);
        Ok(Self { hours, distance_nm: hours * out_kn })
    }
}

/// The point from which it takes as long to go on as to return, whatever the fuel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CriticalPoint {
    /// Hours out.
    pub hours: f64,
    /// Distance out.
    pub distance_nm: f64,
}

impl CriticalPoint {
    /// `d = D H / (O + H)`, with D the whole distance, O the ground speed on, H that back to the
    /// origin.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] for a negative distance or a speed not above zero.
    pub fn of(distance_nm: f64, on_kn: f64, back_kn: f64) -> Result<Self, Error> {
        let distance_nm = Error::check("the distance, nm", distance_nm, 0.0, 1.0e6)?;
        let on_kn = Error::check("the ground speed on, kn", on_kn, f64::MIN_POSITIVE, 1.0e4)?;
        let back_kn = Error::check("the ground speed back, kn", back_kn, f64::MIN_POSITIVE, 1.0e4)?;
        let out_nm = distance_nm * back_kn / (on_kn + back_kn);
        Ok(Self { hours: out_nm / on_kn, distance_nm: out_nm })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// As seen in two pilots' handbooks on the web: 6 h 30 min, 240 and 210 knots: 182 min, 728 nm;
    /// 10 h at 100/100, 50/150 and 150/50 knots: 500, 375 and 375 nm.
    #[test]
    fn published_points_of_no_return() {
        let point = PointOfNoReturn::of(6.5, 240.0, 210.0).unwrap();
        assert!((point.hours * 60.0 - 182.0).abs() < 0.01);
        assert!((point.distance_nm - 728.0).abs() < 0.01);
        for (out, home, distance) in
            [(100.0, 100.0, 500.0), (50.0, 150.0, 375.0), (150.0, 50.0, 375.0)]
        {
            assert_eq!(PointOfNoReturn::of(10.0, out, home).unwrap().distance_nm, distance);
        }
    }

    /// Inputs as seen in such a handbook (920 nm, 240 and 210 knots), recomputed: 429.33 nm, 107.3
    /// min.
    #[test]
    fn published_critical_point_recomputed() {
        let point = CriticalPoint::of(920.0, 240.0, 210.0).unwrap();
        assert!((point.distance_nm - 429.33).abs() < 0.005);
        assert!((point.hours * 60.0 - 107.33).abs() < 0.005);
    }

    /// An invented helicopter, recomputed: 900 kg, reserve 180, 300 kg/h at 110 knots out, 280 at
    /// 130 home: 147.51 nm.
    #[test]
    fn published_radius_of_action_recomputed() {
        let radius = radius_of_action_nm(900.0, 180.0, (300.0, 110.0), (280.0, 130.0)).unwrap();
        assert!((radius - 147.51).abs() < 0.005);
        assert!(radius_of_action_nm(100.0, 180.0, (300.0, 110.0), (280.0, 130.0)).is_err());
        assert!(radius_of_action_nm(900.0, 180.0, (300.0, 0.0), (280.0, 130.0)).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn wind_along_the_track_always_shortens(speed in 50.0..200.0, part in -0.95..0.95) {
            let wind = speed * part;
            let still = radius_of_action_nm(10.0, 1.0, (1.0, speed), (1.0, speed)).unwrap();
            let blown =
                radius_of_action_nm(10.0, 1.0, (1.0, speed + wind), (1.0, speed - wind)).unwrap();
            prop_assert!(blown <= still * (1.0 + 1e-12));
            let point = PointOfNoReturn::of(9.0, speed + wind, speed - wind).unwrap();
            prop_assert!((blown - point.distance_nm).abs() < 1e-9 * still);
        }

        #[test]
        fn no_return_lies_beyond_the_critical_point_just_if_the_destination_is_in_reach(
            endurance in 1.0..20.0, out in 50.0..300.0, home in 50.0..300.0,
            distance in 10.0..4000.0,
        ) {
            let no_return = PointOfNoReturn::of(endurance, out, home).unwrap().distance_nm;
            let critical = CriticalPoint::of(distance, out, home).unwrap().distance_nm;
            prop_assume!((endurance * out / distance - 1.0).abs() > 1e-9);
            prop_assert_eq!(no_return >= critical, endurance * out >= distance);
        }
    }
}
