use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{BuildContext, Clock, Fault, Faults, MainField, MainFieldPoint, Spec};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::SurveyedPole;

/// A pole that somebody has surveyed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SurveyedSpec {
    /// Geodetic latitude, WGS84.
    #[schemars(range(min = -90.0, max = 90.0))]
    pub latitude_deg: f64,
    /// Longitude, east positive.
    #[schemars(range(min = -360.0, max = 360.0))]
    pub longitude_deg: f64,
    /// When the pole was there, UTC.
    #[schemars(with = "String")]
    pub surveyed: Timestamp,
    /// Speed of its drift for each calendar year.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1e6))]
    pub drift_km_per_year: f64,
    /// True bearing of the drift.
    #[serde(default)]
    #[schemars(range(min = -360.0, max = 360.0))]
    pub drift_bearing_deg: f64,
    /// How fast the horizontal field grows away from the pole, the same in all directions; 3 in the
    /// north and 6.7 in the south where neither this nor the Jacobian is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.01, max = 1000.0))]
    pub gradient_nt_per_km: Option<f64>,
    /// The same as a matrix: rows north and east component, columns toward north and east. Negative
    /// about a north dip pole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jacobian_nt_per_km: Option<[[f64; 2]; 2]>,
    /// Z at the pole, positive down; 57,000 in the north and -66,000 in the south where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vertical_nt: Option<f64>,
    /// How wrong the survey may be, one sigma of each coordinate.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub sigma_km: f64,
    /// How much that grows for each year from the survey.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub sigma_growth_km_per_year: f64,
}

impl Spec for SurveyedSpec {
    type Point = MainFieldPoint;
    const KIND: &'static str = "surveyed";
    const SUMMARY: &'static str =
        "a dip pole found by survey, with its drift and the field about it";
    const EXAMPLE: &'static str = "\
{kind: surveyed, latitude_deg: -64.2, longitude_deg: 135.8, surveyed: 2026-12-01T00:00Z,
 drift_km_per_year: 9, drift_bearing_deg: 300, sigma_km: 5}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn MainField>, Faults> {
        let mut faults = Faults::default();
        let down = context.hemisphere().sign();
        let (usual_gradient, usual_vertical) = match context.hemisphere() {
            Hemisphere::North => (3.0, 57_000.0),
            Hemisphere::South => (6.7, -66_000.0),
        };
        if self.gradient_nt_per_km.is_some() && self.jacobian_nt_per_km.is_some() {
            let message = "a gradient and a Jacobian say the same thing twice";
            faults.push(Fault::at("/jacobian_nt_per_km", message).help("leave one of them out"));
        }
        let gradient = -down * self.gradient_nt_per_km.unwrap_or(usual_gradient);
        let jacobian = self.jacobian_nt_per_km.unwrap_or([[gradient, 0.0], [0.0, gradient]]);
        let [[a, b], [c, d]] = jacobian;
        // The field of sources inside the Earth has a symmetric Jacobian; and toward a north dip
        // pole it points from all sides, away from a south one.
        let scale = a.abs().max(d.abs());
        if (b - c).abs() > 1e-6 * scale {
            let message = "the Jacobian of a field from inside the Earth is symmetric";
            faults.push(Fault::at("/jacobian_nt_per_km/1/0", message).help(format!("write {b}")));
        } else if a * d - b * c <= 1e-6 * scale * scale || a * down >= 0.0 {
            let message = format!(
                "about a {} dip pole the horizontal field points {} from all sides",
                context.hemisphere(),
                if down > 0.0 { "inward" } else { "outward" }
            );
            let help = "both numbers of the diagonal negative in the north and positive in the \
                        south, and their product above that of the other two";
            faults.push(Fault::at("/jacobian_nt_per_km", message).help(help));
        }
        let vertical_nt = self.vertical_nt.unwrap_or(usual_vertical);
        if vertical_nt * down <= 0.0 || vertical_nt.abs() > 1e6 {
            let sign = if down > 0.0 { "positive" } else { "negative" };
            let message = format!("Z at a {} dip pole is {sign}", context.hemisphere());
            faults.push(Fault::at("/vertical_nt", message));
        }
        faults.into_result(Box::new(SurveyedPole {
            position: position(self.latitude_deg, self.longitude_deg),
            epoch: Clock::decimal_year_of(self.surveyed),
            drift_km_per_year: self.drift_km_per_year,
            drift_bearing_deg: self.drift_bearing_deg,
            jacobian_nt_per_km: jacobian,
            vertical_nt,
            sigma_km: self.sigma_km,
            sigma_growth_km_per_year: self.sigma_growth_km_per_year,
        }) as Box<dyn MainField>)
    }
}
