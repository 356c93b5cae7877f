//! A verification as text for people.

use std::io::{self, Write};

use dipward_field::verification::{HourScores, Verification};

pub(super) fn table(out: &mut impl Write, told: &Verification) -> io::Result<()> {
    writeln!(out, "{}", told.sentence())?;
    writeln!(
        out,
        "{} to {}; {}; {} members, seed {}\n",
        told.first, told.last, told.disturbance, told.members, told.seed
    )?;
    writeln!(out, "hours of      how many   in 95 %   in 50 %   recorded   model's   CRPS, nT")?;
    row(out, "all", &told.all)?;
    for one in &told.by_kp {
        row(out, &format!("Kp {}", one.kp), &one.scores)?;
    }
    for one in &told.by_month {
        row(out, &format!("month {}", one.month), &one.scores)?;
    }
    for one in &told.by_hour {
        row(out, &format!("{:02} UTC", one.hour), &one.scores)?;
    }
    writeln!(out, "a table of month and hour{:>48.1}\n", told.crps_climate_nt)?;
    if !told.events.is_empty() {
        writeln!(
            out,
            "within   for     starts     told   happened   Brier    skill   calibration error"
        )?;
    }
    for event in &told.events {
        let skill = event.skill.map_or_else(|| "-".to_owned(), |skill| format!("{skill:.2}"));
        writeln!(
            out,
            "{:>3} km  {:>2} h  {:>8}  {:>5.1} %    {:>5.1} %   {:.3}  {skill:>7}   {:.3}",
            event.within_km,
            event.for_h,
            event.starts,
            100.0 * event.forecast,
            100.0 * event.observed,
            event.brier,
            event.calibration_error,
        )?;
    }
    if !told.autocorrelation.is_empty() {
        writeln!(out, "\nlag, h   record north  east   model north  east")?;
    }
    for lag in &told.autocorrelation {
        let [record_north, record_east, model_north, model_east] =
            [lag.record_north, lag.record_east, lag.model_north, lag.model_east]
                .map(|part| part.map_or_else(|| "-".to_owned(), |part| format!("{part:.2}")));
        writeln!(
            out,
            "{:>6}   {record_north:>12} {record_east:>5}   {model_north:>11} {model_east:>5}",
            lag.lag_h
        )?;
    }
    writeln!(out)?;
    if told.hours_without_kp > 0 {
        writeln!(out, "note     the Kp of {} hours is not in the history", told.hours_without_kp)?;
    }
    for remark in &told.remarks {
        writeln!(out, "note     {remark}")?;
    }
    for assumption in &told.assumptions {
        writeln!(out, "assumed  {}", assumption.text)?;
    }
    Ok(())
}

fn row(out: &mut impl Write, name: &str, scores: &HourScores) -> io::Result<()> {
    writeln!(
        out,
        "{name:10}  {:>10}  {:>6.1} %  {:>6.1} %  {:>9.1}  {:>8.1}  {:>9.1}",
        scores.hours,
        100.0 * scores.coverage_95,
        100.0 * scores.coverage_50,
        scores.mean_nt,
        scores.forecast_mean_nt,
        scores.crps_nt
    )
}
