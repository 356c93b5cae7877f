//! The answers of a re-planning in words.

use std::fmt::{Arguments, Write as _};

use dipward::{Difference, Figures, Replan};

/// One line a fact.
pub(super) fn told(answers: &Replan) -> String {
    let mut text = String::new();
    let mut line = |name: &str, value: Arguments<'_>| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{name:20}{value}");
    };
    line("plan", format_args!("{}, ranking {:.12}", answers.plan.id, answers.plan.sha256));
    line(
        "craft",
        format_args!(
            "{:.4}, {:.4} at {}, {:.1} t aboard",
            answers.latitude_deg, answers.longitude_deg, answers.at, answers.fuel_t
        ),
    );
    let present = &answers.present;
    match (&present.reason, present.feasible) {
        (None, true) => line("still feasible", format_args!("yes")),
        (reason, _) => {
            line(
                "still feasible",
                format_args!("no: {}", reason.as_deref().unwrap_or("no reason")),
            );
        }
    }
    match (present.still_best, present.rank, answers.best.as_deref()) {
        (true, _, _) => line("still best", format_args!("yes")),
        (false, Some(rank), Some(best)) => {
            line("still best", format_args!("no: {rank} by the criteria; first stands {best}"));
        }
        (false, _, Some(best)) => line("still best", format_args!("no: first stands {best}")),
        (false, _, None) => line("still best", format_args!("no approach is feasible from here")),
    }
    line("planned", format_args!("{}", figures(&answers.planned)));
    if let Some(now) = &answers.now {
        line("now", format_args!("{}", figures(now)));
    }
    if let Some(best) = &answers.best_figures {
        line("best from here", format_args!("{}", figures(best)));
    }
    if let Some(change) = &answers.change {
        line("change", format_args!("{}", difference(change)));
    }
    for cause in &answers.causes.each {
        let told = match (&cause.difference, &cause.reason) {
            (Some(change), _) => difference(change),
            (None, reason) => {
                format!(
                    "alone makes the plan infeasible: {}",
                    reason.as_deref().unwrap_or_default()
                )
            }
        };
        line(&format!("  {}", cause.changed), format_args!("{told}"));
    }
    if let Some(rest) = &answers.causes.only_together {
        line("  only together", format_args!("{}", difference(rest)));
    }
    for remark in &answers.causes.remarks {
        line("  causes", format_args!("{remark}"));
    }
    match &answers.turning.last {
        Some(last) => line(
            "turn back by",
            format_args!(
                "{}, at {:.3}, {:.3}: {}",
                last.time,
                last.latitude_deg,
                last.longitude_deg,
                last.in_words()
            ),
        ),
        None if answers.turning.too_late => line(
            "turn back by",
            format_args!(
                "too late: no way leads home in time, or the fuel aboard does not suffice for it with the \
                 reserve and the days beset"
            ),
        ),
        None => line("turn back by", format_args!("no limit found within the window")),
    }
    for note in &answers.notes {
        line("note", format_args!("{note}"));
    }
    text
}

fn figures(figures: &Figures) -> String {
    let rio = figures.minimum_rio.map_or_else(|| "none".to_owned(), |rio| format!("{rio:.1}"));
    format!(
        "arrive {:.0}, back {:.0}, fuel at the end {:.1} t, minimum RIO {rio}, attainment {:.0} %",
        figures.arrive,
        figures.back,
        figures.fuel_at_end_t,
        100.0 * figures.attainment
    )
}

fn difference(difference: &Difference) -> String {
    let rio = difference.minimum_rio.map_or_else(|| "none".to_owned(), |rio| format!("{rio:+.1}"));
    format!(
        "arrive {:+.1} h, back {:+.1} h, fuel at the end {:+.1} t, minimum RIO {rio}, attainment \
         {:+.0} points",
        difference.arrive_h,
        difference.back_h,
        difference.fuel_at_end_t,
        100.0 * difference.attainment
    )
}
