//! The response of the polar cap's horizontal field to Kp, learnt from observatories.
//!
//! Hourly means of five polar-cap observatories over half a century say what the field does at a Kp.
//! One law serves both poles. It is told in the frame of the Sun: `u` toward the Sun's azimuth, `v`
//! clockwise from it, with the south mirrored (`u` away from the Sun), for the currents of the two
//! caps are mirror images.
//!
//! ```text
//!   where    quasi-dipole latitude, magnetic local time -> x, y of the cap, the magnetic pole at 0
//!   light    the Sun's height -> sunlit conductance, twilight; the dipole's tilt by the season
//!   when     phase of the solar cycle -> cosine, sine
//!   Kp       k = Kp/3, straight between the middles of its slots
//!
//!   mean (u, v)          =  sums of products of these
//!   log sigma (u), (v)   =  sums of products of these;   correlation = 0.98 tanh(sum)
//!   scatter              =  amplitude x (fast + slow + days), each a random vector with a memory
//! ```
//!
//! The amplitude differs from hour to hour at one Kp (log-normal, with the spread of Student's t of
//! six degrees of freedom), so that the tails are heavy. The slow part of days stands still on the
//! Earth: it is the quiet level's own wandering and the weeks-long polarity of the solar wind.
//!
//! Where no station stood the mean is misplaced, and the scatter larger or smaller, by a pattern and a
//! factor that are drawn for each member: so the stations differed when each was left out of the fit
//! (`site`). Farther from the magnetic pole than any station fitted to, the law is that of the farthest.
//!
//! The law is carried from the stations to another place by magnetic latitude, magnetic local time and
//! the Sun's height alone; fits without a station, judged on it, say how well (docs/disturbance.md).
//! Magnetic local time carries better than the Sun's: without Dumont d'Urville, Scott Base or Resolute
//! the lengths are told better at the station left out by 2 to 3 %.
//!
//! # Source
//!
//! Fitted by `data/response/fit_response.py` to hourly mean values of the World Data Centre for
//! Geomagnetism, Edinburgh (Dumont d'Urville: EOST; Resolute Bay and Alert: Geological Survey of
//! Canada; Scott Base: GNS Science; Vostok: AARI), even calendar years of 1958 to 2012. No hour of
//! them is part of the library.

mod hours;
mod law;
mod moments;
mod motion;
mod scores;
mod site;
mod spec;

pub(crate) use hours::HourLaw;
pub(crate) use law::LearntLaw;
pub use law::Refit;
pub use moments::{FieldMoments, LearntResponse};
pub use motion::ScatterMemory;
pub use spec::LearntSpec;
pub(crate) use spec::{fill, laws_along, response};
