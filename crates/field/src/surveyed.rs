//! A pole that somebody has surveyed, in place of a model of the whole field.

use std::ops::RangeInclusive;

use dipward_geodesy::{Hemisphere, Position, geodesic};
use dipward_plugin::{
    Assumption, ComponentSigma, Error, FieldSample, FieldSigma, FieldVector, MainField, Provenance,
    Site,
};

use crate::{
    ellipsoid_frame::{check_lengths, check_site},
    plane_matrix::{Matrix, singular_values},
    series::ANY_YEAR,
    tangent::TangentPlane,
};

/// A dip pole with the field about it: H = J (x - x_p(t)) in the plane that touches the Earth at the
/// pole, x_p moving along a geodesic at a steady speed, and Z the same everywhere.
///
/// True near the pole only. It is what an observer knows who has found the pole and no more.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyedPole {
    /// Where the pole was found.
    pub position: Position,
    /// When, as a decimal year.
    pub epoch: f64,
    /// Speed of its drift for each decimal year; 365 days or 366.
    pub drift_km_per_year: f64,
    /// True bearing of the drift at the epoch.
    pub drift_bearing_deg: f64,
    /// The field's growth away from the pole: rows north and east component, columns toward north
    /// and east at the pole. Negative about a north dip pole.
    pub jacobian_nt_per_km: [[f64; 2]; 2],
    /// Z, positive down.
    pub vertical_nt: f64,
    /// How wrong the survey may be, one sigma of each coordinate.
    pub sigma_km: f64,
    /// How that grows for each year from the epoch.
    pub sigma_growth_km_per_year: f64,
}

impl SurveyedPole {
    /// Where it is at a decimal year.
    #[must_use]
    pub fn position_at(&self, decimal_year: f64) -> Position {
        let distance_km = self.drift_km_per_year * (decimal_year - self.epoch);
        if distance_km == 0.0 {
            return self.position;
        }
        geodesic::direct(self.position, self.drift_bearing_deg, distance_km).position
    }

    /// One km at the pole in nT, in the middle of the directions.
    fn nt_per_km(&self) -> f64 {
        let [larger, smaller] = singular_values(self.jacobian_nt_per_km);
        (larger * smaller).sqrt()
    }
}

impl MainField for SurveyedPole {
    fn provenance(&self) -> Provenance {
        let (latitude, longitude) = (self.position.y(), self.position.x());
        Provenance {
            name: "surveyed pole".into(),
            source: format!("{latitude:.4}, {longitude:.4} at {:.3}", self.epoch),
            licence: None,
        }
    }

    fn years(&self) -> RangeInclusive<f64> {
        ANY_YEAR
    }

    fn sample(
        &self,
        decimal_year: f64,
        sites: &[Site],
        out: &mut [FieldSample],
    ) -> Result<(), Error> {
        if !ANY_YEAR.contains(&decimal_year) {
            return Err(Error::Outside(format!("{decimal_year} is not a year")));
        }
        check_lengths(sites, out)?;
        let pole = TangentPlane::at(self.position_at(decimal_year), 0.0);
        for (site, out) in sites.iter().zip(out) {
            check_site(site)?;
            *out = self.about(&pole, site);
        }
        Ok(())
    }

    fn sigma(&self, decimal_year: f64, _: Hemisphere) -> FieldSigma {
        let grown = self.sigma_growth_km_per_year * (decimal_year - self.epoch).abs();
        FieldSigma {
            forecast: ComponentSigma::isotropic(grown * self.nt_per_km()),
            crust: ComponentSigma::isotropic(self.sigma_km * self.nt_per_km()),
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let assume = |text: String| Assumption::new("pole.model", text);
        vec![
            assume(format!(
                "the pole is where it was surveyed at {:.3}, drifting {} km a year toward {} degrees",
                self.epoch, self.drift_km_per_year, self.drift_bearing_deg
            )),
            assume(
                "the horizontal field grows in straight lines away from the surveyed pole".into(),
            ),
        ]
    }
}

impl SurveyedPole {
    fn about(&self, pole: &TangentPlane, site: &Site) -> FieldSample {
        let there = dipward_geodesy::position(site.latitude_deg, site.longitude_deg);
        let [[a, b], [c, d]] = self.jacobian_nt_per_km;
        let [north, east] = pole.offset_km(there);
        let turn = pole.turn_at(there);
        let [x, y] = turn.undo([a * north + b * east, c * north + d * east]);
        let z = self.vertical_nt;
        // The tensor that makes this field along the ellipsoid, the turning of the axes taken off.
        let slope =
            turned_back(self.jacobian_nt_per_km, |along| turn.apply(along), |at| turn.undo(at));
        let [along, across] = TangentPlane::at(there, site.height_km).radii_km();
        let (nn, ee) = (slope[0][0] - z / along, slope[1][1] - z / across);
        let (ne, en, nd, ed) = (slope[0][1], slope[1][0], x / along, y / across);
        FieldSample {
            vector: FieldVector { north_nt: x, east_nt: y, down_nt: z },
            gradient_nt_per_km: [[nn, ne, nd], [en, ee, ed], [nd, ed, -nn - ee]],
        }
    }
}

/// A matrix told in axes turned back from those it is given in.
fn turned_back(
    matrix: Matrix,
    apply: impl Fn([f64; 2]) -> [f64; 2],
    undo: impl Fn([f64; 2]) -> [f64; 2],
) -> Matrix {
    let columns = [[1.0, 0.0], [0.0, 1.0]].map(|axis| {
        let [u, v] = apply(axis);
        undo([0, 1].map(|row: usize| matrix[row][0] * u + matrix[row][1] * v))
    });
    [[columns[0][0], columns[1][0]], [columns[0][1], columns[1][1]]]
}
