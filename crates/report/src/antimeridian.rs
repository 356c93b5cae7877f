//! Geodesic lines and rings as straight longitude-latitude pieces that do not cross the antimeridian.
//!
//! A reader of longitudes and latitudes joins two of them by a straight line in those two numbers,
//! which is no geodesic. The lines are therefore cut fine enough that the two agree, and RFC 7946
//! section 3.1.9 wants them cut where they cross 180 degrees.

use dipward_geodesy::{Position, geodesic, normalise_longitude_deg};

/// Longitude and latitude, degrees.
pub(crate) type LonLat = [f64; 2];

/// The greatest distance between two points of a cut line.
const MAX_PIECE_KM: f64 = 50.0;
/// How far the straight line of a piece may stray from the geodesic.
const STRAY_KM: f64 = 0.1;
/// Near a geographic pole pieces would shrink without end; shorter ones are not cut.
const MIN_PIECE_KM: f64 = 0.5;

/// The geodesics between the positions, cut so fine that straight pieces follow them within 100 m
/// (500 m beside a geographic pole) and no piece is longer than 50 km.
pub(crate) fn densified(line: &[Position]) -> Vec<Position> {
    let mut cut = Vec::with_capacity(line.len());
    cut.extend(line.first());
    for pair in line.windows(2) {
        if let &[from, to] = pair {
            cut_between(from, to, &mut cut);
        }
    }
    cut
}

fn cut_between(from: Position, to: Position, cut: &mut Vec<Position>) {
    let way = geodesic::inverse(from, to);
    if way.distance_km > MIN_PIECE_KM {
        let middle = geodesic::direct(from, way.initial_course_deg, way.distance_km / 2.0).position;
        let straight = Position::new(
            from.x() + normalise_longitude_deg(to.x() - from.x()) / 2.0,
            f64::midpoint(from.y(), to.y()),
        );
        if way.distance_km > MAX_PIECE_KM || geodesic::distance_km(middle, straight) > STRAY_KM {
            cut_between(from, middle, cut);
            cut_between(middle, to, cut);
            return;
        }
    }
    cut.push(to);
}

/// Cuts a line at the antimeridian.
pub(crate) fn split_line(line: &[Position]) -> Vec<Vec<LonLat>> {
    let mut parts: Vec<Vec<LonLat>> = Vec::new();
    let mut part: Vec<LonLat> = Vec::new();
    for position in line {
        let Some(&[from_deg, from_latitude_deg]) = part.last() else {
            part.push([normalise_longitude_deg(position.x()), position.y()]);
            continue;
        };
        let to_deg = from_deg + normalise_longitude_deg(position.x() - from_deg);
        let edge_deg = if to_deg > 180.0 { 180.0 } else { -180.0 };
        if to_deg.abs() > 180.0 {
            let share = (edge_deg - from_deg) / (to_deg - from_deg);
            let latitude_deg = from_latitude_deg + share * (position.y() - from_latitude_deg);
            push_other(&mut part, [edge_deg, latitude_deg]);
            parts.push(std::mem::take(&mut part));
            part.push([-edge_deg, latitude_deg]);
            push_other(&mut part, [to_deg - 2.0 * edge_deg, position.y()]);
        } else {
            push_other(&mut part, [to_deg, position.y()]);
        }
    }
    parts.push(part);
    parts.retain(|part| part.len() > 1);
    parts
}

/// Cuts a ring at the antimeridian into closed, anticlockwise rings. A ring about a geographic pole
/// comes back as the area that holds the pole.
///
/// The ring may be open or closed and must be simple. Fewer than three positions give nothing.
pub(crate) fn split_ring(ring: &[Position]) -> Vec<Vec<LonLat>> {
    let mut whole: Vec<LonLat> = Vec::with_capacity(ring.len() + 3);
    for position in ring.iter().chain(ring.first()) {
        let longitude_deg = match whole.last() {
            Some(&[last_deg, _]) => last_deg + normalise_longitude_deg(position.x() - last_deg),
            None => normalise_longitude_deg(position.x()),
        };
        push_other(&mut whole, [longitude_deg, position.y()]);
    }
    let (Some(&first), Some(&last)) = (whole.first(), whole.last()) else { return Vec::new() };
    if whole.len() < 4 || whole.iter().flatten().any(|value| !value.is_finite()) {
        return Vec::new();
    }
    if (last[0] - first[0]).abs() > 180.0 {
        let pole_deg = if first[1] < 0.0 { -90.0 } else { 90.0 };
        whole.extend([[last[0], pole_deg], [first[0], pole_deg], first]);
    }
    let lowest_deg = whole.iter().map(|point| point[0]).fold(f64::INFINITY, f64::min);
    let shift_deg = ((lowest_deg + 180.0) / 360.0).floor() * 360.0;
    for point in &mut whole {
        point[0] -= shift_deg;
    }
    [(0.0, 1.0), (360.0, -1.0)]
        .into_iter()
        .filter_map(|(turn_deg, side)| {
            let part = clipped_at_180(&whole, side);
            let shifted = part.into_iter().map(|point| [point[0] - turn_deg, point[1]]).collect();
            closed_anticlockwise(shifted)
        })
        .collect()
}

/// The part of a closed ring short of 180 degrees (`side` 1) or beyond them (`side` -1).
fn clipped_at_180(ring: &[LonLat], side: f64) -> Vec<LonLat> {
    let inside = |point: LonLat| side * (180.0 - point[0]);
    let mut part = Vec::with_capacity(ring.len() + 4);
    for pair in ring.windows(2) {
        let &[from, to] = pair else { continue };
        let (depth_from, depth_to) = (inside(from), inside(to));
        if depth_from >= 0.0 {
            part.push(from);
        }
        if (depth_from > 0.0 && depth_to < 0.0) || (depth_from < 0.0 && depth_to > 0.0) {
            let share = depth_from / (depth_from - depth_to);
            part.push([180.0, from[1] + share * (to[1] - from[1])]);
        }
    }
    part
}

fn closed_anticlockwise(mut ring: Vec<LonLat>) -> Option<Vec<LonLat>> {
    let first = *ring.first()?;
    ring.push(first);
    let area: f64 = ring
        .windows(2)
        .filter_map(|pair| pair.first().zip(pair.get(1)))
        .map(|(from, to)| (from[0] - to[0]) * (from[1] + to[1]))
        .sum();
    if area == 0.0 || ring.len() < 4 {
        return None;
    }
    if area < 0.0 {
        ring.reverse();
    }
    Some(ring)
}

fn push_other(part: &mut Vec<LonLat>, point: LonLat) {
    if part.last() != Some(&point) {
        part.push(point);
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use proptest::prelude::*;

    use super::*;

    fn line_km(line: &[LonLat]) -> f64 {
        line.windows(2)
            .map(|pair| {
                geodesic::distance_km(
                    position(pair[0][1], pair[0][0]),
                    position(pair[1][1], pair[1][0]),
                )
            })
            .sum()
    }

    #[test]
    fn a_line_over_the_date_line_is_cut_there() {
        let parts = split_line(&[position(-60.0, 170.0), position(-62.0, -170.0)]);
        assert_eq!(parts.len(), 2);
        assert_eq!(parts[0].last(), Some(&[180.0, -61.0]));
        assert_eq!(parts[1].first(), Some(&[-180.0, -61.0]));
    }

    #[test]
    fn a_line_that_only_touches_the_date_line_stays_whole() {
        let touch = [position(-60.0, 170.0), position(-61.0, 180.0), position(-62.0, 170.0)];
        let parts = split_line(&touch);
        assert_eq!(parts, [vec![[170.0, -60.0], [180.0, -61.0], [170.0, -62.0]]]);
        let from_it = split_line(&[position(-61.0, 180.0), position(-62.0, 170.0)]);
        assert_eq!(from_it, [vec![[180.0, -61.0], [170.0, -62.0]]]);
    }

    #[test]
    fn a_ring_over_the_date_line_becomes_two_areas() {
        let ring = [
            position(-60.0, 179.0),
            position(-60.0, -179.0),
            position(-62.0, -179.0),
            position(-62.0, 179.0),
        ];
        let parts = split_ring(&ring);
        assert_eq!(parts.len(), 2);
        for part in &parts {
            assert_eq!(part.first(), part.last());
            assert!(part.iter().all(|point| point[0].abs() <= 180.0));
        }
    }

    #[test]
    fn a_ring_about_the_pole_holds_the_pole() {
        let ring: Vec<Position> =
            (0..72).map(|step| position(86.0, f64::from(step) * 5.0 - 178.0)).collect();
        let parts = split_ring(&ring);
        // Twice the area of a band of 4 by 360 degrees.
        let area: f64 = parts
            .iter()
            .flat_map(|part| part.windows(2))
            .map(|pair| (pair[0][0] - pair[1][0]) * (pair[0][1] + pair[1][1]))
            .sum();
        assert!((area - 2.0 * 4.0 * 360.0).abs() < 1e-6, "{area}");
    }

    #[test]
    fn regression_a_cut_ring_ends_on_180_degrees_exactly() {
        // Interpolated, the cut once came to lie a last digit beyond 180.
        let centre = position(-89.244_377_718_836_62, 32.848_391_048_471_21);
        for radius_km in [100.0, 250.0, 700.0] {
            let ring: Vec<Position> = (0..90)
                .map(|step| geodesic::direct(centre, f64::from(step) * 4.0, radius_km).position)
                .collect();
            let parts = split_ring(&ring);
            assert_eq!(parts.len(), 2);
            assert!(parts.iter().flatten().all(|point| point[0].abs() <= 180.0));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(500))]

        #[test]
        fn pieces_are_as_long_as_the_line_and_stay_in_range(
            from in (-89.0..89.0, -180.0..180.0_f64),
            to in (-89.0..89.0, -180.0..180.0_f64),
        ) {
            let ends = [position(from.0, from.1), position(to.0, to.1)];
            let straight_km = geodesic::distance_km(ends[0], ends[1]);
            prop_assume!(straight_km < 15_000.0);
            let cut = densified(&ends);
            let parts = split_line(&cut);
            let sum_km: f64 = parts.iter().map(|part| line_km(part)).sum();
            prop_assert!((sum_km - straight_km).abs() < 0.05 + straight_km * 1e-4);
            for part in &parts {
                prop_assert!(part.iter().all(|point| point[0].abs() <= 180.0));
                for pair in part.windows(2) {
                    prop_assert!((pair[1][0] - pair[0][0]).abs() <= 180.0);
                }
            }
        }

        #[test]
        fn rings_of_any_place_are_closed_and_anticlockwise(
            centre in (-89.5..89.5, -180.0..180.0_f64), radius_km in 1.0..800.0_f64,
        ) {
            let centre = position(centre.0, centre.1);
            let ring: Vec<Position> = (0..90)
                .map(|step| geodesic::direct(centre, f64::from(step) * 4.0, radius_km).position)
                .collect();
            let parts = split_ring(&ring);
            prop_assert!(!parts.is_empty() && parts.len() <= 2);
            for part in &parts {
                prop_assert_eq!(part.first(), part.last());
                prop_assert!(part.iter().all(|point| point[0].abs() <= 180.0));
            }
        }
    }
}
