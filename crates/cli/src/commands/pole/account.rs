//! What is told of a dip pole.

use std::fmt::Write;

use dipward_field::{
    DipPole, Drift, DriftSides, Ellipse, PoleUncertainty,
    learnt::{LearntResponse, Refit},
    median_kp_of_season,
};
use dipward_geodesy::{Hemisphere, geodesic, position};
use dipward_plugin::{Assumption, Error, FieldSample, FieldSigma, MainField, Site};
use jiff::{Timestamp, Unit};
use serde::Serialize;

use crate::{arguments::Pole, moment::Moment};

/// Roots nearer to the principal pole than this are the pole itself.
const SAME_POLE_KM: f64 = 0.01;

/// A dip pole as other programs read it.
#[derive(Debug, Serialize)]
pub(super) struct Account {
    hemisphere: Hemisphere,
    model: String,
    time: Timestamp,
    decimal_year: f64,
    latitude_deg: f64,
    longitude_deg: f64,
    height_km: f64,
    /// What is left of the horizontal field at the position.
    h_nt: f64,
    z_nt: f64,
    f_nt: f64,
    drift_km_per_year: f64,
    drift_bearing_deg: f64,
    /// `drift_before` and `drift_after` an epoch, where the motion jumps.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    drift_sides: Option<DriftSides>,
    /// Rows are the north and east component, columns the way north and east.
    jacobian_nt_per_km: [[f64; 2]; 2],
    uncertainty: Uncertainty,
    /// Other points of this hemisphere where the field is vertical; only told for one instant.
    #[serde(skip_serializing_if = "Option::is_none")]
    further_poles: Option<Vec<FurtherPole>>,
    /// Why they cannot be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    further_poles_unknown: Option<String>,
    assumptions: Vec<Assumption>,
}

/// A point where the field is vertical that is not the principal pole.
#[derive(Debug, Serialize)]
struct FurtherPole {
    latitude_deg: f64,
    longitude_deg: f64,
    /// From the principal pole.
    distance_km: f64,
    /// A saddle, where the horizontal field turns the other way round.
    saddle: bool,
}

/// How well the pole is known, part by part.
#[derive(Debug, Serialize)]
struct Uncertainty {
    sigma_nt: FieldSigma,
    /// One sigma of each component of the currents' field.
    disturbance_nt: f64,
    /// The Kp that it is told for; none where it was stated itself.
    disturbance_kp: Option<f64>,
    /// Where it comes from.
    disturbance_by: &'static str,
    /// The mean pole, which the disturbance of the moment does not move.
    one_sigma: Ellipse,
    ellipse_50: Ellipse,
    ellipse_95: Ellipse,
    /// `forecast`, `crust`, `disturbance` and the `total` of them, each holding 95 in 100.
    #[serde(flatten)]
    parts_95: PoleUncertainty,
}

impl Account {
    pub(super) fn of(
        model: &dyn MainField,
        moment: &Moment,
        pole: &DipPole,
        request: &Pole,
    ) -> Result<Self, Error> {
        let (latitude_deg, longitude_deg) = (pole.position.y(), pole.position.x());
        let site = Site { latitude_deg, longitude_deg, height_km: pole.height_km };
        let mut sample = [FieldSample::default()];
        model.sample(moment.decimal_year, &[site], &mut sample)?;
        let [sample] = sample;
        let one_sigma = pole.sigma_ellipse();
        let response =
            LearntResponse::at(latitude_deg, longitude_deg, moment.decimal_year, Refit::All)?;
        let of_kp = |kp| (response.moments(kp, moment.instant).sigma_nt(), Some(kp));
        let ((disturbance_nt, kp), disturbance_by) = match (request.disturbance_nt, request.kp) {
            (Some(stated), _) => ((stated, None), "as stated"),
            (None, Some(kp)) => (of_kp(kp), "as stated"),
            (None, None) => {
                (of_kp(median_kp_of_season(moment.instant)), "the median of the season since 1957")
            }
        };
        let mut assumptions = model.assumptions();
        if kp.is_some() {
            let text = "the disturbance is the root mean square, at this hour of the day and season, of \
                        the response learnt from polar-cap observatories";
            assumptions.push(Assumption::new("disturbance", text));
        }
        Ok(Self {
            hemisphere: pole.hemisphere,
            model: model.provenance().name,
            // A decimal year is not an instant to the nanosecond.
            time: moment.instant.round(Unit::Second).unwrap_or(moment.instant),
            decimal_year: moment.decimal_year,
            latitude_deg,
            longitude_deg,
            height_km: pole.height_km,
            h_nt: sample.vector.horizontal_nt(),
            z_nt: sample.vector.down_nt,
            f_nt: sample.vector.total_nt(),
            drift_km_per_year: pole.drift_km_per_year,
            drift_bearing_deg: pole.drift_bearing_deg,
            drift_sides: pole.drift_sides,
            jacobian_nt_per_km: pole.jacobian_nt_per_km,
            uncertainty: Uncertainty {
                sigma_nt: pole.sigma,
                disturbance_nt,
                disturbance_kp: kp.map(dipward_field::Kp::value),
                disturbance_by,
                one_sigma,
                ellipse_50: one_sigma.holding(0.5),
                ellipse_95: one_sigma.holding(0.95),
                parts_95: pole.uncertainty(disturbance_nt).holding(0.95),
            },
            further_poles: None,
            further_poles_unknown: None,
            assumptions,
        })
    }

    /// Notes the other points of the hemisphere where the field is vertical.
    pub(super) fn set_further(&mut self, all: Result<&[DipPole], &Error>) {
        let here = position(self.latitude_deg, self.longitude_deg);
        let distance = |pole: &DipPole| geodesic::distance_km(here, pole.position);
        match all {
            Ok(all) => {
                let others = all.iter().filter(|pole| {
                    pole.hemisphere == self.hemisphere && distance(pole) > SAME_POLE_KM
                });
                let told = others.map(|pole| FurtherPole {
                    latitude_deg: pole.position.y(),
                    longitude_deg: pole.position.x(),
                    distance_km: distance(pole),
                    saddle: pole.is_saddle(),
                });
                let mut told: Vec<FurtherPole> = told.collect();
                told.sort_by(|a, b| a.distance_km.total_cmp(&b.distance_km));
                self.further_poles = Some(told);
            }
            Err(error) => self.further_poles_unknown = Some(error.to_string()),
        }
    }

    /// All of it, a line each.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        let mut line = |name: &str, value: std::fmt::Arguments<'_>| {
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{name:20}{value}");
        };
        line("dip pole", format_args!("{}, {}", self.hemisphere, self.model));
        line("time", format_args!("{} ({:.4})", self.time, self.decimal_year));
        line(
            "position",
            format_args!(
                "{}  {}  ({:.5}, {:.5}) at {} km",
                degrees(self.latitude_deg, 'N', 'S'),
                degrees(self.longitude_deg, 'E', 'W'),
                self.latitude_deg,
                self.longitude_deg,
                self.height_km
            ),
        );
        line(
            "field",
            format_args!("H {:.4} nT, Z {:.1} nT, F {:.1} nT", self.h_nt, self.z_nt, self.f_nt),
        );
        line(
            "drift",
            format_args!(
                "{:.2} km a year towards {:.1} deg",
                self.drift_km_per_year, self.drift_bearing_deg
            ),
        );
        if let Some(DriftSides { drift_before, drift_after }) = self.drift_sides {
            for (side, drift) in [("up to then", drift_before), ("from then on", drift_after)] {
                line(
                    "",
                    format_args!(
                        "{side} {:.2} km a year towards {:.1} deg",
                        drift.km_per_year, drift.bearing_deg
                    ),
                );
            }
        }
        let [[nn, ne], [en, ee]] = self.jacobian_nt_per_km;
        line("Jacobian", format_args!("dX/dN {nn:9.4}  dX/dE {ne:9.4} nT/km"));
        line("", format_args!("dY/dN {en:9.4}  dY/dE {ee:9.4} nT/km"));
        for pole in self.further_poles.iter().flatten() {
            let kind = if pole.saddle { "saddle" } else { "further pole" };
            line(
                kind,
                format_args!(
                    "{:.5}, {:.5}: vertical too, {:.1} km away",
                    pole.latitude_deg, pole.longitude_deg, pole.distance_km
                ),
            );
        }
        if let Some(why) = &self.further_poles_unknown {
            line("further poles", format_args!("not told: {why}"));
        }
        let Uncertainty {
            sigma_nt,
            disturbance_nt,
            disturbance_kp,
            disturbance_by,
            one_sigma,
            ellipse_50,
            ellipse_95,
            parts_95,
        } = &self.uncertainty;
        line(
            "model's sigma",
            format_args!(
                "X {:.1}, Y {:.1} nT of forecast; X {:.1}, Y {:.1} nT of crust and truncation",
                sigma_nt.forecast.north_nt,
                sigma_nt.forecast.east_nt,
                sigma_nt.crust.north_nt,
                sigma_nt.crust.east_nt
            ),
        );
        match disturbance_kp {
            Some(kp) => line(
                "disturbance",
                format_args!("{disturbance_nt:.1} nT at Kp {kp:.2}, {disturbance_by}"),
            ),
            None => line("disturbance", format_args!("{disturbance_nt:.1} nT, {disturbance_by}")),
        }
        for (name, ellipse) in [
            ("ellipse one sigma", one_sigma),
            ("ellipse 50 %", ellipse_50),
            ("ellipse 95 %", ellipse_95),
            ("  forecast", &parts_95.forecast),
            ("  crust", &parts_95.crust),
            ("with disturbance", &parts_95.total),
            ("  disturbance", &parts_95.disturbance),
        ] {
            line(
                name,
                format_args!(
                    "{:.1} by {:.1} km, long axis {:.0} deg",
                    ellipse.semi_major_km, ellipse.semi_minor_km, ellipse.bearing_deg
                ),
            );
        }
        for assumption in &self.assumptions {
            line("assumed", format_args!("{}", assumption.text));
        }
        text
    }

    /// One line of a table.
    pub(super) fn row(&self) -> String {
        let ellipse = &self.uncertainty.ellipse_95;
        let before = self.drift_sides.map_or_else(String::new, |sides| {
            let Drift { km_per_year, bearing_deg } = sides.drift_before;
            format!("  {km_per_year:7.2}  {bearing_deg:7.1}")
        });
        format!(
            "{:20}  {:10.4}  {:9.5}  {:10.5}  {:7.2}  {:7.1}  {:6.1}  {:6.1}  {:7.0}{before}\n",
            self.time.to_string(),
            self.decimal_year,
            self.latitude_deg,
            self.longitude_deg,
            self.drift_km_per_year,
            self.drift_bearing_deg,
            ellipse.semi_major_km,
            ellipse.semi_minor_km,
            ellipse.bearing_deg
        )
    }
}

/// The heading of a table: what stands in a column, and its unit. The last two columns are empty but at
/// an epoch.
pub(super) const ROW_HEADING: &str = "\
time                        year   latitude   longitude    drift  bearing  95 % a  95 % b  bearing   before  bearing
UTC                                     deg         deg  km/year      deg      km      km      deg  km/year      deg
";

/// An angle in degrees and minutes, as on a chart: `64°03.45'S`.
fn degrees(angle_deg: f64, positive: char, negative: char) -> String {
    let side = if angle_deg < 0.0 { negative } else { positive };
    // Rounded first, so that 59.999 minutes become a whole degree.
    let hundredths = (angle_deg.abs() * 6000.0).round() as u64;
    let (whole, minutes) = (hundredths / 6000, hundredths % 6000);
    format!("{whole}°{:02}.{:02}'{side}", minutes / 100, minutes % 100)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_are_written_as_on_a_chart() {
        assert_eq!(degrees(-64.0575, 'N', 'S'), "64°03.45'S");
        assert_eq!(degrees(135.99999, 'E', 'W'), "136°00.00'E");
        assert_eq!(degrees(0.0, 'E', 'W'), "0°00.00'E");
    }
}
