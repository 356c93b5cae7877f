use std::fmt;

/// A named amount that a chart holds for each cell. Two quantities of one name are one quantity.
///
/// The constants are those that the built-in layers and craft speak of; a plug-in may make its own.
#[derive(Debug, Clone, Copy)]
pub struct Quantity {
    name: &'static str,
    unit: &'static str,
}

impl Quantity {
    /// 1 where the cell is land above the sea (ice sheets included), 0 elsewhere.
    pub const LAND: Self = Self::new("land", "1");
    /// 1 where the cell is floating ice shelf, 0 elsewhere.
    pub const SHELF: Self = Self::new("shelf", "1");
    /// Height of the rock or sea floor above the sea's surface, negative where it is depth.
    pub const ELEVATION: Self = Self::new("elevation", "m");
    /// How far independent depth sets disagree: the larger depth over the smaller, at least 1.
    pub const DEPTH_DOUBT: Self = Self::new("depth_doubt", "ratio");
    /// Height of the ice or rock surface above the sea's surface.
    pub const SURFACE_HEIGHT: Self = Self::new("surface_height", "m");
    /// Total sea-ice concentration, 0 to 1.
    pub const ICE_CONCENTRATION: Self = Self::new("ice_concentration", "1");
    /// Mean thickness of the ice where there is ice. The mean over the cell is another quantity,
    /// [`Quantity::ICE_VOLUME_PER_AREA`].
    pub const ICE_THICKNESS: Self = Self::new("ice_thickness", "m");
    /// Volume of ice over the area of the cell, open water included: thickness times concentration.
    pub const ICE_VOLUME_PER_AREA: Self = Self::new("ice_volume_per_area", "m");
    /// 1 where the ice is melting or has decayed, 0 where it is cold.
    pub const ICE_MELTING: Self = Self::new("ice_melting", "1");
    /// Concentration of ice of land origin (icebergs, bergy bits, growlers), 0 to 1; a trace, as in
    /// bergy water, is above 0 and below a tenth. What a chart tells as a share of its own counts in
    /// the concentration and as heavy multi-year ice too; a trace does not.
    pub const LAND_ICE: Self = Self::new("land_ice", "1");
    /// Distance to the nearest charted berg over the berth that is due to it in a good view: under 1
    /// is too near.
    pub const BERG_DISTANCE: Self = Self::new("berg_distance", "berths");
    /// Drift of the ice along the grid's x axis.
    pub const ICE_DRIFT_EAST: Self = Self::new("ice_drift_grid_east", "m/s");
    /// Drift of the ice along the grid's y axis.
    pub const ICE_DRIFT_NORTH: Self = Self::new("ice_drift_grid_north", "m/s");
    /// 1 where the cell is closed to traffic by a zone, 0 elsewhere.
    pub const CLOSED: Self = Self::new("closed", "1");
    /// Wind towards the grid's +x axis, 10 m above the sea.
    pub const WIND_GRID_EAST: Self = Self::new("wind_grid_east", "m/s");
    /// Wind towards the grid's +y axis, 10 m above the sea.
    pub const WIND_GRID_NORTH: Self = Self::new("wind_grid_north", "m/s");
    /// Significant height of the waves.
    pub const WAVE_HEIGHT: Self = Self::new("wave_height", "m");
    /// Mean period of the waves.
    pub const WAVE_PERIOD: Self = Self::new("wave_period", "s");
    /// The direction that the waves go, a vector of any length: its part towards the grid's +x axis.
    pub const WAVES_GRID_EAST: Self = Self::new("waves_grid_east", "1");
    /// The direction that the waves go: its part towards the grid's +y axis.
    pub const WAVES_GRID_NORTH: Self = Self::new("waves_grid_north", "1");
    /// Horizontal visibility.
    pub const VISIBILITY: Self = Self::new("visibility", "km");
    /// Temperature of the air, 2 m above the surface.
    pub const AIR_TEMPERATURE: Self = Self::new("air_temperature", "degC");
    /// Temperature of the sea's surface.
    pub const SEA_TEMPERATURE: Self = Self::new("sea_temperature", "degC");
    /// 1 where crevasses are known or suspected, 0 elsewhere.
    pub const CREVASSES: Self = Self::new("crevasses", "1");
    /// The greatest speed allowed.
    pub const SPEED_LIMIT: Self = Self::new("speed_limit", "kn");
    /// Partial concentrations (fractions of the cell's area) by stage of development, in the order of
    /// the POLARIS table after its ice-free column: new, grey, grey-white, thin first-year first and
    /// second stage, medium first-year under 1 m, medium first-year, thick first-year, second-year,
    /// light multi-year, heavy multi-year. With open water they add to 1.
    pub const ICE_PARTIALS: [Self; 11] = [
        Self::new("ice_new", "1"),
        Self::new("ice_grey", "1"),
        Self::new("ice_grey_white", "1"),
        Self::new("ice_thin_first_year_1", "1"),
        Self::new("ice_thin_first_year_2", "1"),
        Self::new("ice_medium_first_year_under_1m", "1"),
        Self::new("ice_medium_first_year", "1"),
        Self::new("ice_thick_first_year", "1"),
        Self::new("ice_second_year", "1"),
        Self::new("ice_light_multi_year", "1"),
        Self::new("ice_heavy_multi_year", "1"),
    ];

    /// A quantity of the given name and unit (an SI or trade symbol; "1" for fractions and flags).
    #[must_use]
    pub const fn new(name: &'static str, unit: &'static str) -> Self {
        Self { name, unit }
    }

    /// The name, in `snake_case`.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// The unit's symbol.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        self.unit
    }
}

impl PartialEq for Quantity {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Eq for Quantity {}

impl PartialOrd for Quantity {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Quantity {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.name.cmp(other.name)
    }
}

impl std::hash::Hash for Quantity {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.name.hash(state);
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name)
    }
}
