//! The kinds of layers that a scenario may name.

mod constant;
mod extent;
mod ice_chart;
mod schedule;
mod zones;

pub use constant::{ConstantSpec, UniformIce};
pub use extent::Extent;
pub use ice_chart::{ChartFile, IceChartSpec};
pub use schedule::{BeyondRule, ChangeRule};
pub use zones::{OffGrid, ZonesSpec};

#[cfg(test)]
mod workbench;
