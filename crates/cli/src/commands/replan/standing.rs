//! Where the craft is, when, and with how much fuel: by the options, a GPX track and noon reports.

use std::path::Path;

use dipward::Standing;
use dipward_geodesy::{Position, direct, inverse, position};
use jiff::Timestamp;

use super::{noon_reports::noon_reports, read};
use crate::{arguments::Replan, exit::Failure};

/// A place at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fix {
    pub(super) time: Timestamp,
    pub(super) position: Position,
}

/// The craft's standing; what an option says counts before a track, and a track before noon reports.
///
/// # Returns
///
/// The standing, and what had to be reckoned.
pub(super) fn standing(request: &Replan) -> Result<(Standing, Vec<String>), Failure> {
    let mut notes = Vec::new();
    let track = request.track.as_deref().map(track).transpose()?;
    let noon = request.noon.as_deref().map(|path| noon_reports(path, &read(path)?)).transpose()?;
    let at = request
        .at
        .map(|at| at.instant)
        .or_else(|| track.as_ref()?.last().map(|fix| fix.time))
        .or_else(|| noon.as_ref()?.last().map(|report| report.fix.time))
        .ok_or_else(|| Failure::request("give --at, --track or --noon"))?;
    let position = match (request.position, &track, &noon) {
        (Some(place), ..) => place.0,
        (None, Some(fixes), _) => within(request.track.as_deref(), fixes, at)?,
        (None, None, Some(reports)) => {
            let fixes: Vec<Fix> = reports.iter().map(|report| report.fix).collect();
            within(request.noon.as_deref(), &fixes, at)?
        }
        (None, None, None) => {
            return Err(Failure::request("give --position, --track or --noon"));
        }
    };
    let fuel_t = match (request.fuel, &noon) {
        (Some(fuel_t), _) => fuel_t,
        (None, Some(reports)) => {
            let known: Vec<(Timestamp, f64)> =
                reports.iter().map(|report| (report.fix.time, report.rob_t)).collect();
            let (fuel_t, note) = fuel_at(&known, at).map_err(|why| {
                let shown = request.noon.as_deref().unwrap_or(Path::new("")).display();
                Failure::request(format_args!("{shown}: {why}"))
            })?;
            notes.extend(note);
            fuel_t
        }
        (None, None) => return Err(Failure::request("give --fuel or --noon")),
    };
    Ok((Standing { position, at, fuel_t }, notes))
}

fn within(path: Option<&Path>, fixes: &[Fix], at: Timestamp) -> Result<Position, Failure> {
    position_at(fixes, at).ok_or_else(|| {
        let ends = fixes.first().zip(fixes.last());
        let span = ends.map_or_else(String::new, |(first, last)| {
            format!(" is from {} to {}", first.time, last.time)
        });
        let shown = path.unwrap_or(Path::new("")).display();
        Failure::request(format_args!(
            "{shown}{span} and does not tell where the craft is at {at}; give --position"
        ))
    })
}

/// The place at an instant, along the geodesic from the fix before to the fix after.
fn position_at(fixes: &[Fix], at: Timestamp) -> Option<Position> {
    let after = fixes.iter().position(|fix| fix.time >= at)?;
    let far = fixes.get(after)?;
    if far.time == at {
        return Some(far.position);
    }
    let near = fixes.get(after.checked_sub(1)?)?;
    let leg = inverse(near.position, far.position);
    let run_km = leg.distance_km * share(near.time, far.time, at);
    Some(direct(near.position, leg.initial_course_deg, run_km).position)
}

/// How far an instant lies from one to another, 0 to 1 in between.
fn share(from: Timestamp, to: Timestamp, at: Timestamp) -> f64 {
    let milliseconds =
        |a: Timestamp, b: Timestamp| (b.as_millisecond() - a.as_millisecond()) as f64;
    milliseconds(from, at) / milliseconds(from, to)
}

/// The fuel aboard at an instant: on the straight line between two reports, after the last one on that
/// through the last two.
///
/// # Returns
///
/// The fuel, and a note where it was reckoned.
///
/// # Errors
///
/// Why it cannot be told.
fn fuel_at(known: &[(Timestamp, f64)], at: Timestamp) -> Result<(f64, Option<String>), String> {
    if let Some((_, fuel_t)) = known.iter().find(|(time, _)| *time == at) {
        return Ok((*fuel_t, None));
    }
    let after = known.iter().position(|(time, _)| *time > at).unwrap_or(known.len());
    let pair = match (after, known.len()) {
        (0, _) => return Err(format!("the first report is later than {at}; give --fuel")),
        (after, count) if after < count => after,
        (_, count) if count >= 2 => count - 1,
        _ => return Err(format!("one report does not tell the fuel at {at}; give --fuel")),
    };
    let (Some((from, before_t)), Some((to, then_t))) = (known.get(pair - 1), known.get(pair))
    else {
        return Err("there is no report".to_owned());
    };
    let fuel_t = before_t + (then_t - before_t) * share(*from, *to, at);
    let note = format!("{fuel_t:.1} t of fuel at {at} by the noon reports of {from} and {to}");
    Ok((fuel_t, Some(note)))
}

/// The fixes of a GPX track, its points with a time, in the order of time.
fn track(path: &Path) -> Result<Vec<Fix>, Failure> {
    let shown = path.display();
    let bytes = read(path)?;
    let gpx = gpx::read(&*bytes)
        .map_err(|error| Failure::request(format_args!("{shown}: not a GPX file: {error}")))?;
    let segments = gpx.tracks.iter().flat_map(|track| &track.segments);
    let mut fixes = Vec::new();
    for point in segments.flat_map(|segment| &segment.points) {
        let Some(time) = point.time.and_then(|time| time.format().ok()) else { continue };
        let time: Timestamp = time
            .parse()
            .map_err(|error| Failure::request(format_args!("{shown}: `{time}`: {error}")))?;
        let at = point.point();
        fixes.push(Fix { time, position: position(at.y(), at.x()) });
    }
    fixes.sort_by_key(|fix| fix.time);
    if fixes.is_empty() {
        return Err(Failure::request(format_args!(
            "{shown}: no track point with a time; a route or waypoints do not tell where the craft has \
             been"
        )));
    }
    Ok(fixes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn a_place_between_fixes_is_on_the_geodesic() {
        let fixes = [
            Fix { time: at("2027-01-01T00:00Z"), position: position(-60.0, 140.0) },
            Fix { time: at("2027-01-01T10:00Z"), position: position(-62.0, 140.0) },
        ];
        let found = position_at(&fixes, at("2027-01-01T02:30Z")).unwrap();
        assert!((found.y() + 60.5).abs() < 2e-3 && (found.x() - 140.0).abs() < 1e-9);
        assert_eq!(position_at(&fixes, fixes[1].time), Some(fixes[1].position));
        assert_eq!(position_at(&fixes, at("2026-12-31T23:59Z")), None);
        assert_eq!(position_at(&fixes, at("2027-01-01T10:01Z")), None);
    }

    #[test]
    fn fuel_is_read_between_reports_and_carried_on_after_them() {
        let known = [(at("2027-01-01T12:00Z"), 900.0), (at("2027-01-02T12:00Z"), 852.0)];
        let fuel =
            |text: &str| fuel_at(&known, at(text)).map(|(fuel_t, note)| (fuel_t, note.is_some()));
        assert_eq!(fuel("2027-01-02T12:00Z"), Ok((852.0, false)));
        assert_eq!(fuel("2027-01-02T00:00Z"), Ok((876.0, true)));
        assert_eq!(fuel("2027-01-02T18:00Z"), Ok((840.0, true)));
        assert!(fuel("2027-01-01T06:00Z").is_err());
        assert!(fuel_at(&known[..1], at("2027-01-03T12:00Z")).is_err());
        assert!(fuel_at(&[], at("2027-01-03T12:00Z")).is_err());
    }
}
