//! The result: caution, summary, map and ranking.

use dipward_plugin::{Approach, Phase, Report, Risk, Waypoint};
use svg::Document;

use super::{
    last_leg,
    markup::{Cell, Markup},
    plot::swatch,
};
use crate::{
    figures::{
        NONE, fixed, gap, hours_between, instant, instant_in_words, out_bound, percent_within,
        place, plain,
    },
    groups::grouped,
    map::Pieces,
    paint::{FONTS, Piece, tenth},
    pilotage,
    shown::Shown,
};

/// The caution and the scenario's own words.
pub(super) fn opening(page: &mut Markup, report: &Report) {
    let ranking = &report.ranking;
    page.within("header", |page| {
        page.element("h1", &ranking.scenario);
        page.caution(&ranking.caution);
        for note in &report.notes {
            page.element("p class=\"note\"", note);
        }
    });
}

/// What comes first and why.
pub(super) fn summary(page: &mut Markup, report: &Report) {
    let ranking = &report.ranking;
    page.within("section id=\"summary\"", |page| {
        page.element("h2", "Summary");
        let Some(best) = ranking.approaches.first() else {
            page.element(
                "p",
                &format!(
                    "No approach is feasible. {} tried; the reasons stand under Rejected.",
                    match ranking.rejected.len() {
                        1 => "One was".to_owned(),
                        count => format!("{count} were"),
                    }
                ),
            );
            return;
        };
        page.within("div class=\"summary\"", |page| {
            page.within("div", |page| {
                page.element("p class=\"lead\"", &lead(best));
                if let Some(pilotage) = pilotage::in_words(best) {
                    page.element("p", &pilotage);
                }
                if let Some(leg) = &best.last_leg {
                    page.element("p", &last_leg::in_words(leg));
                }
                if let Some(sensitivity) = &ranking.crust_sensitivity {
                    page.element("p", &sensitivity.in_words(&best.attainment));
                }
                page.element("p", &demands(best));
                if let Some(waits) = waits(best) {
                    page.element("p", &waits);
                }
                for reason in &ranking.why {
                    page.element("p", reason);
                }
            });
            if let Some(second) = ranking.approaches.get(1) {
                page.within("div", |page| criteria(page, best, second));
            }
        });
    });
}

fn lead(best: &Approach) -> String {
    let attainment = &best.attainment;
    format!(
        "First: {} leaves {} on {} UTC, reaches the mean pole on {} UTC after {} days and {} km, and is \
         home in {} on {} UTC. Chance of coming within {} km of the pole: {}.",
        best.craft,
        best.from,
        instant_in_words(best.depart),
        instant_in_words(best.arrive),
        fixed(hours_between(best.depart, best.arrive) / 24.0, 1),
        fixed(best.distance_km, 0),
        best.home_to,
        instant_in_words(best.back),
        fixed(attainment.within_km, 0),
        percent_within(attainment.probability, attainment.low, attainment.high),
    )
}

/// "The lowest risk index outcome of the whole voyage is -3; 112.0 h are at elevated risk: 0.0 h under
/// way, 112.0 h on station."
fn risk_in_words(risk: &Risk) -> String {
    let by_phase: Vec<String> = Phase::EACH
        .into_iter()
        .map(|phase| (phase, risk.by_phase.of(phase)))
        .filter(|(_, risk)| risk.hours > 0.0)
        .map(|(phase, risk)| format!("{} h {phase}", fixed(risk.hours_elevated, 1)))
        .collect();
    let lowest = risk.minimum_rio.map_or_else(String::new, |rio| {
        format!("The lowest risk index outcome of the whole voyage is {}. ", fixed(rio, 0))
    });
    let mut told = format!("{lowest}{} h are at elevated risk", fixed(risk.hours_elevated, 1));
    if !by_phase.is_empty() {
        told += &format!(": {}", by_phase.join(", "));
    }
    told + ". The index speaks of a ship under way; pressure on one that lies in ice is not in it."
}

fn demands(best: &Approach) -> String {
    let fuel = &best.fuel_t;
    let risk = risk_in_words(&best.risk);
    let turn = best.turn_back.as_ref().map_or_else(String::new, |turn| {
        format!(
            " The last moment to turn for home is {} UTC at {}: {}.",
            instant_in_words(turn.time),
            place(turn.latitude_deg, turn.longitude_deg),
            turn.in_words()
        )
    });
    format!(
        "It burns {} t out, {} t on station and {} t home of {} t usable, keeps the reserve of {} t and \
         has {} t to spare. {risk}{turn}",
        fixed(fuel.out, 0),
        fixed(fuel.station, 0),
        fixed(fuel.home, 0),
        fixed(fuel.capacity, 0),
        fixed(fuel.reserve, 0),
        fixed(fuel.margin, 0),
    )
}

/// Where the first approach lies still on its ways.
fn waits(best: &Approach) -> Option<String> {
    let told: Vec<String> = [&best.waypoints, &best.home]
        .into_iter()
        .flat_map(|way| Waypoint::waits(way))
        .map(|(at, hours)| {
            format!(
                "{} h from {} UTC at {}",
                fixed(hours, 1),
                instant_in_words(at.time),
                place(at.latitude_deg, at.longitude_deg)
            )
        })
        .collect();
    (!told.is_empty()).then(|| format!("It lies still on the way: {}.", told.join("; ")))
}

fn criteria(page: &mut Markup, best: &Approach, second: &Approach) {
    let rows: Vec<Vec<Cell>> = best
        .criteria
        .iter()
        .map(|(name, value)| {
            let other = second.criteria.get(name).copied();
            vec![
                Cell::Words(criterion_in_words(name)),
                Cell::Number(plain(*value)),
                Cell::Number(other.map_or_else(|| NONE.to_owned(), plain)),
            ]
        })
        .collect();
    if !rows.is_empty() {
        page.element("h3", "Figures of merit of the first two");
        page.table(&["Criterion", "First", "Second"], &rows);
    }
}

/// "fuel_margin_t" as "fuel margin, t".
fn criterion_in_words(name: &str) -> String {
    const UNITS: [&str; 7] = ["h", "t", "km", "kn", "nt", "deg", "percent"];
    match name.rsplit_once('_') {
        Some((stem, unit)) if UNITS.contains(&unit) => {
            format!("{}, {unit}", stem.replace('_', " "))
        }
        _ => name.replace('_', " "),
    }
}

/// The map's parts, which stand side by side where there is room.
pub(super) fn map(page: &mut Markup, report: &Report, pieces: Pieces) {
    page.within("section id=\"map\"", |page| {
        page.element("h2", "Map");
        page.element(
            "p",
            &format!(
                "Polar stereographic; ice on {} UTC. Areas without ice information are hatched: \
                 unknown is not open water.",
                instant_in_words(report.map.at)
            ),
        );
        page.within("div class=\"map\"", |page| {
            page.within("figure class=\"voyage\"", |page| {
                page.drawing(&drawing(pieces.voyage, "the voyage"));
            });
            page.within("div class=\"beside\"", |page| {
                if let Some(pole) = pieces.pole {
                    page.within("figure", |page| {
                        page.element("figcaption", "About the pole");
                        page.drawing(&drawing(pole, "the surroundings of the pole"));
                    });
                }
                page.within("figure", |page| {
                    page.drawing(&drawing(pieces.legend, "the legend"));
                });
            });
        });
    });
}

/// A piece as a drawing of its own.
pub(super) fn drawing(piece: Piece, name: &str) -> Document {
    Document::new()
        .set("viewBox", format!("0 0 {} {}", tenth(piece.width), tenth(piece.height)))
        .set("role", "img")
        .set("aria-label", format!("Map: {name}"))
        .set("font-family", FONTS)
        .add(piece.body)
}

/// All feasible approaches.
pub(super) fn ranking(page: &mut Markup, report: &Report, shown: &[Shown<'_>]) {
    page.within("section id=\"ranking\"", |page| {
        page.element("h2", "Ranking");
        let approaches = &report.ranking.approaches;
        if approaches.is_empty() {
            page.element("p", "No approach is feasible.");
            return;
        }
        page.element(
            "p",
            "Fuel: out, on station, home, and what is left beyond the reserve. The interval of the \
             chance is that of the number of ensemble members and, without a last leg, of what other models of \
             the disturbance would say. Gap: how far a way lies above \
             a proven bound on what it was sought for. A star: no other approach is at least as good by \
             every criterion. First: in how many of a hundred drawings of the members its figures are the best of all, \
             if every difference counts.",
        );
        let groups = grouped(approaches);
        if groups.len() > 1 || groups.iter().any(|(heading, _)| heading.is_some()) {
            page.element(
                "p",
                "A group holds the approaches that the data do not tell apart: criterion by criterion, none is worse than \
                 the best of those left by more than the difference that does not count, with the confidence that the \
                 scenario states. Within a group the plain figures order them.",
            );
        }
        let row_of = |approach: &Approach| {
            row(approach, shown.iter().find(|route| route.approach.id == approach.id))
        };
        let rows: Vec<(Option<&str>, Vec<Vec<Cell>>)> = groups
            .iter()
            .map(|(heading, run)| (heading.as_deref(), run.iter().map(row_of).collect()))
            .collect();
        let rows: Vec<(Option<&str>, &[Vec<Cell>])> =
            rows.iter().map(|(heading, rows)| (*heading, rows.as_slice())).collect();
        page.within("div class=\"wide\"", |page| {
            page.table_in_groups(
                &[
                    "Rank", "Approach", "Depart, UTC", "Arrive, UTC", "Days out", "Distance, km",
                    "Out, t", "Station, t", "Home, t", "Margin, t", "Chance, % (95 % interval)",
                    "Lowest RIO", "Elevated, h", "Gap out, %", "Gap home, %", "Front", "First, %",
                ],
                &rows,
            );
        });
    });
}

fn row(approach: &Approach, shown: Option<&Shown<'_>>) -> Vec<Cell> {
    let rank = approach.rank.to_string();
    let attainment = &approach.attainment;
    let fuel = &approach.fuel_t;
    let number = |value: f64, decimals: usize| Cell::Number(fixed(value, decimals));
    vec![
        match shown {
            Some(route) => Cell::Marked(swatch(route.line), rank),
            None => Cell::Words(rank),
        },
        Cell::Words(approach.id.clone()),
        Cell::Words(instant(approach.depart)),
        Cell::Words(instant(approach.arrive)),
        number(hours_between(approach.depart, approach.arrive) / 24.0, 1),
        number(approach.distance_km, 0),
        number(fuel.out, 0),
        number(fuel.station, 0),
        number(fuel.home, 0),
        number(fuel.margin, 0),
        Cell::Number(format!(
            "{} ({} to {})",
            fixed(attainment.probability * 100.0, 0),
            fixed(attainment.low * 100.0, 0),
            fixed(attainment.high * 100.0, 0)
        )),
        Cell::Number(
            approach.risk.minimum_rio.map_or_else(|| NONE.to_owned(), |rio| fixed(rio, 0)),
        ),
        number(approach.risk.hours_elevated, 1),
        Cell::Number(gap(out_bound(approach))),
        Cell::Number(gap(approach.home_bound)),
        Cell::Words(if approach.on_front { "★" } else { "" }.to_owned()),
        Cell::Number(
            approach
                .first_probability
                .map_or_else(|| NONE.to_owned(), |share| fixed(share * 100.0, 0)),
        ),
    ]
}
