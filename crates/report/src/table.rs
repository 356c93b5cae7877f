//! The ranking as plain text for a terminal.

use dipward_plugin::{Approach, LegTravel, Ranking};

use crate::{
    figures::{NONE, clean, fixed, gap, hours_between, instant, out_bound},
    groups::grouped,
    pilotage,
};

/// A column of the table.
struct Column {
    heading: &'static str,
    unit: &'static str,
    to_right: bool,
    /// When room is short, columns with the greatest number go first; 0 stays.
    gives_way: u8,
    cell: fn(&Approach) -> String,
}

const fn column(
    heading: &'static str,
    unit: &'static str,
    to_right: bool,
    gives_way: u8,
    cell: fn(&Approach) -> String,
) -> Column {
    Column { heading, unit, to_right, gives_way, cell }
}

const COLUMNS: [Column; 20] =
    [
        column("rank", "", true, 0, |approach| approach.rank.to_string()),
        column("id", "", false, 0, |approach| clean(&approach.id)),
        // The id names the port too.
        column("from", "", false, 9, |approach| clean(&approach.from)),
        column("depart", "UTC", false, 0, |approach| instant(approach.depart)),
        column("arrive", "UTC", false, 6, |approach| instant(approach.arrive)),
        column("days", "", true, 3, |approach| {
            fixed(hours_between(approach.depart, approach.arrive) / 24.0, 1)
        }),
        column("dist", "km", true, 4, |approach| fixed(approach.distance_km, 0)),
        column("last leg", "km", false, 4, |approach| {
            approach.last_leg.as_ref().map_or_else(String::new, |leg| {
                let way = match leg.travel {
                    LegTravel::Air => "air",
                    LegTravel::OverIce => "ice",
                };
                format!("{way} {}", fixed(leg.short_km, 0))
            })
        }),
        column("fuel:out", "t", true, 7, |approach| fixed(approach.fuel_t.out, 0)),
        column("stn", "t", true, 8, |approach| fixed(approach.fuel_t.station, 0)),
        column("home", "t", true, 7, |approach| fixed(approach.fuel_t.home, 0)),
        column("margin", "t", true, 1, |approach| fixed(approach.fuel_t.margin, 0)),
        column("turn by", "UTC", false, 6, |approach| {
            approach.turn_back.as_ref().map_or_else(String::new, |turn| {
                let limit = turn.limit.map_or(String::new(), |limit| format!(" {}", limit.name()));
                format!("{}{limit}", instant(turn.time))
            })
        }),
        // Said where a voyage ends in another port than it left.
        column("ends in", "", false, 4, |approach| {
            if approach.home_to == approach.from { String::new() } else { clean(&approach.home_to) }
        }),
        column("attain", "% (95 %)", true, 0, |approach| {
            let attainment = &approach.attainment;
            let hundredths = |share: f64| fixed(share * 100.0, 0);
            format!(
                "{} ({}-{})",
                hundredths(attainment.probability),
                hundredths(attainment.low),
                hundredths(attainment.high)
            )
        }),
        column("RIO", "min", true, 2, |approach| {
            approach.risk.minimum_rio.map_or_else(|| NONE.to_owned(), |rio| fixed(rio, 0))
        }),
        column("elev", "h", true, 2, |approach| fixed(approach.risk.hours_elevated, 0)),
        column("gap:out", "%", true, 5, |approach| gap(out_bound(approach))),
        column("home", "%", true, 5, |approach| gap(approach.home_bound)),
        column("front", "", false, 5, |approach| {
            if approach.on_front { "*".to_owned() } else { String::new() }
        }),
    ];

/// Blanks between two columns.
const BETWEEN: usize = 1;

/// The ranking as a table with two heading lines, names above and units below, best approach first.
///
/// # Arguments
///
/// `width` is how many characters a line may have; columns that say least give way where there is too
/// little room, and all are shown where it is `None`, as for a pipe. Fuel is that for the way out, on
/// station and home, and the margin that is left beyond the reserve. A star marks an approach that no
/// other is at least as good as by every criterion. Where the data do not tell some approaches apart, a
/// thin rule and a heading part the groups.
///
/// # Returns
///
/// Lines that end in a line end; empty where no approach is feasible.
#[must_use]
pub fn table(ranking: &Ranking, width: Option<usize>) -> String {
    if ranking.approaches.is_empty() {
        return String::new();
    }
    let mut columns: Vec<(&Column, Vec<String>, usize)> = COLUMNS
        .iter()
        .map(|column| {
            let cells: Vec<String> =
                ranking.approaches.iter().map(|approach| (column.cell)(approach)).collect();
            let widest = cells.iter().map(|cell| length(cell)).max().unwrap_or(0);
            let wide = widest.max(length(column.heading)).max(length(column.unit));
            (column, cells, wide)
        })
        // What is said of no approach needs no column.
        .filter(|(_, cells, _)| cells.iter().any(|cell| !cell.is_empty()))
        .collect();
    let room = width.unwrap_or(usize::MAX).saturating_add(BETWEEN);
    while columns.iter().map(|(_, _, wide)| wide + BETWEEN).sum::<usize>() > room {
        let next = columns
            .iter()
            .enumerate()
            .filter(|(_, (column, ..))| column.gives_way > 0)
            .max_by_key(|(_, (column, ..))| column.gives_way);
        let Some((index, _)) = next else { break };
        columns.remove(index);
    }

    let mut text = String::new();
    let wide = columns.iter().map(|(_, _, wide)| wide + BETWEEN).sum::<usize>() - BETWEEN;
    let line = |cell_of: &dyn Fn(&Column, &[String]) -> String| {
        let mut row = String::new();
        for (column, cells, wide) in &columns {
            let cell = cell_of(column, cells);
            let fill = " ".repeat(wide.saturating_sub(length(&cell)));
            let (before, after) = if column.to_right { (&*fill, "") } else { ("", &*fill) };
            row.push_str(&format!("{before}{cell}{after}{:BETWEEN$}", ""));
        }
        row.trim_end().to_owned() + "\n"
    };
    text.push_str(&line(&|column, _| column.heading.to_owned()));
    text.push_str(&line(&|column, _| column.unit.to_owned()));
    let mut index = 0;
    for (heading, run) in grouped(&ranking.approaches) {
        if let Some(heading) = heading {
            // A thin rule parts the groups.
            if index > 0 {
                text.push_str(&"─".repeat(wide));
                text.push('\n');
            }
            text.push_str(&wrapped(&heading, width));
        }
        for _ in run {
            text.push_str(&line(&|_, cells| cells.get(index).cloned().unwrap_or_default()));
            index += 1;
        }
    }
    if let Some(pilotage) = ranking.approaches.first().and_then(pilotage::in_words) {
        text.push_str(&wrapped(&clean(&format!("First: {pilotage}")), width));
    }
    if let (Some(sensitivity), Some(first)) =
        (&ranking.crust_sensitivity, ranking.approaches.first())
    {
        text.push_str(&wrapped(&clean(&sensitivity.in_words(&first.attainment)), width));
    }
    text
}

/// A sentence in lines of at most so many characters, as far as its words allow; in one line where
/// there is no limit.
fn wrapped(sentence: &str, width: Option<usize>) -> String {
    let mut text = String::new();
    let mut used = 0;
    for word in sentence.split(' ') {
        if used > 0 && width.is_some_and(|width| used + 1 + length(word) > width) {
            text.push('\n');
            used = 0;
        } else if used > 0 {
            text.push(' ');
            used += 1;
        }
        text.push_str(word);
        used += length(word);
    }
    text.push('\n');
    text
}

/// What was tried and is no approach, a line each: port, departure and reason.
#[must_use]
pub fn rejected_list(ranking: &Ranking) -> String {
    let widest = ranking.rejected.iter().map(|rejected| length(&clean(&rejected.from))).max();
    let widest = widest.unwrap_or(0);
    let mut text = String::new();
    for rejected in &ranking.rejected {
        let from = clean(&rejected.from);
        let fill = " ".repeat(widest.saturating_sub(length(&from)));
        let (depart, reason) = (instant(rejected.depart), clean(&rejected.reason));
        text.push_str(&format!("{from}{fill} {depart}  {reason}\n"));
    }
    text
}

fn length(text: &str) -> usize {
    text.chars().count()
}
