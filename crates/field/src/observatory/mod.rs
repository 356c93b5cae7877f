//! Recorded hours of observatories: what the field over a station did beyond its quiet level.
//!
//! [`read_station_files`] reads a user's own copy: hourly records of the World Data Centres, IAGA-2002
//! hours and minutes, and tables of perturbations. The library ships no hour of any observatory.
//!
//! Hourly means of the World Data Centre for Geomagnetism, Edinburgh, are free for scientific use; for
//! commercial use ask the institute that runs the station. Who shows results that rest on them
//! acknowledges the centre and the institute (for Dumont d'Urville EOST; Resolute Bay and Alert the
//! Geological Survey of Canada; Scott Base GNS; Vostok AARI).

mod baseline;
mod fault;
mod iaga2002;
mod inflate;
mod joined;
mod perturbation_csv;
mod read;
mod record;
mod rows;
mod wdc;

pub use fault::StationFileError;
pub use read::read_station_files;
pub use record::StationRecord;
