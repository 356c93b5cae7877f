//! `dipward swing`.

use std::io::{self, Write};

use dipward_field::{BLACKOUT_NT, CAUTION_NT, ShipDeviation, read_swing};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{Error, FieldSample, Site};
use serde::Serialize;

use crate::{
    arguments::Swing,
    commands::{
        main_field::{main_field, refusal},
        output::print_as,
        readings::{file, refused},
    },
    exit::Failure,
    run::Session,
};

/// Headings from one line of the table to the next, degrees.
const STEP_DEG: u16 = 15;

/// A ship's deviation as other programs read it.
#[derive(Debug, Serialize)]
struct Told {
    #[serde(flatten)]
    ship: ShipDeviation,
    /// Below this H the coefficients mean nothing.
    least_horizontal_nt: f64,
    /// H that the table is for.
    table_horizontal_nt: f64,
    table: Vec<Row>,
}

#[derive(Debug, Serialize)]
struct Row {
    heading_deg: u16,
    /// None where it means nothing.
    deviation_deg: Option<f64>,
    sigma_deg: Option<f64>,
}

pub(crate) fn swing(session: &Session<'_>, request: &Swing) -> Result<(), Failure> {
    let path = &request.swing;
    let swing = read_swing(&file(path)?).map_err(|error| refused(path, &error))?;
    let ship = ShipDeviation::of_swing(&swing, horizontal_nt(session, request)?)
        .map_err(|error| refused(path, &error))?;
    let table_horizontal_nt = request.for_h_nt.unwrap_or(ship.horizontal_nt);
    let told = Told {
        least_horizontal_nt: ship.least_horizontal_nt(),
        table_horizontal_nt,
        table: (0..360)
            .step_by(usize::from(STEP_DEG))
            .map(|heading_deg| {
                let deviation_deg = ship.at(f64::from(heading_deg), table_horizontal_nt);
                let sigma = ship.sigma_at(f64::from(heading_deg), table_horizontal_nt);
                let known = deviation_deg.is_some() && ship.sigma_deg.is_some();
                Row { heading_deg, deviation_deg, sigma_deg: known.then_some(sigma) }
            })
            .collect(),
        ship,
    };
    print_as(request.format, &told, |out| table(out, &told))
}

/// H where she was swung: stated, or the model's.
fn horizontal_nt(session: &Session<'_>, request: &Swing) -> Result<f64, Failure> {
    if let Some(h_nt) = request.h_nt {
        return Ok(h_nt);
    }
    let (Some(place), Some(moment)) = (request.position, request.at) else {
        return Err(Failure::request("give --h-nt, or --position with --at"));
    };
    let place = place.0;
    let hemisphere = if place.y() >= 0.0 { Hemisphere::North } else { Hemisphere::South };
    let built = main_field(session, &request.model, hemisphere)?;
    if let Some(refusal) = refusal(built.object.as_ref(), moment.decimal_year) {
        return Err(Error::Outside(refusal).into());
    }
    let site = Site { latitude_deg: place.y(), longitude_deg: place.x(), height_km: 0.0 };
    let mut out = [FieldSample::default()];
    built.object.sample(moment.decimal_year, &[site], &mut out)?;
    Ok(out[0].vector.horizontal_nt())
}

fn table(out: &mut impl Write, told: &Told) -> io::Result<()> {
    let Told { ship, least_horizontal_nt, table_horizontal_nt, table } = told;
    writeln!(out, "swung at H {:.0} nT", ship.horizontal_nt)?;
    for (at, name) in ["A", "B", "C", "D", "E"].into_iter().enumerate() {
        let coefficient = ship.coefficients_deg[at];
        match ship.sigma_deg {
            Some(sigma) => writeln!(out, "{name}  {coefficient:7.2} deg, sigma {:.2}", sigma[at])?,
            None => writeln!(out, "{name}  {coefficient:7.2} deg, sigma unknown by five headings")?,
        }
    }
    writeln!(
        out,
        "B and C grow as 1/H. Below H {least_horizontal_nt:.0} nT the deviation means nothing: it would \
         pass 20 deg, or it is the blackout zone (below {BLACKOUT_NT:.0} nT); up to {CAUTION_NT:.0} nT a \
         compass is poor"
    )?;
    writeln!(out, "\nheading  deviation  sigma   at H {table_horizontal_nt:.0} nT")?;
    for Row { heading_deg, deviation_deg, sigma_deg } in table {
        match (deviation_deg, sigma_deg) {
            (Some(deviation), Some(sigma)) => {
                writeln!(out, "    {heading_deg:03}   {deviation:8.1}  {sigma:5.1}")?;
            }
            (Some(deviation), None) => writeln!(out, "    {heading_deg:03}   {deviation:8.1}")?,
            (None, _) => writeln!(out, "    {heading_deg:03}   means nothing")?,
        }
    }
    Ok(())
}
