//! The miles between the ports and the planned track, in words.

use dipward_plugin::Approach;

use crate::figures::{fixed, instant_in_words};

/// A distance to the port below this is none: the grid knows ports no better, km.
const AT_THE_PORT_KM: f64 = 0.5;

/// Where the track begins and ends beside the ports, the hours allowed for the miles between, and when the ports are
/// left and reached; nothing where the track goes from port to port.
pub(crate) fn in_words(approach: &Approach) -> Option<String> {
    let pilotage = approach.pilotage.as_ref()?;
    let mut told = Vec::new();
    if pilotage.out_km >= AT_THE_PORT_KM {
        told.push(format!(
            "it begins {} km from {}, for which {} h of pilotage are allowed: the port is left on {} UTC",
            fixed(pilotage.out_km, 0),
            approach.from,
            fixed(pilotage.out_h, 1),
            instant_in_words(pilotage.port_depart)
        ));
    }
    if pilotage.home_km >= AT_THE_PORT_KM {
        told.push(format!(
            "it ends {} km from {}, {} h of pilotage: that port is reached on {} UTC",
            fixed(pilotage.home_km, 0),
            approach.home_to,
            fixed(pilotage.home_h, 1),
            instant_in_words(pilotage.port_back)
        ));
    }
    if told.is_empty() {
        return None;
    }
    Some(format!(
        "The planned track lies where the chart is open to the craft: {}. What is burnt on these miles is no part \
         of the fuel told.",
        told.join("; ")
    ))
}
