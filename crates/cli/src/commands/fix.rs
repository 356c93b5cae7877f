//! `dipward fix`.

use std::{fmt::Write as _, io::Write};

use dipward_field::{
    BearingCorrection, Element, FixSettings, JacobianSource, PoleEstimate, PoleFix, Reading,
    fix_pole,
};
use serde::Serialize;

use crate::{
    arguments::Fix,
    commands::{
        main_field::main_field,
        output::print_as,
        readings::{corrected, readings, settings},
    },
    exit::Failure,
    run::Session,
};

pub(crate) fn fix(session: &Session<'_>, request: &Fix) -> Result<(), Failure> {
    let (readings, hemisphere) = readings(&request.readings, request.hemisphere)?;
    if !(0.0..=1000.0).contains(&request.reach_km) {
        return Err(Failure::request("--reach-km is not within 0 to 1000"));
    }
    let built = main_field(session, &request.model, hemisphere)?;
    let model = built.object.as_ref();
    let (readings, corrections) = corrected(session, model, readings, &request.belief)?;
    let settings = FixSettings { reach_km: request.reach_km, ..settings(&request.belief) };
    let fix = fix_pole(model, hemisphere, &readings, &settings)?;
    let told = Told { fix: &fix, bearing_corrections: &corrections };
    print_as(request.format, &told, |out| {
        out.write_all(text(&fix, &readings, &corrections).as_bytes())
    })
}

/// A fix as other programs read it.
#[derive(Debug, Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    fix: &'a PoleFix,
    /// What the ship's deviation did to bearings; of all readings given, those left out included.
    bearing_corrections: &'a [BearingCorrection],
}

fn text(fix: &PoleFix, readings: &[Reading], corrections: &[BearingCorrection]) -> String {
    let mut text = String::new();
    let mut line = |name: &str, value: std::fmt::Arguments<'_>| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{name:20}{value}");
    };
    let count = readings.len();
    line("dip pole", format_args!("{}, {}, {count} readings", fix.hemisphere, fix.model));
    let mut pole = |name: &str, pole: &PoleEstimate| {
        line(
            name,
            format_args!("{:.4}, {:.4} at {}", pole.latitude_deg, pole.longitude_deg, pole.time),
        );
        let ellipse = &pole.ellipse_95;
        line(
            "  ellipse 95 %",
            format_args!(
                "{:.1} by {:.1} km, long axis {:.0} deg",
                ellipse.semi_major_km, ellipse.semi_minor_km, ellipse.bearing_deg
            ),
        );
        line(
            "  to go",
            format_args!("{:.1} km on {:.1} deg true", pole.distance_km, pole.bearing_deg),
        );
    };
    pole("model's pole", &fix.model_pole);
    pole("mean pole", &fix.mean_pole);
    let last = readings.iter().enumerate().max_by_key(|(_, reading)| reading.time);
    match last.and_then(|(at, _)| fix.instantaneous_poles.get(at)) {
        Some(Some(instantaneous)) => pole("instantaneous pole", instantaneous),
        _ => line("instantaneous pole", format_args!("none: the currents left no pole")),
    }
    let [[nn, ne], [en, ee]] = fix.jacobian_nt_per_km;
    let source = match fix.jacobian_from {
        JacobianSource::Model => "the model's",
        JacobianSource::Readings => "by the readings",
    };
    line("Jacobian", format_args!("dX/dN {nn:9.4}  dX/dE {ne:9.4} nT/km, {source}"));
    line("", format_args!("dY/dN {en:9.4}  dY/dE {ee:9.4} nT/km"));
    if let Some(next) = &fix.next_reading {
        line(
            "next reading",
            format_args!(
                "best at {:.4}, {:.4}: the mean pole's ellipse would be {:.1} by {:.1} km",
                next.latitude_deg,
                next.longitude_deg,
                next.ellipse_95.semi_major_km,
                next.ellipse_95.semi_minor_km
            ),
        );
    }
    for one in corrections {
        let name = format!("ship, reading {}", one.reading + 1);
        match one.deviation_deg {
            Some(deviation_deg) => line(
                &name,
                format_args!(
                    "{deviation_deg:.1} deg of deviation taken off on heading {:.0} at H {:.0} nT",
                    one.heading_deg, one.horizontal_nt
                ),
            ),
            None => line(
                &name,
                format_args!(
                    "bearing left out: deviation means nothing at H {:.0} nT",
                    one.horizontal_nt
                ),
            ),
        }
    }
    for residual in &fix.residuals {
        let unit = match residual.element {
            Element::Declination | Element::Inclination => "deg",
            _ => "nT",
        };
        let [column, _] = residual.element.columns();
        line(
            &format!("residual {}", residual.reading + 1),
            format_args!(
                "{column:16} {:10.3} {unit:3} {:6.2} sigma, weight {:.2}",
                residual.difference, residual.normalised, residual.weight
            ),
        );
    }
    for assumption in &fix.assumptions {
        line("assumed", format_args!("{assumption}"));
    }
    text
}
