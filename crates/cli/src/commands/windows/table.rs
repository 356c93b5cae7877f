//! The chances in words: the hours of the day first, for they are what is known weeks ahead.

use std::io::{self, Write};

use super::{Told, by_column, scale_top};

/// Darker the better, a tenth of the scale a step.
const SHADES: [char; 10] = [' ', '.', ':', '-', '=', '+', '*', '#', '%', '@'];
/// Letters of the bar of a chance of 1.
const BAR: f64 = 40.0;

pub(super) fn table(out: &mut impl Write, told: &Told) -> io::Result<()> {
    let Told { within_km, for_h, looks_per_hour, members, seed, disturbance, .. } = told;
    writeln!(
        out,
        "chance that the pole stays within {within_km} km of its mean for {for_h} h, looked at \
         {looks_per_hour} times an hour"
    )?;
    writeln!(out, "{disturbance}; {members} members, seed {seed}")?;
    writeln!(
        out,
        "where the mean is, readings must tell: the model alone leaves it in doubt by {:.0} by {:.0} km \
         (half axes of the 95 % ellipse)",
        told.mean_pole_95.semi_major_km, told.mean_pole_95.semi_minor_km
    )?;
    writeln!(
        out,
        "\nhour UTC   local solar   chance   between models   over all days of the window"
    )?;
    for one in &told.hours_of_day {
        let minutes = (one.local_solar_h * 60.0).round() as u32 % 1440;
        let bar = "=".repeat((one.chance * BAR).round() as usize);
        writeln!(
            out,
            "   {:02}         {:02}:{:02}      {:5.1} %    {:3.0} to {:3.0} %     {bar}",
            one.hour_utc,
            minutes / 60,
            minutes % 60,
            100.0 * one.chance,
            100.0 * one.low,
            100.0 * one.high
        )?;
    }
    if told.models.len() > 1 {
        writeln!(out, "\nmean over the window, by what else might be believed")?;
        for model in &told.models {
            writeln!(out, "{:5.1} %  {}", 100.0 * model.chance, model.name)?;
        }
    }
    writeln!(out, "\nbest   from (UTC)             days  chance  standard error")?;
    for (rank, one) in told.best.iter().enumerate() {
        writeln!(
            out,
            "{:4}   {:20}  {:4}  {:5.1} %  {:5.1} %",
            rank + 1,
            one.from.to_string(),
            one.days,
            100.0 * one.chance,
            100.0 * one.standard_error
        )?;
    }
    let scale_top = scale_top(&told.season);
    let shades: String = SHADES.iter().collect();
    let step = 100.0 * scale_top / SHADES.len() as f64;
    writeln!(
        out,
        "\nfrom       days   mean   hour by hour from 00 UTC; a step of `{shades}` is {step:.0} %"
    )?;
    for column in by_column(&told.season) {
        let hours = &column.hours;
        let mean = hours.iter().map(|(_, chance)| chance).sum::<f64>() / hours.len().max(1) as f64;
        let mut line = [' '; 24];
        for (hour, chance) in hours {
            // A cast of what is negative or no number is 0.
            let shade = SHADES.get((chance / scale_top * 10.0) as usize).or(SHADES.last());
            if let (Some(into), Some(shade)) = (line.get_mut(*hour), shade) {
                *into = *shade;
            }
        }
        let line: String = line.into_iter().collect();
        writeln!(out, "{}  {:4}  {:5.1} %  |{line}|", column.first, column.days, 100.0 * mean)?;
    }
    match told.days_known_until {
        Some(until) => {
            writeln!(out, "single days are known until {until}; beyond, weeks are told")?;
        }
        None if told.season.iter().any(|one| one.days > 1) => {
            writeln!(
                out,
                "weeks ahead the hour and the season are known, not the day: a line is a week's mean"
            )?;
        }
        None => {}
    }
    for assumption in &told.assumptions {
        writeln!(out, "assumed  {}", assumption.text)?;
    }
    Ok(())
}
