//! Arctic waters as MARPOL Annex I regulation 46.2 and SOLAS XIV/1.3 draw them.
//!
//! The text, from 58 N 42 W: to 64 37.0 N 35 27.0 W; by a rhumb line to 67 03.9 N 26 33.4 W; by a
//! rhumb line to 70 49.56 N 8 59.61 W (Sørkapp, Jan Mayen); by the southern shore of Jan Mayen to
//! 73 31.6 N 19 01.0 E by the island of Bjørnøya; by a great circle to 68 38.29 N 43 23.08 E (Cape
//! Kanin Nos); by the northern shore of the Asian continent eastward to the Bering Strait; from there
//! westward to 60 N as far as Il'pyrskiy, and along 60 N eastward as far as and including Etolin
//! Strait; by the northern shore of the North American continent as far south as 60 N; eastward
//! along 60 N to 56 37.1 W; and to 58 N 42 W.
//!
//! The corners at Jan Mayen and Cape Kanin Nos were seen in print, the others are from memory of that
//! text. Where it follows a shore, the line here runs over land behind that shore: so what the
//! continents part from the Arctic is outside (the bays of the White Sea, the Sea of Okhotsk, the
//! Gulf of Alaska and Cook Inlet, Kuskokwim Bay), and what opens to the north is inside.

use std::f64::consts::FRAC_PI_4;

/// How the line runs from one corner to the next.
#[derive(Debug, Clone, Copy)]
enum Line {
    Rhumb,
    GreatCircle,
}

/// The corners, west to east, latitude and longitude, and how the line goes on from each. Two corners
/// of one longitude are a step.
const CORNERS: [(f64, f64, Line); 26] = [
    // The Bering Sea along 60 N, as far as and including Etolin Strait.
    (60.0, -180.0, Line::Rhumb),
    (60.0, -166.2, Line::Rhumb),
    // Etolin Strait, whose southern mouth is at 59.8 (from memory).
    (59.8, -166.2, Line::Rhumb),
    (59.8, -164.7, Line::Rhumb),
    // Over Alaska, south of Norton Sound and north of Cook Inlet.
    (62.0, -164.7, Line::Rhumb),
    (62.0, -141.0, Line::Rhumb),
    // Over Canada, south of its northern shore, to the western shore of Hudson Bay.
    (66.0, -141.0, Line::Rhumb),
    (66.0, -97.0, Line::Rhumb),
    (60.0, -97.0, Line::Rhumb),
    (60.0, -56.0 - 37.1 / 60.0, Line::Rhumb),
    (58.0, -42.0, Line::Rhumb),
    (64.0 + 37.0 / 60.0, -35.0 - 27.0 / 60.0, Line::Rhumb),
    (67.0 + 3.9 / 60.0, -26.0 - 33.4 / 60.0, Line::Rhumb),
    (70.0 + 49.56 / 60.0, -8.0 - 59.61 / 60.0, Line::Rhumb),
    (73.0 + 31.6 / 60.0, 19.0 + 1.0 / 60.0, Line::GreatCircle),
    (68.0 + 38.29 / 60.0, 43.0 + 23.08 / 60.0, Line::Rhumb),
    // Down the Kanin peninsula, between the White Sea and Chosha Bay.
    (68.0, 44.4, Line::Rhumb),
    (67.0, 45.3, Line::Rhumb),
    (66.0, 45.3, Line::Rhumb),
    (66.0, 66.0, Line::Rhumb),
    // Over Asia; the bay of Ob reaches to 66.3 N.
    (66.0, 75.0, Line::Rhumb),
    (66.0, 160.0, Line::Rhumb),
    // Past the head of the Sea of Okhotsk, over the neck of Kamchatka.
    (66.0, 165.2, Line::Rhumb),
    (60.0, 165.2, Line::Rhumb),
    (60.0, 179.0, Line::Rhumb),
    (60.0, 180.0, Line::Rhumb),
];

/// The bays of the Bering Sea from Il'pyrskiy eastward (from memory), south of the head of the Sea of
/// Okhotsk, which no line of one latitude to a longitude parts from it.
fn off_ilpyrskiy(latitude_deg: f64, longitude_deg: f64) -> bool {
    (164.2..=165.2).contains(&longitude_deg) && latitude_deg > 60.0 && latitude_deg < 61.0
}

/// Whether a position at sea is in Arctic waters by MARPOL Annex I regulation 46.2. `false` for what
/// is not a number.
#[must_use]
pub fn in_arctic_waters(latitude_deg: f64, longitude_deg: f64) -> bool {
    let longitude_deg = (longitude_deg + 180.0).rem_euclid(360.0) - 180.0;
    let north_of = CORNERS.windows(2).any(|pair| match *pair {
        [(from, west, line), (to, east, _)] if (west..=east).contains(&longitude_deg) => {
            east > west && latitude_deg > line.latitude_at((from, west), (to, east), longitude_deg)
        }
        _ => false,
    });
    north_of || off_ilpyrskiy(latitude_deg, longitude_deg)
}

impl Line {
    /// The latitude of the line between two places at a longitude between theirs.
    fn latitude_at(self, (from, west): (f64, f64), (to, east): (f64, f64), at: f64) -> f64 {
        let part = (at - west) / (east - west);
        match self {
            Self::Rhumb => {
                // Straight on Mercator's map of the sphere; the ellipsoid moves it by metres.
                let stretched =
                    |latitude: f64| (latitude.to_radians() / 2.0 + FRAC_PI_4).tan().ln();
                let y = stretched(from) * (1.0 - part) + stretched(to) * part;
                (2.0 * y.exp().atan()).to_degrees() - 90.0
            }
            Self::GreatCircle => {
                let sine = |degrees: f64| degrees.to_radians().sin();
                let tangent = |degrees: f64| degrees.to_radians().tan();
                let numerator = tangent(from) * sine(east - at) + tangent(to) * sine(at - west);
                (numerator / sine(east - west)).atan().to_degrees()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_arctic_waters_of_regulation_46() {
        for (place, latitude, longitude, inside) in [
            ("Davis Strait", 65.0, -58.0, true),
            ("Cape Farewell", 59.8, -43.9, true),
            ("south of Iceland", 63.0, -20.0, false),
            ("Reykjavik", 64.2, -22.0, false),
            ("Longyearbyen", 78.2, 15.6, true),
            ("Tromso", 69.7, 19.0, false),
            ("Kara Sea", 74.0, 70.0, true),
            ("Anadyr", 64.0, 178.0, true),
            ("north of the Aleutians", 56.0, -170.0, false),
            ("Beaufort Sea", 71.0, -140.0, true),
            ("nowhere", f64::NAN, 0.0, false),
            ("the antimeridian", 65.0, 180.0, true),
            ("Hudson Bay's north", 61.0, -85.0, true),
            ("Hudson Bay's south", 59.0, -85.0, false),
            ("Norton Sound", 64.0, -163.0, true),
            ("Bering Strait", 65.7, -168.5, true),
            ("Etolin Strait", 60.3, -165.3, true),
            ("Gulf of Ob", 68.0, 73.5, true),
            ("Chosha Bay", 67.3, 46.8, true),
            ("Anapka Bay", 60.1, 164.6, true),
        ] {
            assert_eq!(in_arctic_waters(latitude, longitude), inside, "{place}");
        }
    }

    /// Regression: Prince William Sound and Cook Inlet, the bays of the White Sea, Kuskokwim Bay and
    /// the head of the Sea of Okhotsk counted as Arctic waters.
    #[test]
    fn what_lies_outside_the_line_is_outside() {
        for (place, latitude, longitude) in [
            ("Prince William Sound", 60.7, -147.0),
            ("Cook Inlet", 60.8, -151.5),
            ("Yakutat", 60.1, -142.0),
            ("Kuskokwim Bay", 60.05, -162.4),
            ("Mezen Bay", 66.4, 43.8),
            ("the White Sea's throat", 66.8, 41.5),
            ("Onega Bay", 64.5, 36.5),
            ("Penzhina Bay", 61.8, 164.5),
        ] {
            assert!(!in_arctic_waters(latitude, longitude), "{place}");
        }
    }

    /// Cape Kanin Nos is at 43 23.08 E, and the line to it from Bjørnøya is a great circle, up to 79
    /// km north of the straight line in degrees. Recomputed: 71.78 N at 31.2 E.
    #[test]
    fn the_line_to_cape_kanin_nos_is_a_great_circle() {
        let kanin_nos = (68.0 + 38.29 / 60.0, 43.0 + 23.08 / 60.0);
        assert!(CORNERS.iter().any(|&(y, x, _)| (y, x) == kanin_nos));
        assert!(in_arctic_waters(71.85, 31.2) && !in_arctic_waters(71.7, 31.2));
        // By the rhumb line from 64 37 N 35 27 W, at its middle longitude; 65.865 N, not 65.841.
        let middle = (-35.45 - 26.5567) / 2.0;
        assert!(in_arctic_waters(65.88, middle) && !in_arctic_waters(65.855, middle));
    }
}
