//! Directions on the map as shares of the two heading sectors that they lie between.

/// Two neighbouring sectors and the share of the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Heading {
    pub(crate) first: u16,
    pub(crate) second: u16,
    /// Share of the second sector, 0 to 1.
    pub(crate) share: f32,
}

impl Heading {
    /// What stands for every direction where heading does not matter.
    pub(crate) const ANY: Self = Self { first: 0, second: 0, share: 0.0 };

    /// The direction (dx, dy) among `sectors` that are centred on 360 s / n degrees clockwise from
    /// +y. Between the centres pace and burn are linear in the angle.
    pub(crate) fn of_direction(dx: f64, dy: f64, sectors: usize) -> Self {
        if sectors <= 1 {
            return Self::ANY;
        }
        let turn = dx.atan2(dy) / std::f64::consts::TAU;
        let place = turn.rem_euclid(1.0) * sectors as f64;
        let first = place.floor() as usize % sectors;
        Self {
            first: first as u16,
            second: ((first + 1) % sectors) as u16,
            share: (place - place.floor()) as f32,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_fall_between_the_right_sectors() {
        let north = Heading::of_direction(0.0, 1.0, 8);
        assert_eq!((north.first, north.second, north.share), (0, 1, 0.0));
        let east = Heading::of_direction(1.0, 0.0, 8);
        assert_eq!((east.first, east.second), (2, 3));
        assert!(east.share < 1e-6);
        let near_north = Heading::of_direction(-1e-12, 1.0, 8);
        assert_eq!((near_north.first, near_north.second), (7, 0));
        let between =
            Heading::of_direction((22.5_f64).to_radians().sin(), (22.5_f64).to_radians().cos(), 8);
        assert!((between.share - 0.5).abs() < 1e-6);
    }
}
