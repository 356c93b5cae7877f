//! What an alternative trades against the best way of its departure, in words.

use dipward_geodesy::{distance_km, inverse, position};
use dipward_plugin::{Approach, Waypoint};

use crate::reasons::lands;

/// "West of it by up to 180 km: 9 h longer, 14 t less, minimum RIO +3".
#[must_use]
pub(crate) fn trade(best: &Approach, other: &Approach) -> String {
    let mut parts: Vec<String> = lands(other).into_iter().collect();
    let hours = other.duration_h - best.duration_h;
    if hours.abs() >= 0.5 {
        parts.push(format!(
            "{:.0} h {}",
            hours.abs(),
            if hours > 0.0 { "longer" } else { "shorter" }
        ));
    }
    let tonnes = other.fuel_t.out - best.fuel_t.out;
    if tonnes.abs() >= 0.5 {
        parts.push(format!("{:.0} t {}", tonnes.abs(), if tonnes > 0.0 { "more" } else { "less" }));
    }
    if let (Some(a), Some(b)) = (best.risk.minimum_rio, other.risk.minimum_rio)
        && (b - a).abs() >= 1.0
    {
        parts.push(format!("minimum RIO {:+.0}", b - a));
    }
    let elevated = other.risk.hours_elevated - best.risk.hours_elevated;
    if elevated.abs() >= 0.5 {
        let more = if elevated > 0.0 { "more" } else { "fewer" };
        parts.push(format!("{:.0} h {more} at elevated risk", elevated.abs()));
    }
    let waited_h: f64 = Waypoint::waits(&other.waypoints).map(|(_, hours)| hours).sum();
    if waited_h > 0.0 {
        parts.push(format!("lies still for {waited_h:.0} h"));
    }
    let told = if parts.is_empty() { "much the same".to_owned() } else { parts.join(", ") };
    match side(&best.waypoints, &other.waypoints) {
        Some(side) => format!("{side}: {told}"),
        None => told,
    }
}

/// On which side of the best way the other one passes, and by how much, where they lie apart most.
fn side(best: &[Waypoint], other: &[Waypoint]) -> Option<String> {
    const APART_KM: f64 = 20.0;
    let places = |points: &[Waypoint]| {
        points.iter().map(|p| position(p.latitude_deg, p.longitude_deg)).collect::<Vec<_>>()
    };
    let line = |points: &[Waypoint]| {
        let corners = places(points);
        corners
            .windows(2)
            .flat_map(|leg| dipward_geodesy::points_along(leg[0], leg[1], 25.0))
            .collect::<Vec<_>>()
    };
    let best = line(best);
    let (near, far, apart) = line(other)
        .into_iter()
        .filter_map(|point| {
            best.iter()
                .map(|&on_best| (on_best, point, distance_km(on_best, point)))
                .min_by(|a, b| a.2.total_cmp(&b.2))
        })
        .max_by(|a, b| a.2.total_cmp(&b.2))?;
    (apart >= APART_KM).then(|| {
        const NAMES: [&str; 8] = [
            "north",
            "north-east",
            "east",
            "south-east",
            "south",
            "south-west",
            "west",
            "north-west",
        ];
        let course = inverse(near, far).initial_course_deg;
        let name = NAMES[((course / 45.0).round() as usize) % NAMES.len()];
        format!("{name} of it by up to {apart:.0} km")
    })
}
