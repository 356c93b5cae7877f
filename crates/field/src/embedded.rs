//! The models that the library carries.

use dipward_plugin::Provenance;

use crate::{GaussModel, ReadError, doubt, read_cof, read_shc};

const IGRF14: &[u8] = include_bytes!("../data/IGRF14.shc");
const WMM2025: &[u8] = include_bytes!("../data/WMM2025.COF");

/// IGRF-14, the International Geomagnetic Reference Field of 1900 to 2030, degree 13.
///
/// # Errors
///
/// None in practice, since the file is part of the library; what the reader says of it.
///
/// # Source
///
/// IAGA V-MOD working group, doi 10.5281/zenodo.14012302.
pub fn igrf14() -> Result<GaussModel, ReadError> {
    let provenance = Provenance {
        name: "IGRF-14, degree 13".into(),
        source: "IAGA V-MOD, doi 10.5281/zenodo.14012302".into(),
        licence: Some("free use with citation".into()),
    };
    Ok(GaussModel::new(read_shc(IGRF14)?, provenance, doubt::IGRF14))
}

/// WMM2025, the World Magnetic Model of 2025 to 2030, degree 12.
///
/// # Errors
///
/// None in practice, since the file is part of the library; what the reader says of it.
///
/// # Source
///
/// NOAA NCEI and British Geological Survey, technical report doi 10.25923/prbc-s316.
pub fn wmm2025() -> Result<GaussModel, ReadError> {
    let provenance = Provenance {
        name: "WMM2025, degree 12".into(),
        source: "NOAA NCEI and British Geological Survey, doi 10.25923/prbc-s316".into(),
        licence: Some("public domain (US)".into()),
    };
    Ok(GaussModel::new(read_cof(WMM2025)?, provenance, doubt::WMM2025))
}
