//! `dipward chart`.

use std::io::{self, Write};

use dipward::{Charted, Scenario, doubt_of};
use dipward_geodesy::Position;
use dipward_plugin::{Control, Error, Quantity};
use dipward_report::{ChartFrame, ChartLayer, ChartPage};
use jiff::Timestamp;
use serde::Serialize;

use crate::{
    arguments::{CAUTION, Chart},
    commands::output::{check_folder, print_as, write_files},
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

/// All that the chart says of one cell, as other programs read it.
#[derive(Debug, Serialize)]
struct CellAccount {
    at: Timestamp,
    /// The centre of the cell.
    latitude_deg: f64,
    longitude_deg: f64,
    cell_km: f64,
    quantities: Vec<QuantityAccount>,
}

#[derive(Debug, Serialize)]
struct QuantityAccount {
    quantity: &'static str,
    unit: &'static str,
    /// Nothing where no layer covers the cell.
    value: Option<f32>,
    layer: Option<String>,
    age_h: Option<f64>,
    /// The quantity that tells the doubt, and its value.
    doubt: Option<(&'static str, f32)>,
}

pub(crate) fn chart(session: &Session<'_>, request: &Chart) -> Result<(), Failure> {
    if let Some(out) = &request.out {
        check_folder(out)?;
    }
    let file = ScenarioFile::open(&request.scenario, session.console)?;
    let scenario = file.scenario(session.registry, None)?;
    let hour = scenario.clock.hour(request.at.instant);
    if !(0.0..=scenario.window_hours).contains(&hour) {
        let window = &scenario.keys.window;
        return Err(Failure::request(format_args!(
            "--at {} lies outside the scenario's window, {} to {}",
            request.at.instant, window.from, window.until
        )));
    }
    let control = session.control;
    let charted = Charted::lay(&scenario, control).map_err(|error| file.failure_of_plan(error))?;
    if let Some(place) = request.place {
        let account = account(&charted, hour, request.at.instant, place.0)?;
        session.stages.end();
        print_as(request.format, &account, |out| table(out, &account))?;
    }
    let Some(folder) = &request.out else { return Ok(()) };
    let frame = frame(&scenario, &charted, hour, control)?;
    let quantities = charted.chart.quantities();
    control.begin("maps", quantities.len() as u64);
    let moment = charted.chart.at(hour);
    let mut page = ChartPage::new(&frame);
    for &quantity in quantities {
        control.check()?;
        let merged = moment.merged(quantity, control)?;
        page.add(quantity, &merged.values, &merged.layers);
        control.advance(1);
    }
    let files = [page.finish()];
    write_files(session, folder, &files)?;
    session.stages.end();
    session.console.note(&format!("chart.html written to {}", folder.display()));
    Ok(())
}

fn frame(
    scenario: &Scenario,
    charted: &Charted,
    hour: f64,
    control: &Control,
) -> Result<ChartFrame, Error> {
    let Charted { chart, .. } = charted;
    let moment = chart.at(hour);
    let mut land = vec![false; chart.grid().len()];
    for quantity in [Quantity::LAND, Quantity::SHELF] {
        for (land, value) in land.iter_mut().zip(moment.merged(quantity, control)?.values) {
            *land |= value == 1.0;
        }
    }
    let sources = chart.sources().iter().zip(chart.instants()).enumerate();
    let layers = sources.map(|(index, (source, instants))| ChartLayer {
        name: source.name.clone(),
        source: format!("{}: {}", source.provenance.name, source.provenance.source),
        instants: instants
            .map(|(from, to)| (scenario.clock.instant(from), scenario.clock.instant(to))),
        age_h: moment.age_h(index),
        assumptions: source.assumptions.iter().map(|one| one.text.clone()).collect(),
    });
    let ports = scenario.keys.voyage.ports.iter();
    Ok(ChartFrame {
        title: scenario.keys.title.clone(),
        caution: CAUTION.to_owned(),
        at: scenario.clock.instant(hour),
        grid: chart.grid().clone(),
        outlines: chart.outlines().into_iter().map(|(_, outline)| outline).collect(),
        land,
        places: ports.map(|port| (port.name.clone(), Scenario::port_position(port))).collect(),
        pole: charted.mean_pole(hour),
        layers: layers.collect(),
    })
}

fn account(
    charted: &Charted,
    hour: f64,
    at: Timestamp,
    place: Position,
) -> Result<CellAccount, Failure> {
    let chart = &charted.chart;
    let grid = chart.grid();
    let Some(centre) = grid.cell_at(place).and_then(|cell| grid.centre(cell)) else {
        return Err(Failure::request(format_args!(
            "--place {},{} lies off the scenario's grid; raise chart.margin_km",
            place.y(),
            place.x()
        )));
    };
    let known = |quantity: Quantity| chart.sample(hour, quantity, centre);
    let quantities = chart
        .quantities()
        .iter()
        .map(|&quantity| {
            let value = known(quantity)?;
            let origin = chart.origin(hour, quantity, centre)?;
            let mut doubt = None;
            for &name in doubt_of(quantity) {
                let own = known(Quantity::new(name, quantity.unit()))?;
                if doubt.is_none() && !own.is_nan() {
                    doubt = Some((name, own));
                }
            }
            Ok(QuantityAccount {
                quantity: quantity.name(),
                unit: quantity.unit(),
                value: Some(value).filter(|value| !value.is_nan()),
                age_h: origin.as_ref().and_then(|origin| origin.age_h),
                layer: origin.map(|origin| origin.layer),
                doubt,
            })
        })
        .collect::<Result<Vec<_>, Error>>()?;
    Ok(CellAccount {
        at,
        latitude_deg: centre.y(),
        longitude_deg: centre.x(),
        cell_km: grid.cell_m() / 1000.0,
        quantities,
    })
}

fn table(out: &mut impl Write, account: &CellAccount) -> io::Result<()> {
    let CellAccount { at, latitude_deg, longitude_deg, cell_km, quantities } = account;
    writeln!(
        out,
        "cell of {cell_km} km about {latitude_deg:.4}, {longitude_deg:.4} at {at}\n\n\
         {:30}  {:>10}  {:5}  {:>9}  {:24}  doubt",
        "quantity", "value", "unit", "age, h", "layer"
    )?;
    for one in quantities {
        let value = one.value.map_or_else(|| "unknown".to_owned(), |value| format!("{value:.3}"));
        let age = one.age_h.map_or_else(|| "-".to_owned(), |age_h| format!("{age_h:.1}"));
        let doubt = one
            .doubt
            .map_or_else(|| "-".to_owned(), |(name, value)| format!("{value:.3} ({name})"));
        let layer = one.layer.as_deref().unwrap_or("-");
        let line = format!(
            "{:30}  {value:>10}  {:5}  {age:>9}  {layer:24}  {doubt}",
            one.quantity, one.unit
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
