//! What wind, waves, night and fog do to a ship.

use dipward_plugin::Error;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    HeavyWeather, IcebreakerSpec, M_S_PER_KN, Machinery,
    cells::{Columns, value},
};
use crate::{FormFactor, Hull, Kwon, beaufort_of_waves, beaufort_of_wind, wind_m_s};

/// What wind, waves, night and fog do to a ship.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct WeatherRules {
    /// Speed lost in wind and waves by Kwon's method, from the chart's wind (`wind_grid_east`,
    /// `wind_grid_north`) and `wave_height`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loss: Option<WeatherLoss>,
    /// The part of power that wind and sea are taken to want beside that of calm water where the
    /// chart tells neither, and everywhere without `loss`. 0.15 is the trade's usual sea margin
    /// (from memory). Ice is calm water.
    #[schemars(range(min = 0.0, max = 2.0))]
    pub sea_margin: f64,
    /// What the ship does beyond the two limits that follow.
    pub heavy_weather: HeavyWeather,
    /// Wind above this force is heavy weather. The method of the loss is for no more than force 8.
    #[schemars(range(min = 3.0, max = 8.0))]
    pub heavy_above_beaufort: f64,
    /// Waves above this significant height are heavy weather. Those of force 8 are 5.5 m high in the
    /// open sea (from memory).
    #[schemars(range(min = 0.5, max = 5.5))]
    pub heavy_above_wave_m: f64,
    /// The ship's natural period of roll, for the cautions about rolling of MSC.1/Circ.1228; without
    /// it rolling is not looked at.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 2.0, max = 60.0))]
    pub roll_period_s: Option<f64>,
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
            sea_margin: 0.15,
            heavy_weather: HeavyWeather::HeaveTo,
            heavy_above_beaufort: Kwon::GREATEST_BEAUFORT,
            heavy_above_wave_m: 5.5,
            roll_period_s: None,
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

/// Wind and waves of one cell; each number may be none.
#[derive(Debug, Clone, Copy)]
pub(super) struct WindAndSea {
    /// The wind's parts towards the grid's axes.
    wind: [f64; 2],
    /// The direction that the waves go, where the chart tells it.
    waves: [f64; 2],
    pub(super) wind_m_s: f64,
    pub(super) wave_m: f64,
}

impl WindAndSea {
    #[inline]
    pub(super) fn read(columns: &Columns<'_>, index: usize) -> Self {
        let of = |column| f64::from(value(column, index));
        let wind = [of(columns.wind_grid_east), of(columns.wind_grid_north)];
        Self {
            wind,
            waves: [of(columns.waves_grid_east), of(columns.waves_grid_north)],
            wind_m_s: wind[0].hypot(wind[1]),
            wave_m: of(columns.wave_height),
        }
    }

    fn known(&self) -> bool {
        !(self.wind_m_s.is_nan() && self.wave_m.is_nan())
    }

    /// Whether the weather is beyond the limits; what is unknown is not.
    #[inline]
    pub(super) fn heavy(&self, rules: &WeatherRules) -> bool {
        self.wind_m_s > wind_m_s(rules.heavy_above_beaufort)
            || self.wave_m > rules.heavy_above_wave_m
    }

    /// Where the wind comes from, degrees off the bow; not a number without a wind.
    fn wind_off_bow_deg(&self, heading: [f64; 2]) -> f64 {
        off_bow_deg(self.wind, heading)
    }

    /// Where the waves come from, degrees off the bow; not a number where the chart does not tell.
    pub(super) fn waves_off_bow_deg(&self, heading: [f64; 2]) -> f64 {
        off_bow_deg(self.waves, heading)
    }

    /// Where the waves come from, or else the wind.
    pub(super) fn sea_off_bow_deg(&self, heading: [f64; 2]) -> f64 {
        let told = self.waves_off_bow_deg(heading);
        if told.is_nan() { self.wind_off_bow_deg(heading) } else { told }
    }
}

/// Where what goes along a vector comes from.
fn off_bow_deg(towards: [f64; 2], heading: [f64; 2]) -> f64 {
    let astern = (towards[0] * heading[0] + towards[1] * heading[1]) / towards[0].hypot(towards[1]);
    (-astern).clamp(-1.0, 1.0).acos().to_degrees()
}

/// The heading of a direction clockwise from the grid's +y.
pub(super) fn unit_vector(degrees: f64) -> [f64; 2] {
    let heading = degrees.to_radians();
    [heading.sin(), heading.cos()]
}

/// The weather on one heading.
pub(super) struct Weather<'a> {
    rules: &'a WeatherRules,
    kwon: Option<Kwon>,
    heading: [f64; 2],
    froude: f64,
    margin_kept: f64,
}

impl<'a> Weather<'a> {
    /// `speed_m_s`: in calm water, of the ship as she is sailed.
    pub(super) fn new(
        spec: &'a IcebreakerSpec,
        kwon: Option<Kwon>,
        sector: u16,
        speed_m_s: f64,
    ) -> Self {
        Self {
            rules: &spec.weather,
            kwon,
            heading: unit_vector(f64::from(sector) * 360.0 / f64::from(SECTORS)),
            froude: speed_m_s / froude_unit_m_s(&spec.hull),
            margin_kept: spec.weather.kept_of_margin(),
        }
    }

    /// The fraction of the speed in calm, open water that wind and sea leave.
    ///
    /// The loss is the greater of the wind's, from where it blows, and that of the wind that would
    /// raise the waves, from where these come: each rises with its own cause, and so does the
    /// greater. Waves whose direction the chart does not tell are met from ahead, and a direction
    /// taken from the wind would give less loss for a rising wind from astern.
    #[inline]
    pub(super) fn kept(&self, weather: &WindAndSea) -> f64 {
        let Some(kwon) = self.kwon.filter(|_| weather.known()) else {
            return self.margin_kept;
        };
        let ahead_where_unknown = |angle_deg: f64| if angle_deg.is_nan() { 0.0 } else { angle_deg };
        let of_wind = kwon.loss(
            self.froude,
            ahead_where_unknown(weather.wind_off_bow_deg(self.heading)),
            beaufort_of_wind(weather.wind_m_s),
        );
        let of_waves = kwon.loss(
            self.froude,
            ahead_where_unknown(weather.waves_off_bow_deg(self.heading)),
            beaufort_of_waves(weather.wave_m),
        );
        // `max` passes over the one that is not a number.
        let loss = of_wind.max(of_waves);
        if loss.is_nan() { self.margin_kept } else { 1.0 - loss }
    }

    /// The greatest speed that the method of the loss is for; infinite without it.
    pub(super) fn greatest_m_s(kwon: Option<Kwon>, hull: &Hull) -> f64 {
        kwon.map_or(f64::INFINITY, |kwon| kwon.greatest_froude() * froude_unit_m_s(hull))
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

/// The speed of Froude number 1.
fn froude_unit_m_s(hull: &Hull) -> f64 {
    (9.81 * hull.length_m).sqrt()
}

impl WeatherRules {
    /// The fraction of speed that the sea margin leaves, by the cube law.
    fn kept_of_margin(&self) -> f64 {
        (1.0 + self.sea_margin).powf(-1.0 / 3.0)
    }

    /// What counts as heavy weather and what is done in it.
    pub(super) fn heavy_words(&self) -> String {
        format!(
            "in wind above force {} or waves above {} m {}",
            self.heavy_above_beaufort,
            self.heavy_above_wave_m,
            self.heavy_weather.words()
        )
    }
}

/// What the weather rules take for granted.
pub(super) fn assumptions(spec: &IcebreakerSpec, kwon: Option<Kwon>) -> Vec<String> {
    let rules = &spec.weather;
    let service_kn = spec.machinery.service_kn();
    let stated = match spec.machinery.service_speed_kn {
        Some(_) => "as `machinery.service_speed_kn` states".to_owned(),
        None => format!(
            "{} % of her speed at full power in calm water, the mean of one real supply ship in the \
             Southern Ocean; `machinery.service_speed_kn` would state another",
            100.0 * Machinery::SERVICE_SHARE
        ),
    };
    let mut texts = vec![
        format!("the ship is sailed at {service_kn:.1} kn at most, {stated}"),
        format!(
            "wind and sea want {:.0} % more power than calm water (`weather.sea_margin`){}",
            100.0 * rules.sea_margin,
            match rules.loss {
                Some(_) => " where the chart has neither wind nor waves",
                None => "",
            },
        ),
        rules.heavy_words(),
    ];
    if rules.loss.is_some() {
        texts.push(
            "wind and waves slow the ship by Kwon 2008 with coefficients from memory, by the wind's \
             force or the force that would raise the waves, which are met from ahead where the chart \
             does not tell their direction; in ice they do not slow it"
                .to_owned(),
        );
    } else {
        texts.push("short of that, wind and waves slow the ship by no more".to_owned());
    }
    let greatest_kn = Weather::greatest_m_s(kwon, &spec.hull) / M_S_PER_KN;
    if greatest_kn < service_kn {
        texts.push(format!(
            "{greatest_kn:.1} kn at most, for the method of the loss is for no greater Froude number"
        ));
    }
    texts.push(
        match rules.roll_period_s {
            Some(_) => {
                "cautions of MSC.1/Circ.1228 are told where the chart gives `wave_height` with the \
                 direction of waves or wind; those of high waves in succession and of rolling where it \
                 gives `wave_period` too"
            }
            None => {
                "cautions of MSC.1/Circ.1228 are told where the chart gives `wave_height` with the \
                 direction of waves or wind; those of high waves in succession where it gives \
                 `wave_period` too; rolling is not looked at without `weather.roll_period_s`"
            }
        }
        .to_owned(),
    );
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
