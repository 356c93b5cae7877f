//! Magnetic coordinates that follow the field lines.

use dipward_plugin::{Error, Site};
use jiff::Timestamp;

use crate::{
    GaussModel,
    amps::{
        dipole::Dipole,
        far_field::FarField,
        field_line::{Apex, Stand, apex},
        sun,
        vector::{Vector, dot, plus, scaled},
    },
    ellipsoid_frame::check_site,
};

/// The mean radius that the apex coordinates are defined with, km.
const MEAN_RADIUS_KM: f64 = 6371.009;

/// Half the way over which the coordinates are differenced, km: short against the field's structure,
/// long against what the tracing leaves undecided.
const HALF_WAY_KM: f64 = 20.0;

/// A site's place in quasi-dipole and modified-apex coordinates, with its base vectors.
///
/// Both come from the apex of the field line through the site, its highest point above the
/// ellipsoid, at height h_A: with R the mean radius and h the site's height,
///
/// ```text
///   cos^2 lat_qd = (R + h) / (R + h_A)        quasi-dipole
///   cos^2 lat_ma = (R + h_R) / (R + h_A)      modified apex, h_R the reference height
/// ```
///
/// and the longitude of both is the centred-dipole longitude of the apex.
///
/// # Source
///
/// A. D. Richmond, J. Geomagn. Geoelectr. 47, 191 (1995); the mean radius as J. T. Emmert et al.,
/// J. Geophys. Res. 115, A08322 (2010). The lines are traced; nothing is interpolated.
#[derive(Debug, Clone, Copy)]
pub struct MagneticPlace {
    apex_height_km: f64,
    site_height_km: f64,
    latitude_deg: f64,
    longitude_deg: f64,
    /// R + h times the horizontal gradient of the quasi-dipole latitude, Earth-fixed.
    latitude_gradient: Vector,
    /// R + h times cos lat_qd times that of the longitude.
    longitude_gradient: Vector,
    pub(crate) stand: Stand,
    pub(crate) dipole: Dipole,
}

impl MagneticPlace {
    /// Traces the field lines through and about a site, by the first 13 degrees of `model`.
    ///
    /// # Arguments
    ///
    /// Outside the years of `model` its straight lines are carried on.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for a site that is not on Earth; [`Error::Unsolved`] at the magnetic poles
    /// of these coordinates (not the dip poles, 6 to 12 degrees away), where they have no longitude.
    ///
    /// # Complexity
    ///
    /// Five field lines, each some hundred steps of four field values.
    pub fn of(model: &GaussModel, decimal_year: f64, site: &Site) -> Result<Self, Error> {
        check_site(site)?;
        let field = FarField::new(model, decimal_year);
        let dipole = Dipole::of(&field);
        let stand = Stand::of(site);
        let coordinates = |apex: &Apex| {
            [
                quasi_dipole_latitude(site.height_km, apex),
                dipole.longitude_deg(apex.place).to_radians(),
            ]
        };
        let top = apex(&field, stand.place)?;
        let [latitude, longitude] = coordinates(&top);
        let (mut latitude_gradient, mut longitude_gradient) = ([0.0; 3], [0.0; 3]);
        let half_way = HALF_WAY_KM / FarField::RADIUS_KM;
        let scale = (MEAN_RADIUS_KM + site.height_km) / (2.0 * HALF_WAY_KM);
        for axis in [stand.north, stand.east] {
            // A plane leaves the ellipsoid equally on both sides, so that this cancels.
            let ahead = coordinates(&apex(&field, plus(stand.place, half_way, axis))?);
            let behind = coordinates(&apex(&field, plus(stand.place, -half_way, axis))?);
            let turn = (ahead[1] - behind[1]).sin().asin();
            latitude_gradient = plus(latitude_gradient, scale * (ahead[0] - behind[0]), axis);
            longitude_gradient = plus(longitude_gradient, scale * turn * latitude.cos(), axis);
        }
        Ok(Self {
            apex_height_km: top.height_km,
            site_height_km: site.height_km,
            latitude_deg: latitude.to_degrees(),
            longitude_deg: longitude.to_degrees(),
            latitude_gradient,
            longitude_gradient,
            stand,
            dipole,
        })
    }

    /// The apex's height above the ellipsoid.
    #[must_use]
    pub const fn apex_height_km(&self) -> f64 {
        self.apex_height_km
    }

    /// The site's own height.
    pub(crate) const fn site_height_km(&self) -> f64 {
        self.site_height_km
    }

    /// Quasi-dipole latitude.
    #[must_use]
    pub const fn quasi_dipole_latitude_deg(&self) -> f64 {
        self.latitude_deg
    }

    /// Quasi-dipole longitude, which is the modified-apex longitude too.
    #[must_use]
    pub const fn longitude_deg(&self) -> f64 {
        self.longitude_deg
    }

    /// Modified-apex latitude for a reference height; `None` where the line stays below that height.
    #[must_use]
    pub fn modified_apex_latitude_deg(&self, reference_height_km: f64) -> Option<f64> {
        let ratio = (MEAN_RADIUS_KM + reference_height_km) / (MEAN_RADIUS_KM + self.apex_height_km);
        (ratio <= 1.0).then(|| ratio.sqrt().acos().to_degrees().copysign(self.latitude_deg))
    }

    /// The base vectors f1 and f2 of quasi-dipole coordinates as `[east, north]` (Richmond 1995,
    /// equations 6.8 and 6.9): what eastward and northward unit vectors of magnetic coordinates are
    /// in geodetic ones, stretched with the coordinates.
    #[must_use]
    pub fn quasi_dipole_base(&self) -> [[f64; 2]; 2] {
        let part = |gradient: Vector, axis: Vector| dot(gradient, axis);
        let Stand { north, east, .. } = self.stand;
        [
            [part(self.latitude_gradient, north), -part(self.latitude_gradient, east)],
            [-part(self.longitude_gradient, north), part(self.longitude_gradient, east)],
        ]
    }

    /// Magnetic local time at an instant, hours in 0..24, from the centred dipole's longitude of the
    /// subsolar point.
    #[must_use]
    pub fn local_time_h(&self, instant: Timestamp) -> f64 {
        self.dipole.local_time_h(self.longitude_deg, sun::direction(instant))
    }

    /// How far the northern end of the dipole leans toward the Sun, degrees.
    #[must_use]
    pub fn dipole_tilt_deg(&self, instant: Timestamp) -> f64 {
        self.dipole.tilt_deg(sun::direction(instant))
    }

    /// The magnetic coordinates of a place nearby at the same height, to first order: at 40 km right
    /// to 0.01 degrees.
    pub(crate) fn nearby(&self, place: Vector) -> Nearby {
        let away = scaled(
            plus(place, -1.0, self.stand.place),
            FarField::RADIUS_KM / (MEAN_RADIUS_KM + self.site_height_km),
        );
        let latitude = self.latitude_deg.to_radians();
        let turn = dot(away, self.longitude_gradient) / latitude.cos();
        let (sine, cosine) = (turn * latitude.sin()).sin_cos();
        // The magnetic axes turn with the longitude, by as much as the meridians converge.
        let turned = |east: f64, north: f64| {
            plus(scaled(self.longitude_gradient, east), north, self.latitude_gradient)
        };
        Nearby {
            latitude_deg: self.latitude_deg + dot(away, self.latitude_gradient).to_degrees(),
            longitude_deg: self.longitude_deg + turn.to_degrees(),
            east: turned(cosine, sine),
            north: turned(-sine, cosine),
        }
    }
}

/// The magnetic coordinates of a place and what a gradient in them is in the Earth-fixed frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nearby {
    /// Quasi-dipole latitude.
    pub(crate) latitude_deg: f64,
    /// Quasi-dipole longitude.
    pub(crate) longitude_deg: f64,
    /// (R + h) cos lat times the horizontal gradient of the longitude.
    pub(crate) east: Vector,
    /// (R + h) times that of the latitude.
    pub(crate) north: Vector,
}

/// Quasi-dipole latitude in radians, from a height and an apex.
pub(crate) fn quasi_dipole_latitude(height_km: f64, apex: &Apex) -> f64 {
    let ratio = (MEAN_RADIUS_KM + height_km) / (MEAN_RADIUS_KM + apex.height_km);
    let latitude = ratio.min(1.0).sqrt().acos();
    if apex.northern { latitude } else { -latitude }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::igrf14;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Anywhere on Earth there are coordinates that hold together, or an error.
        #[test]
        fn every_place_is_answered(
            latitude_deg in -90.0..=90.0_f64,
            longitude_deg in -180.0..=180.0_f64,
            height_km in 0.0..2000.0_f64,
        ) {
            let model = igrf14().unwrap();
            let site = Site { latitude_deg, longitude_deg, height_km };
            if let Ok(place) = MagneticPlace::of(&model, 2027.0, &site) {
                prop_assert!(place.apex_height_km() > height_km - 1e-3);
                prop_assert!(place.quasi_dipole_latitude_deg().abs() <= 90.0);
                prop_assert!(place.longitude_deg().abs() <= 180.0);
                // Seen from the reference height of the site itself the two latitudes are one.
                let apex = place.modified_apex_latitude_deg(height_km.min(place.apex_height_km()));
                let off = apex.unwrap() - place.quasi_dipole_latitude_deg();
                prop_assert!(off.abs() < 1e-3, "{off}");
            }
        }
    }

    #[test]
    fn a_place_nearby_is_as_if_traced() {
        let model = igrf14().unwrap();
        for (latitude_deg, longitude_deg, dlat, dlon) in
            [(85.4, 132.0, 0.2, 3.0), (-63.8, 134.7, -0.25, 0.5), (89.9, 10.0, 0.05, 170.0)]
        {
            let at = |dlat, dlon| Site {
                latitude_deg: latitude_deg + dlat,
                longitude_deg: longitude_deg + dlon,
                height_km: 0.0,
            };
            let here = MagneticPlace::of(&model, 2027.0, &at(0.0, 0.0)).unwrap();
            let there = MagneticPlace::of(&model, 2027.0, &at(dlat, dlon)).unwrap();
            let nearby = here.nearby(there.stand.place);
            let turn = nearby.longitude_deg - there.longitude_deg;
            let off = [
                nearby.latitude_deg - there.latitude_deg,
                turn * there.latitude_deg.to_radians().cos(),
            ];
            assert!(off[0].hypot(off[1]) < 0.01, "{off:?}");
            for (nearby, there) in
                [(nearby.east, there.longitude_gradient), (nearby.north, there.latitude_gradient)]
            {
                let off = plus(nearby, -1.0, there);
                assert!(dot(off, off).sqrt() < 0.01, "{off:?}");
            }
        }
    }
}
