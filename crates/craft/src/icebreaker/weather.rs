//! What wind, waves, night and fog do to a ship.

use dipward_plugin::Error;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    IcebreakerSpec,
    cells::{Columns, value},
};
use crate::{FormFactor, Hull, Kwon, beaufort_of_waves, beaufort_of_wind};

/// What wind, waves, night and fog do to a ship. Nothing, unless it is said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct WeatherRules {
    /// Speed lost in wind and waves by Kwon's method, from the chart's wind (`wind_grid_east`,
    /// `wind_grid_north`) and `wave_height`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loss: Option<WeatherLoss>,
    /// Greatest speed at night, by the chart's `sun_altitude` (the layer kind `sunlight`).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 50.0))]
    pub night_speed_kn: Option<f64>,
    /// It is night with the sun below this; -6 is the end of civil twilight.
    #[schemars(range(min = -18.0, max = 5.0))]
    pub night_below_deg: f64,
    /// Greatest speed in fog, by the chart's `visibility`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 50.0))]
    pub fog_speed_kn: Option<f64>,
    /// It is fog with less visibility than this; 1 km by the WMO's definition (from memory).
    #[schemars(range(min = 0.01, max = 50.0))]
    pub fog_below_km: f64,
}

impl Default for WeatherRules {
    fn default() -> Self {
        Self {
            loss: None,
            night_speed_kn: None,
            night_below_deg: -6.0,
            fog_speed_kn: None,
            fog_below_km: 1.0,
        }
    }
}

/// The ship as Kwon's method sees it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WeatherLoss {
    /// Block coefficient: 0.55 to 0.70 for the fine form, 0.75 to 0.85 for the full ones.
    #[schemars(range(min = 0.3, max = 0.95))]
    pub block_coefficient: f64,
    /// Form of the ship.
    #[serde(default)]
    pub form: FormFactor,
}

impl WeatherLoss {
    pub(super) fn kwon(&self, hull: &Hull) -> Result<Kwon, crate::Error> {
        let volume_m3 = self.block_coefficient * hull.length_m * hull.beam_m * hull.draught_m;
        Kwon::new(self.form, self.block_coefficient, volume_m3)
    }
}

/// The heading sectors of a ship that the weather slows; its pace is told apart no finer, for the
/// method knows four directions.
pub(super) const SECTORS: u16 = 16;

/// The weather on one heading.
pub(super) struct Weather<'a> {
    rules: &'a WeatherRules,
    kwon: Option<Kwon>,
    heading: [f64; 2],
    froude: f64,
}

impl<'a> Weather<'a> {
    pub(super) fn new(
        spec: &'a IcebreakerSpec,
        kwon: Option<Kwon>,
        sector: u16,
        speed_m_s: f64,
    ) -> Self {
        let heading = (f64::from(sector) * 360.0 / f64::from(SECTORS)).to_radians();
        Self {
            rules: &spec.weather,
            kwon,
            heading: [heading.sin(), heading.cos()],
            froude: speed_m_s / (9.81 * spec.hull.length_m).sqrt(),
        }
    }

    /// The fraction of the speed in open water that wind and waves take; none where the chart has
    /// neither.
    #[inline]
    pub(super) fn loss(&self, columns: &Columns<'_>, index: usize) -> f64 {
        let Some(kwon) = &self.kwon else {
            return 0.0;
        };
        let east = f64::from(value(columns.wind_grid_east, index));
        let north = f64::from(value(columns.wind_grid_north, index));
        let wind_m_s = east.hypot(north);
        let waves_m = f64::from(value(columns.wave_height, index));
        // `max` passes over the one that is not a number.
        let beaufort = beaufort_of_wind(wind_m_s).max(beaufort_of_waves(waves_m));
        let astern = (east * self.heading[0] + north * self.heading[1]) / wind_m_s;
        // Waves without a wind to tell their direction are taken from ahead.
        let off_bow_deg =
            if astern.is_nan() { 0.0 } else { (-astern).clamp(-1.0, 1.0).acos().to_degrees() };
        let loss = kwon.loss(self.froude, off_bow_deg, beaufort);
        if loss.is_nan() { 0.0 } else { loss }
    }

    /// The greatest speed by light and visibility, infinite without a cap.
    #[inline]
    pub(super) fn cap_kn(&self, columns: &Columns<'_>, index: usize) -> f64 {
        let mut cap_kn = f64::INFINITY;
        if let Some(night_kn) = self.rules.night_speed_kn
            && f64::from(value(columns.sun_altitude, index)) < self.rules.night_below_deg
        {
            cap_kn = night_kn;
        }
        if let Some(fog_kn) = self.rules.fog_speed_kn
            && f64::from(value(columns.visibility, index)) < self.rules.fog_below_km
        {
            cap_kn = cap_kn.min(fog_kn);
        }
        cap_kn
    }
}

/// A rule whose column is missing from the whole chart would be silently without effect.
pub(super) fn check_columns(rules: &WeatherRules, columns: &Columns<'_>) -> Result<(), Error> {
    let wind = columns.wind_grid_east.is_some() && columns.wind_grid_north.is_some();
    for (wanted, there, key, remedy) in [
        (
            rules.loss.is_some(),
            wind || columns.wave_height.is_some(),
            "loss",
            "wind or waves: add a layer of them",
        ),
        (
            rules.night_speed_kn.is_some(),
            columns.sun_altitude.is_some(),
            "night_speed_kn",
            "`sun_altitude`: add the layer `sunlight`",
        ),
        (
            rules.fog_speed_kn.is_some(),
            columns.visibility.is_some(),
            "fog_speed_kn",
            "`visibility`: add a layer of it",
        ),
    ] {
        if wanted && !there {
            return Err(Error::Outside(format!(
                "the ship's `weather.{key}` wants what the chart does not have, {remedy}"
            )));
        }
    }
    Ok(())
}

/// What the weather rules take for granted.
pub(super) fn assumptions(rules: &WeatherRules) -> Vec<String> {
    let mut texts = Vec::new();
    if rules.loss.is_some() {
        texts.push(
            "wind and waves slow the ship by Kwon 2008 with coefficients from memory, by the \
             wind's force or the force that would raise the waves; in ice they do not, and where \
             the chart has neither nothing is lost"
                .to_owned(),
        );
    } else {
        texts.push("wind and waves do not slow the ship".to_owned());
    }
    if let Some(fog_kn) = rules.fog_speed_kn {
        texts.push(format!(
            "{fog_kn} kn at most where visibility is under {} km; unknown visibility is good",
            rules.fog_below_km
        ));
    }
    if let Some(night_kn) = rules.night_speed_kn {
        texts.push(format!(
            "{night_kn} kn at most with the sun below {} degrees",
            rules.night_below_deg
        ));
    }
    texts
}
