//! `dipward windows`.

mod hours;
mod strip;
mod table;

use dipward_field::{
    Ellipse, HourOfDayChance, KnownPole, PoleTracks, StayingChance, TrackRequest, best_stays,
    chances_by_hour_of_day, chances_by_season, dip_pole, pole_tracks, staying_chances,
};
use dipward_plugin::{Alternative, Assumption, MainField, OutputFile};
use jiff::{Timestamp, civil::Date, tz::Offset};
use serde::Serialize;

use crate::{
    arguments::{CAUTION, Windows},
    commands::output::{check_folder, json_file, print_as, write_files},
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

/// Where the scale of chances may end: one that fits the greatest of them.
const TOPS: [f64; 5] = [0.1, 0.2, 0.3, 0.5, 1.0];
/// All that is told, as other programs read it.
#[derive(Debug, Serialize)]
struct Told {
    caution: &'static str,
    version: &'static str,
    within_km: f64,
    for_h: f64,
    /// How often an hour the pole is looked at.
    looks_per_hour: u32,
    members: u32,
    seed: u64,
    disturbance: String,
    /// How the disturbance did when it was held to recorded hours.
    #[serde(skip_serializing_if = "Option::is_none")]
    verified: Option<String>,
    /// The instant up to which something is known of single days beyond their season.
    #[serde(skip_serializing_if = "Option::is_none")]
    days_known_until: Option<Timestamp>,
    /// The ellipse that holds 95 % of where the mean pole itself may be, which the chances leave out.
    mean_pole_95: Ellipse,
    /// The hours of the day, over the whole window.
    hours_of_day: Vec<HourOfDay>,
    /// The mean chance over the window by what else might be believed.
    models: Vec<ModelChance>,
    best: Vec<Chance>,
    /// Every hour of the window.
    hours: Vec<Chance>,
    assumptions: Vec<Assumption>,
    /// What is drawn and tabulated: hours as far as single days are known, weeks from there on.
    #[serde(skip)]
    season: Vec<Chance>,
}

#[derive(Debug, Clone, Serialize)]
struct Chance {
    from: Timestamp,
    /// How many days from that one on it is a mean over, at the same hour.
    days: u32,
    chance: f64,
    standard_error: f64,
}

/// The chance of an hour of the day.
#[derive(Debug, Clone, Serialize)]
struct HourOfDay {
    hour_utc: u8,
    /// Mean local solar time at the pole.
    local_solar_h: f64,
    chance: f64,
    /// Least and greatest over the draws (95 %) and over what else might be believed.
    low: f64,
    high: f64,
}

#[derive(Debug, Clone, Serialize)]
struct ModelChance {
    name: String,
    chance: f64,
}

/// Members of the ensembles of what else might be believed.
const OTHER_MEMBERS: u32 = 200;
/// Two-sided 95 % of a normal distribution.
const Z_95: f64 = 1.96;

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
    let middle = scenario.clock.decimal_year(0.5 * scenario.window_hours);
    let doubt = dip_pole(model.as_ref(), pole.hemisphere, middle, pole.height_km)?.sigma_ellipse();
    // Where the mean pole is the party finds out by its readings; a window is when it keeps near it.
    let known = KnownPole::new(model.as_ref());
    let tracks = pole_tracks(&known, disturbance.as_ref(), &ensemble, session.control)?;
    let chances = staying_chances(&tracks, within_km, for_h);
    let mut others = Vec::new();
    for Alternative { name, object } in disturbance.alternatives() {
        let ensemble = TrackRequest { members: pole.members.min(OTHER_MEMBERS), ..ensemble };
        let tracks = pole_tracks(&known, object.as_ref(), &ensemble, session.control)?;
        let chances = staying_chances(&tracks, within_km, for_h);
        others.push((name, chances_by_hour_of_day(&tracks, &chances)));
    }
    session.stages.end();
    let known_h = disturbance.days_known_until_h(scenario.clock).filter(|hour| *hour > 0.0);
    let told = |one: &StayingChance| Chance {
        from: scenario.clock.instant(one.hour),
        days: one.days,
        chance: one.chance,
        standard_error: one.standard_error,
    };
    let own = chances_by_hour_of_day(&tracks, &chances);
    let mut assumptions = known.assumptions();
    assumptions.extend(disturbance.assumptions());
    let told = Told {
        caution: CAUTION,
        version: env!("CARGO_PKG_VERSION"),
        within_km,
        for_h,
        looks_per_hour: pole.looks_per_hour,
        members: pole.members,
        seed: scenario.keys.seed,
        disturbance: disturbance.provenance().name,
        verified: disturbance.verified(),
        days_known_until: known_h
            .filter(|hour| hour.is_finite())
            .map(|hour| scenario.clock.instant(hour)),
        mean_pole_95: doubt.holding(0.95),
        hours_of_day: hours_of_day(&own, &others, &tracks),
        models: std::iter::once(("as the scenario has it".to_owned(), &own))
            .chain(others.iter().map(|(name, of_model)| (name.clone(), of_model)))
            .map(|(name, of_model)| ModelChance { name, chance: mean_chance(of_model) })
            .collect(),
        best: best_stays(&tracks, within_km, for_h, known_h, request.best)
            .iter()
            .map(told)
            .collect(),
        season: chances_by_season(&chances, known_h).iter().map(told).collect(),
        hours: chances.iter().map(told).collect(),
        assumptions,
    };
    if let Some(out) = &request.out {
        let files = [
            json_file("windows.json", &told)?,
            OutputFile { name: "windows.svg".into(), bytes: strip::strip(&told).into_bytes() },
        ];
        write_files(session, out, &files)?;
    }
    print_as(request.format, &told, |out| table::table(out, &told))?;
    if let Some(out) = &request.out {
        session.console.note(&format!("2 files written to {}", out.display()));
    }
    Ok(())
}

fn mean_chance(hours: &[HourOfDayChance]) -> f64 {
    hours.iter().map(|one| one.chance).sum::<f64>() / hours.len().max(1) as f64
}

/// The hours of the day with what the draws and the other models leave open.
fn hours_of_day(
    own: &[HourOfDayChance],
    others: &[(String, Vec<HourOfDayChance>)],
    tracks: &PoleTracks,
) -> Vec<HourOfDay> {
    let middle = tracks.mean(tracks.hours().len() / 2);
    let longitude_deg = middle.map_or(0.0, |pole| pole.x());
    own.iter()
        .map(|one| {
            let alike = |of_model: &Vec<HourOfDayChance>| {
                let found = of_model.iter().find(|other| other.hour_utc == one.hour_utc);
                found.map(|other| other.chance)
            };
            let models = || others.iter().filter_map(|(_, of_model)| alike(of_model));
            let spread = |chance: f64| {
                // As if the days of a member were one: their draws hang together.
                Z_95 * (chance * (1.0 - chance) / tracks.members() as f64).sqrt()
            };
            let least = models().fold(one.chance, f64::min);
            let most = models().fold(one.chance, f64::max);
            HourOfDay {
                hour_utc: one.hour_utc,
                local_solar_h: (f64::from(one.hour_utc) + longitude_deg / 15.0).rem_euclid(24.0),
                chance: one.chance,
                low: (least - spread(least)).max(0.0),
                high: (most + spread(most)).min(1.0),
            }
        })
        .collect()
}

fn scale_top(chances: &[Chance]) -> f64 {
    let greatest = chances.iter().map(|one| one.chance).fold(0.0, f64::max);
    TOPS.into_iter().find(|top| greatest <= *top).unwrap_or(1.0)
}

/// The chances of each day or week, by the hour that they begin in.
fn by_column(chances: &[Chance]) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    for one in chances {
        let here = Offset::UTC.to_datetime(one.from);
        let hour = usize::from(here.hour().unsigned_abs());
        // A week's hours of the day follow one another from its first hour on, over midnight too.
        match columns.last_mut() {
            Some(column)
                if column.hours.iter().all(|(other, _)| *other != hour)
                    && (column.first == here.date()
                        || (one.days > 1 || column.days > 1)
                            && column.first.tomorrow().is_ok_and(|next| next == here.date())) =>
            {
                column.days = column.days.max(one.days);
                column.hours.push((hour, one.chance));
            }
            _ => columns.push(Column {
                first: here.date(),
                days: one.days,
                hours: vec![(hour, one.chance)],
            }),
        }
    }
    columns
}

impl Column {
    fn holds(&self, day: Date) -> bool {
        let since = self.first.until(day).map_or(-1, |span| span.get_days());
        (0..=i64::from(self.days)).contains(&i64::from(since)) && (since == 0 || self.days > 1)
    }
}

/// A day's chances, or a week's mean ones.
#[derive(Debug)]
struct Column {
    first: Date,
    days: u32,
    /// Hours of the day, UTC, with their chances.
    hours: Vec<(usize, f64)>,
}
