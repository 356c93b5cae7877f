//! The Earth's main field, its dip poles, and how they wander.

mod all_dip_poles;
mod cof;
mod dip_pole;
mod displacement;
pub mod doubt;
mod ellipse;
mod ellipsoid_frame;
mod embedded;
mod gauss_model;
mod lanes;
mod patch;
mod plane_matrix;
mod read_error;
mod series;
mod shc;
mod synthesis;
mod tangent;
mod text;

pub use all_dip_poles::{all_dip_poles, dip_pole};
pub use cof::read_cof;
pub use dip_pole::{DipPole, dip_pole_near};
pub use displacement::{FARTHEST_KM, displaced_pole};
pub use ellipse::Ellipse;
pub use embedded::{igrf14, wmm2025};
pub use gauss_model::{Doubt, EXTRAPOLATION_YEARS, GaussModel};
pub use read_error::ReadError;
pub use series::{MAX_DEGREE, Series};
pub use shc::read_shc;
pub use synthesis::Snapshot;
