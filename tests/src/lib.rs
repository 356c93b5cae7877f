//! Scenarios whose answer is known in closed form: run through the library in `tests/` and through the
//! command line in `crates/cli/tests/`.
//!
//! The ship is invented: 15 kn at full power, 6000 kW of propulsion, 500 kW of hotel load, 200 g/kWh.

pub mod closed_forms;

/// Full speed of the trial ship, 15 kn.
pub const SPEED_KM_PER_H: f64 = 15.0 * 1.852;
/// What the trial ship burns at full speed: 6500 kW at 200 g/kWh.
pub const BURN_T_PER_H: f64 = 6500.0 * 200e-6;
/// What the trial ship burns on station: the hotel load alone.
pub const HOLD_T_PER_H: f64 = 500.0 * 200e-6;

/// Speed of the trial party: 12 km/h on hard snow, half of it on sea ice, for 12 hours of 24.
pub const PARTY_KM_H: f64 = 3.0;

/// A party that goes over the ice, as a list entry of last legs.
///
/// # Arguments
///
/// Its tank, and further keys of the leg, YAML lines at an indentation of four.
#[must_use]
pub fn party(capacity_l: f64, keys: &str) -> String {
    format!(
        "  - kind: over_ice_party
    party:
      name: a trial party
      vehicles: {{ speed_km_h: 12, heaviest_t: 2, payload_t: 2, empty_l_per_km: 2, per_tonne_l_per_km: 0.2 }}
      fuel: {{ capacity_l: {capacity_l}, density_kg_per_l: 0.8, reserve_fraction: 0.25 }}
      bearing: {{ convention: {{ gold: {{ a_kg_per_cm2: 4 }} }}, melt: {{ season: cold }} }}
      travel_hours_per_day: 12
    reach_shares: [1]
{keys}"
    )
}

/// A trial: one port, one departure at the start of the window, open water but for the layers given.
#[derive(Debug, Clone)]
pub struct Trial {
    /// `north` or `south`.
    pub hemisphere: &'static str,
    /// Latitude and longitude of the port, degrees.
    pub port: (f64, f64),
    /// Latitude and longitude of the pole at the start of the window, degrees.
    pub pole: (f64, f64),
    /// Speed of the pole.
    pub pole_km_per_h: f64,
    /// True bearing of the pole's motion.
    pub pole_bearing_deg: f64,
    /// Side of a cell.
    pub cell_km: f64,
    /// Margin of the grid.
    pub margin_km: f64,
    /// Layers above the open water, YAML list entries at an indentation of four.
    pub layers: String,
    /// Last legs, YAML list entries at an indentation of two; none where it is empty.
    pub last_leg: String,
    /// The station, a YAML flow mapping.
    pub station: &'static str,
    /// Fuel aboard.
    pub capacity_t: f64,
    /// The end of the window.
    pub until: &'static str,
}

impl Default for Trial {
    fn default() -> Self {
        Self {
            hemisphere: "north",
            port: (88.0, 0.0),
            pole: (88.0, 180.0),
            pole_km_per_h: 0.0,
            pole_bearing_deg: 0.0,
            cell_km: 2.0,
            margin_km: 60.0,
            layers: String::new(),
            last_leg: String::new(),
            station: "{ within_km: 5, for_h: 1, at_least_h: 4, at_most_h: 8, leave_every_h: 4 }",
            capacity_t: 2000.0,
            until: "2027-01-20T00:00Z",
        }
    }
}

impl Trial {
    /// A port at plane coordinates about the north geographic pole: x toward 90 E, y toward 180 E, km.
    /// True distances from the pole, for closed forms in the plane over a few hundred kilometres.
    #[must_use]
    pub fn near_pole(x_km: f64, y_km: f64) -> (f64, f64) {
        // Radius of curvature of the ellipsoid at the pole, a^2/b.
        const RADIUS_KM: f64 = 6_399.593_626;
        let latitude_deg = 90.0 - (x_km.hypot(y_km) / RADIUS_KM).to_degrees();
        (latitude_deg, x_km.atan2(-y_km).to_degrees())
    }

    /// The scenario.
    #[must_use]
    pub fn yaml(&self) -> String {
        let Self { hemisphere, port, pole, cell_km, margin_km, layers, capacity_t, .. } = self;
        let drift = self.pole_km_per_h * 365.0 * 24.0;
        let bearing = self.pole_bearing_deg;
        let (until, station) = (self.until, self.station);
        let last_leg = match self.last_leg.as_str() {
            "" => String::new(),
            entries => format!("last_leg:\n{entries}"),
        };
        format!(
            "\
title: A trial with a known answer
notes: [Everything in this scenario is invented.]
window: {{ from: 2027-01-01T00:00Z, until: {until} }}
pole:
  hemisphere: {hemisphere}
  model:
    kind: surveyed
    latitude_deg: {}
    longitude_deg: {}
    surveyed: 2027-01-01T00:00Z
    sigma_km: 0
    drift_km_per_year: {drift}
    drift_bearing_deg: {bearing}
  disturbance: {{ kind: quiet }}
  members: 3
chart:
  cell_km: {cell_km}
  margin_km: {margin_km}
  true_scale_latitude_deg: 90
  central_meridian_deg: 0
  layers:
{layers}    - {{ kind: constant, ice: {{ concentration: 0 }} }}
craft:
  kind: icebreaker
  name: a trial ship
  ice_class: pc5
  hull:
    length_m: 90
    beam_m: 19
    draught_m: 6.5
    stem_angle_deg: 25
    waterline_angle_deg: 28
    parallel_midbody_m: 35
    bow_length_m: 28
  machinery:
    propulsion_kw: 6000
    propellers: {{ number: 2, diameter_m: 3.8 }}
    open_water_speed_kn: 15
    service_speed_kn: 15
    hotel_kw: 500
    specific_consumption_g_per_kwh: 200
    load_curve: constant
  fuel:
    capacity_t: {capacity_t}
    unpumpable_fraction: 0
    reserve: {{ fraction: 0, besetment_days: 0 }}
  power_settings: [1.0]
  weather: {{ sea_margin: 0 }}
  unknown_depth: pass
voyage:
  ports: [{{ name: Trial Haven, latitude_deg: {}, longitude_deg: {} }}]
  departures: {{ from: 2027-01-01T00:00Z }}
  routes: 1
ranking: [{{ kind: arrival }}]
station: {station}
{last_leg}",
            pole.0, pole.1, port.0, port.1
        )
    }
}
