//! `dipward verify`.

mod table;

use dipward_field::{
    DipPole, dip_pole, igrf14,
    kinds::house_disturbance,
    observatory::{StationRecord, read_station_files},
    verification::{
        Knowing, Selection, VerifySettings, disturbance_knowing, verify as hold_against,
    },
};
use dipward_geodesy::Hemisphere;
use dipward_plugin::Disturbance;
use dipward_report::{VerificationTold, verification_files};

use crate::{
    arguments::{CAUTION, Verify},
    commands::output::{check_folder, print_as, write_files},
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

/// When the pole is whose kilometres are told without a scenario.
const HOUSE_YEAR: f64 = 2027.0;

pub(crate) fn verify(session: &Session<'_>, request: &Verify) -> Result<(), Failure> {
    if let Some(out) = &request.out {
        check_folder(out)?;
    }
    let settings = settings(request)?;
    let record = record(request)?;
    let Forecaster { disturbance, pole, seed } = match &request.scenario {
        Some(_) => of_scenario(session, request)?,
        None => of_house(request, &record)?,
    };
    let settings = VerifySettings { seed: request.seed.unwrap_or(seed), ..settings };
    let found = hold_against(&record, disturbance.as_ref(), &pole, &settings, session.control)?;
    session.stages.end();
    let told = VerificationTold {
        caution: CAUTION,
        version: env!("CARGO_PKG_VERSION"),
        verification: &found,
    };
    if let Some(out) = &request.out {
        let files = verification_files(&told).map_err(Failure::other)?;
        write_files(session, out, &files)?;
    }
    print_as(request.format, &told, |out| table::table(out, &found))?;
    if let Some(out) = &request.out {
        session.console.note(&format!("2 files written to {}", out.display()));
    }
    Ok(())
}

fn settings(request: &Verify) -> Result<VerifySettings, Failure> {
    let [from, until] = [request.from, request.until].map(|end| end.map(|end| end.instant));
    if from.zip(until).is_some_and(|(from, until)| until <= from) {
        return Err(Failure::request("--until is not after --from"));
    }
    Ok(VerifySettings {
        members: request.members,
        knowing: request.knowing.map_or(Knowing::Scenario, Knowing::from),
        within_km: request.within.clone(),
        for_h: request.for_h.clone(),
        selection: Selection {
            months: request.months.clone(),
            season: request.season,
            from,
            until,
        },
        ..VerifySettings::default()
    })
}

fn record(request: &Verify) -> Result<StationRecord, Failure> {
    let mut files = Vec::with_capacity(request.hours.len());
    for path in &request.hours {
        let bytes = std::fs::read(path)
            .map_err(|error| Failure::request(format_args!("{}: {error}", path.display())))?;
        files.push((path.display().to_string(), bytes));
    }
    read_station_files(&files, request.place.map(|place| place.0)).map_err(Failure::request)
}

/// What tells the chances, and the pole that they are about.
struct Forecaster {
    disturbance: Box<dyn Disturbance>,
    pole: DipPole,
    seed: u64,
}

/// The house's disturbance, and IGRF's pole of the station's hemisphere.
fn of_house(request: &Verify, record: &StationRecord) -> Result<Forecaster, Failure> {
    let knowing = request.knowing.map_or(Knowing::Climate, Knowing::from);
    let south = record.place.y() < 0.0;
    let hemisphere = if south { Hemisphere::South } else { Hemisphere::North };
    let model = igrf14().map_err(Failure::other)?;
    let pole = dip_pole(&model, hemisphere, HOUSE_YEAR, 0.0)?;
    let house = house_disturbance()?;
    let known = disturbance_knowing(knowing, &house)?;
    let disturbance = known.unwrap_or_else(|| Box::new(house));
    Ok(Forecaster { disturbance, pole, seed: VerifySettings::default().seed })
}

/// The scenario's disturbance, perhaps with another activity, and its pole in the middle of its window.
fn of_scenario(session: &Session<'_>, request: &Verify) -> Result<Forecaster, Failure> {
    let path = request.scenario.as_deref().unwrap_or("".as_ref());
    let file = ScenarioFile::open(path, session.console)?;
    let scenario = file.scenario(session.registry, request.seed)?;
    let keys = &scenario.keys;
    let middle = scenario.clock.decimal_year(0.5 * scenario.window_hours);
    let model = scenario.model.object.as_ref();
    let pole = dip_pole(model, keys.pole.hemisphere, middle, keys.pole.height_km)?;
    let knowing = request.knowing.map_or(Knowing::Scenario, Knowing::from);
    let known = disturbance_knowing(knowing, scenario.disturbance.object.as_ref())?;
    let disturbance = known.unwrap_or(scenario.disturbance.object);
    Ok(Forecaster { disturbance, pole, seed: keys.seed })
}
