//! `dipward windows`.

mod strip;

use std::io::{self, Write};

use dipward_field::{StayingChance, TrackRequest, best_stays, pole_tracks, staying_chances};
use dipward_plugin::{Assumption, OutputFile};
use jiff::{Timestamp, tz::Offset};
use serde::Serialize;

use crate::{
    arguments::{CAUTION, Format, Windows},
    commands::plan::{check_folder, failure_of_writing},
    console,
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

/// Where the scale of chances may end: one that fits the greatest of them.
const TOPS: [f64; 5] = [0.1, 0.2, 0.3, 0.5, 1.0];
/// Darker the better, a tenth of the scale a step.
const SHADES: [char; 10] = [' ', '.', ':', '-', '=', '+', '*', '#', '%', '@'];

/// All that is told, as other programs read it.
#[derive(Debug, Serialize)]
struct Told {
    caution: &'static str,
    version: &'static str,
    within_km: f64,
    for_h: f64,
    members: u32,
    seed: u64,
    disturbance: String,
    best: Vec<Chance>,
    /// Every hour of the window.
    hours: Vec<Chance>,
    assumptions: Vec<Assumption>,
}

#[derive(Debug, Clone, Serialize)]
struct Chance {
    from: Timestamp,
    chance: f64,
    standard_error: f64,
}

pub(crate) fn windows(session: &Session<'_>, request: &Windows) -> Result<(), Failure> {
    if let Some(out) = &request.out {
        check_folder(out)?;
    }
    let file = ScenarioFile::open(&request.scenario, session.console)?;
    let scenario = file.scenario(session.registry, request.seed)?;
    let (pole, station) = (&scenario.keys.pole, &scenario.keys.station);
    let within_km = request.within_km.unwrap_or(station.within_km);
    let for_h = request.for_h.unwrap_or(station.for_h);
    if !(within_km > 0.0 && within_km <= 4000.0) {
        return Err(Failure::request("--within-km is not within 0 to 4000"));
    }
    if !(0.0..=scenario.window_hours).contains(&for_h) {
        return Err(Failure::request("--for-h is not within 0 and the scenario's window"));
    }
    let hours: Vec<f64> = (0..=scenario.window_hours.ceil() as u32).map(f64::from).collect();
    let ensemble = TrackRequest {
        clock: scenario.clock,
        hours: &hours,
        hemisphere: pole.hemisphere,
        members: pole.members,
        seed: scenario.keys.seed,
        height_km: pole.height_km,
        looks: pole.looks_per_hour,
    };
    let (model, disturbance) = (&scenario.model.object, &scenario.disturbance.object);
    let tracks = pole_tracks(model.as_ref(), disturbance.as_ref(), &ensemble, session.control)?;
    session.stages.end();
    let chances = staying_chances(&tracks, within_km, for_h);
    let told = |one: &StayingChance| Chance {
        from: scenario.clock.instant(one.hour),
        chance: one.chance,
        standard_error: one.standard_error,
    };
    let mut assumptions = model.assumptions();
    assumptions.extend(disturbance.assumptions());
    let told = Told {
        caution: CAUTION,
        version: env!("CARGO_PKG_VERSION"),
        within_km,
        for_h,
        members: pole.members,
        seed: scenario.keys.seed,
        disturbance: disturbance.provenance().name,
        best: best_stays(&tracks, within_km, for_h, request.best).iter().map(told).collect(),
        hours: chances.iter().map(told).collect(),
        assumptions,
    };
    if let Some(out) = &request.out {
        let mut json = serde_json::to_vec_pretty(&told).map_err(Failure::other)?;
        json.push(b'\n');
        let files = [
            OutputFile { name: "windows.json".into(), bytes: json },
            OutputFile { name: "windows.svg".into(), bytes: strip::strip(&told).into_bytes() },
        ];
        session
            .interrupt
            .unbroken(|| dipward_report::write_all(out, &files))?
            .map_err(|error| failure_of_writing(out, &error))?;
    }
    console::print(|out| match request.format {
        Format::Table => table(out, &told),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, &told).map_err(io::Error::from)?;
            writeln!(out)
        }
    })?;
    if let Some(out) = &request.out {
        session.console.note(&format!("2 files written to {}", out.display()));
    }
    Ok(())
}

fn table(out: &mut impl Write, told: &Told) -> io::Result<()> {
    let Told { within_km, for_h, members, seed, disturbance, .. } = told;
    writeln!(out, "chance that the pole stays within {within_km} km of its mean for {for_h} h")?;
    writeln!(out, "{disturbance}; {members} members, seed {seed}\n")?;
    writeln!(out, "best   from (UTC)             chance  standard error")?;
    for (rank, one) in told.best.iter().enumerate() {
        writeln!(
            out,
            "{:4}   {:20}  {:5.1} %  {:5.1} %",
            rank + 1,
            one.from.to_string(),
            100.0 * one.chance,
            100.0 * one.standard_error
        )?;
    }
    let scale_top = scale_top(&told.hours);
    let shades: String = SHADES.iter().collect();
    let step = 100.0 * scale_top / SHADES.len() as f64;
    writeln!(
        out,
        "\nday         mean   hour by hour from 00 UTC; a step of `{shades}` is {step:.0} %"
    )?;
    for (day, hours) in by_day(&told.hours) {
        let mean = hours.iter().map(|(_, chance)| chance).sum::<f64>() / hours.len().max(1) as f64;
        let mut line = [' '; 24];
        for (hour, chance) in hours {
            // A cast of what is negative or no number is 0.
            let shade = SHADES.get((chance / scale_top * 10.0) as usize).or(SHADES.last());
            if let (Some(into), Some(shade)) = (line.get_mut(hour), shade) {
                *into = *shade;
            }
        }
        let line: String = line.into_iter().collect();
        writeln!(out, "{day}  {:4.1} %  |{line}|", 100.0 * mean)?;
    }
    for assumption in &told.assumptions {
        writeln!(out, "assumed  {}", assumption.text)?;
    }
    Ok(())
}

fn scale_top(chances: &[Chance]) -> f64 {
    let greatest = chances.iter().map(|one| one.chance).fold(0.0, f64::max);
    TOPS.into_iter().find(|top| greatest <= *top).unwrap_or(1.0)
}

/// The chances of each day, by the hour that they begin in.
fn by_day(chances: &[Chance]) -> Vec<(jiff::civil::Date, Vec<(usize, f64)>)> {
    let mut days: Vec<(jiff::civil::Date, Vec<(usize, f64)>)> = Vec::new();
    for one in chances {
        let here = Offset::UTC.to_datetime(one.from);
        let entry = (usize::from(here.hour().unsigned_abs()), one.chance);
        match days.last_mut() {
            Some((day, hours)) if *day == here.date() => hours.push(entry),
            _ => days.push((here.date(), vec![entry])),
        }
    }
    days
}
