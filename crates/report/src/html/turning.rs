//! Turning back: the latest time to leave, points of no return, critical points, fuel at each decision.

use dipward_plugin::{Approach, TurnBackLimit, TurningDecision, TurningEvent, TurningScan};
use jiff::Timestamp;

use super::{
    markup::{Cell, Markup},
    plot::{Axis, Chart, Level, Series, swatch},
};
use crate::{
    figures::{JOINT, NONE, fixed, hours_between, instant, instant_in_words, place, plain},
    paint::LineStyle,
    shown::Shown,
};

/// The last moments to turn for home, and what a scan of the way out and the stay found.
pub(super) fn section(page: &mut Markup, shown: &[Shown<'_>]) {
    if shown.is_empty() {
        return;
    }
    page.within("section id=\"turn-back\"", |page| {
        page.element("h2", "Turning back");
        page.element(
            "p",
            "The latest time to leave the station, if the plan is followed until then, and what ends the time: \
             fuel, where it no longer suffices for the way home with the reserve and the days beset; ice, where \
             the way home closes; window, where no later way home ends within the planned window, beyond which \
             nothing is known. Ice that is worse than charted brings it forward.",
        );
        latest(page, shown);
        let scanned: Vec<_> = shown
            .iter()
            .filter_map(|route| Some((route, route.approach.turning.as_ref()?)))
            .collect();
        if scanned.is_empty() {
            return;
        }
        let unscanned: Vec<&str> = shown
            .iter()
            .filter(|route| route.approach.turning.is_none())
            .map(|route| route.approach.id.as_str())
            .collect();
        let some = if unscanned.is_empty() {
            String::new()
        } else {
            format!(" Ranked too low to be scanned: {}.", unscanned.join(", "))
        };
        page.element(
            "p",
            &format!(
                "A forward scan looks at the way home from decisions along the way out and on station, \
                 with the ice of that time. The margin is the fuel aboard less the way home of least fuel, \
                 the reserve and the allowance for days beset; between two decisions it is taken as linear \
                 in time.{some}"
            ),
        );
        for (route, scan) in scanned {
            approach(page, route, scan);
        }
    });
}

fn latest(page: &mut Markup, shown: &[Shown<'_>]) {
    let rows: Vec<Vec<Cell>> = shown
        .iter()
        .filter_map(|route| {
            let approach = route.approach;
            let turn = approach.turn_back.as_ref()?;
            Some(vec![
                Cell::Marked(swatch(route.line), approach.rank.to_string()),
                Cell::Words(approach.id.clone()),
                Cell::Words(instant(turn.time)),
                Cell::Number(days_out(approach, turn.time)),
                Cell::Words(place(turn.latitude_deg, turn.longitude_deg)),
                Cell::Words(turn.limit.map_or(NONE, TurnBackLimit::name).to_owned()),
            ])
        })
        .collect();
    if !rows.is_empty() {
        let headings =
            ["Rank", "Approach", "Latest to leave, UTC", "Days from departure", "Place", "Limit"];
        page.table(&headings, &rows);
    }
    let free: Vec<&str> = shown
        .iter()
        .filter(|route| route.approach.turn_back.is_none())
        .map(|route| route.approach.id.as_str())
        .collect();
    if !free.is_empty() {
        let told = format!(
            "From the last instant looked at the craft still comes home within the planned window, so that \
             no last moment to turn is told: {}.",
            free.join(", ")
        );
        page.element("p", &told);
    }
}

fn approach(page: &mut Markup, route: &Shown<'_>, scan: &TurningScan) {
    let approach = route.approach;
    page.element("h3", &format!("{}. {}", approach.rank, approach.id));
    page.element("p", &in_words(scan));
    let points = points(approach, scan);
    if !points.is_empty() {
        page.table(&["Time, UTC", "Days from departure", "Place", "What"], &points);
    }
    page.within("div class=\"plots\"", |page| {
        page.drawing(&margins(approach, scan, route.line).draw());
    });
    page.within("details", |page| {
        page.element("summary", &format!("Fuel at each of the {} decisions", scan.decisions.len()));
        let rows: Vec<Vec<Cell>> =
            scan.decisions.iter().map(|decision| row(approach, decision)).collect();
        page.within("div class=\"wide\"", |page| {
            page.table(
                &[
                    "Time, UTC",
                    "Where",
                    "Place",
                    "Aboard, t",
                    "Way home, t",
                    "Margin, t",
                    "Beset at most, days",
                    "Nearest refuge",
                ],
                &rows,
            );
        });
    });
}

fn in_words(scan: &TurningScan) -> String {
    let mut words = Vec::new();
    let count = scan.decisions.len();
    let suffices =
        |decision: &TurningDecision| decision.margin_t.is_some_and(|margin| margin >= 0.0);
    let safe = scan.decisions.iter().filter(|decision| suffices(decision)).count();
    words.push(if safe == count && scan.crossings.is_empty() {
        format!("From each of the {count} decisions a way leads home and the fuel suffices for it.")
    } else {
        format!(
            "From {safe} of the {count} decisions a way leads home and the fuel suffices for it."
        )
    });
    words.push(if scan.beset_days > 0.0 {
        format!(
            "Each margin keeps the reserve and fuel for {}{JOINT}days beset.",
            plain(scan.beset_days)
        )
    } else {
        "Each margin keeps the reserve; the scenario allows for no days beset.".to_owned()
    });
    let least = scan
        .decisions
        .iter()
        .filter_map(|decision| Some((decision, decision.margin_t?)))
        .min_by(|(_, a), (_, b)| a.total_cmp(b));
    if let Some((decision, margin_t)) = least {
        let beset =
            decision.beset_days.filter(|days| *days >= 0.0).map_or_else(String::new, |days| {
                let kept = if scan.beset_days > 0.0 { "with what is kept for them " } else { "" };
                format!(", {kept}enough for {}{JOINT}days beset", fixed(days, 0))
            });
        words.push(format!(
            "The least margin is {}{JOINT}t, on {} UTC{beset}.",
            fixed(margin_t, 0),
            instant_in_words(decision.time),
        ));
    }
    words.push(format!(
        "Decisions are {}{JOINT}h apart under way and {}{JOINT}h on station.",
        fixed(scan.under_way_every_h, 1),
        fixed(scan.on_station_every_h, 1),
    ));
    words.join(" ")
}

/// Crossings and critical points in the order of time.
fn points(approach: &Approach, scan: &TurningScan) -> Vec<Vec<Cell>> {
    let crossings = scan.crossings.iter().map(|crossing| {
        let what = match crossing.event {
            TurningEvent::NoReturn => {
                "Point of no return: the fuel no longer suffices for the way home"
            }
            TurningEvent::ReturnAgain => "The fuel suffices again: the ice has opened",
            TurningEvent::WayHomeCloses => {
                "The way home closes: the last decision from which one leads home in time"
            }
            TurningEvent::WayHomeOpens => {
                "The way home opens: the first decision from which one leads home in time again"
            }
        };
        (crossing.time, crossing.latitude_deg, crossing.longitude_deg, what.to_owned())
    });
    let critical = scan.critical_points.iter().map(|point| {
        let what = format!(
            "Critical point: {} is nearer in time than {} from here on",
            point.ahead, point.behind
        );
        (point.time, point.latitude_deg, point.longitude_deg, what)
    });
    let mut points: Vec<_> = crossings.chain(critical).collect();
    points.sort_by_key(|(time, ..)| *time);
    points
        .into_iter()
        .map(|(time, latitude_deg, longitude_deg, what)| {
            vec![
                Cell::Words(instant(time)),
                Cell::Number(days_out(approach, time)),
                Cell::Words(place(latitude_deg, longitude_deg)),
                Cell::Words(what),
            ]
        })
        .collect()
}

fn row(approach: &Approach, decision: &TurningDecision) -> Vec<Cell> {
    let number = |value: Option<f64>, decimals| {
        Cell::Number(value.map_or_else(|| NONE.to_owned(), |value| fixed(value, decimals)))
    };
    let under_way = decision.time <= station(approach).0;
    vec![
        Cell::Words(instant(decision.time)),
        Cell::Words(if under_way { "under way" } else { "on station" }.to_owned()),
        Cell::Words(place(decision.latitude_deg, decision.longitude_deg)),
        number(Some(decision.fuel_t), 0),
        number(decision.home_t, 0),
        number(decision.margin_t, 0),
        match decision.beset_days {
            Some(days) if days < 0.0 => Cell::Number("none".to_owned()),
            days => number(days, 1),
        },
        Cell::Words(decision.nearest_refuge.clone().unwrap_or_else(|| NONE.to_owned())),
    ]
}

/// The margin over the days; a gap is where no way leads home.
fn margins(approach: &Approach, scan: &TurningScan, line: LineStyle) -> Chart {
    let day = |time: Timestamp| hours_between(approach.depart, time) / 24.0;
    let (arrive, leave) = station(approach);
    let known = scan.decisions.iter().filter_map(|decision| decision.margin_t);
    let (low, high) = known
        .filter(|margin| margin.is_finite())
        .fold((0.0_f64, 1.0_f64), |(low, high), margin| (low.min(margin), high.max(margin)));
    Chart {
        title: "Margin of fuel if the craft turns for home, t".to_owned(),
        x: Axis::of(
            "days from departure",
            0.0,
            scan.decisions.last().map_or(1.0, |decision| day(decision.time)),
            false,
        ),
        y: Axis::of("t", low, high, true),
        series: vec![Series {
            points: scan.decisions.iter().map(|one| (day(one.time), one.margin_t)).collect(),
            line,
            stepped: false,
        }],
        bands: vec![(day(arrive), day(leave), "station".to_owned())],
        levels: if low < 0.0 {
            vec![Level::named_below(0.0, "no return".to_owned())]
        } else {
            Vec::new()
        },
        height: 110.0,
    }
}

/// From when to when the ship lies at the pole, or at the landing from which a last leg goes on.
fn station(approach: &Approach) -> (Timestamp, Timestamp) {
    approach
        .last_leg
        .as_ref()
        .map_or((approach.arrive, approach.leave), |leg| (leg.ship_arrives, leg.ship_leaves))
}

fn days_out(approach: &Approach, time: Timestamp) -> String {
    fixed(hours_between(approach.depart, time) / 24.0, 1)
}
