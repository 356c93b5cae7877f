//! The codes of ice charts: SIGRID-3, the vector form of the WMO egg code.
//!
//! Source: JCOMM Technical Report 23 (WMO/TD-1214), SIGRID-3: a vector archive format for sea ice
//! charts, revision 3, 2014; terms of WMO-No. 259. The labels are the source's; the thicknesses are
//! from memory of its table, and agree with those of WMO-No. 259.

mod attribute;
mod concentration;
mod egg;
mod form;
mod stage;

pub(crate) use attribute::code_of;
pub use concentration::Concentration;
pub use egg::{Egg, EggPart, IceRegime, RangeReading, Reading};
pub use form::Form;
pub use stage::Stage;
