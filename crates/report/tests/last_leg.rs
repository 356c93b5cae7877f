//! What is written of an approach in two stages.

#![allow(clippy::unwrap_used, reason = "what a test calls may fail as the test does")]

mod sample;

use dipward_plugin::{
    DepotFuel, LastLegPlan, LegFuel, LegTravel, Report, Sorties, WayBound, Writer,
};
use dipward_report::{GpxRoutes, RankingJson, ReportHtml, RoutesGeoJson, table};
use serde_json::Value;

/// The sample with a party that is landed by the first approach at its last waypoint.
fn report(travel: LegTravel) -> Report {
    let mut report = sample::report();
    let approach = &mut report.ranking.approaches[0];
    let landing = *approach.waypoints.last().unwrap();
    let mut pole = landing;
    pole.latitude_deg += 1.0;
    let flies = travel == LegTravel::Air;
    approach.last_leg = Some(LastLegPlan {
        by: "<a party>".to_owned(),
        travel,
        landing_latitude_deg: landing.latitude_deg,
        landing_longitude_deg: landing.longitude_deg,
        ship_arrives: approach.arrive,
        ship_leaves: approach.leave,
        short_km: 111.0,
        out_h: 0.6,
        home_h: 0.7,
        out: vec![landing, pole],
        home: vec![pole, landing],
        fuel_t: LegFuel {
            capacity: 0.6,
            out: 0.12,
            stay: 0.05,
            home: 0.14,
            reserve: 0.1,
            margin: 0.19,
        },
        radius_km: 205.0,
        no_return_h: 1.1,
        out_bound: (!flies).then_some(WayBound {
            lower_bound_h: Some(0.592),
            lower_bound_t: None,
            gap_percent: Some(1.38),
        }),
        home_bound: None,
        sorties: flies.then_some(Sorties {
            mean: 2.5,
            mean_fuel_t: 0.8,
            most_fuel_t: 1.9,
            aboard_t: 4.0,
            hours_to_fly: 31,
        }),
        depots: if flies {
            Vec::new()
        } else {
            vec![DepotFuel { at_km: 40.0, laid_t: 0.12, drawn_t: 0.11, off_way_km: None }]
        },
    });
    report
}

fn text(writer: &dyn Writer, report: &Report) -> String {
    let files = writer.files(report).unwrap();
    files.into_iter().map(|file| String::from_utf8(file.bytes).unwrap()).collect()
}

#[test]
fn the_page_tells_the_landing_the_radius_and_the_sorties() {
    let page = text(&ReportHtml::default(), &report(LegTravel::Air));
    assert!(page.contains("Last legs") && page.contains("111 km short of the pole"));
    assert!(
        page.contains("&lt;a party&gt;, by air") && page.contains("205") && page.contains("31")
    );
    let page = text(&ReportHtml::default(), &report(LegTravel::OverIce));
    assert!(page.contains("depot at 40 km: 120 kg laid on the way out, 110 kg drawn"));
    assert!(page.contains("over the ice lie no more than 1.4 % above a proven bound"));
    assert!(!text(&ReportHtml::default(), &sample::report()).contains("Last legs"));
}

/// The party reaches the pole later than the ship the landing; her decisions go by her own hours.
#[test]
fn the_ship_is_on_station_while_she_lies_at_the_landing() {
    let mut report = report(LegTravel::OverIce);
    let on_station =
        |report: &Report| text(&ReportHtml::default(), report).matches(">on station<").count();
    let before = on_station(&report);
    let approach = &mut report.ranking.approaches[0];
    approach.arrive = approach.leave;
    approach.leave = approach.back;
    assert_eq!((before, on_station(&report)), (2, 2));
}

#[test]
fn routes_have_the_landing_and_both_ways_of_the_leg() {
    let report = report(LegTravel::Air);
    let collection: Value = serde_json::from_str(&text(&RoutesGeoJson, &report)).unwrap();
    let features = collection["features"].as_array().unwrap();
    let role = |role: &str| features.iter().filter(|one| one["properties"]["role"] == role).count();
    assert_eq!((role("landing"), role("leg_out"), role("leg_home")), (1, 1, 1));
    let approach = &report.ranking.approaches[0];
    let gap = |role: &str, report: &Report| {
        let collection: Value = serde_json::from_str(&text(&RoutesGeoJson, report)).unwrap();
        let features = collection["features"].as_array().unwrap().clone();
        let of = |one: &&Value| one["properties"]["role"] == role;
        features.iter().find(of).unwrap()["properties"]["gap_percent"].clone()
    };
    assert_eq!((gap("out", &report), gap("leg_out", &report)), (2.04.into(), Value::Null));
    assert_eq!(gap("home", &report), 1.52);
    assert_eq!(gap("leg_out", &self::report(LegTravel::OverIce)), 1.38);
    let first = &approach.id;
    let files = GpxRoutes::default().files(&report).unwrap();
    let file = files.iter().find(|file| file.name.contains(first.as_str())).unwrap();
    let read = gpx::read(&*file.bytes).unwrap();
    let names: Vec<_> = read.routes.iter().filter_map(|route| route.type_.clone()).collect();
    assert_eq!(names, ["out", "station", "home", "leg-out", "leg-home"]);
    assert_eq!(read.waypoints.len(), 2);
}

#[test]
fn the_table_has_a_column_for_it_and_no_gap_without_a_bound() {
    let mut ranking = report(LegTravel::OverIce).ranking;
    let first = &mut ranking.approaches[0];
    (first.lower_bound_h, first.lower_bound_t, first.gap_percent) = (None, None, None);
    let text = table(&ranking, None);
    let line = text.lines().nth(2).unwrap();
    assert!(text.lines().next().unwrap().contains("last leg") && line.contains("ice 111"));
    // The way out has none, the way home has.
    assert!(line.contains("not proved        1.5"), "{line}");
    let last = text.lines().nth(1 + ranking.approaches.len());
    assert!(last.is_some_and(|line| line.contains("2.0 not proved")), "{text}");
}

#[test]
fn ranking_json_reads_back_what_it_is() {
    let report = report(LegTravel::Air);
    let files = RankingJson.files(&report).unwrap();
    let file = files.iter().find(|file| file.name == "ranking.json").unwrap();
    let read: dipward_plugin::Ranking = serde_json::from_slice(&file.bytes).unwrap();
    assert_eq!(read.approaches[0].last_leg, report.ranking.approaches[0].last_leg);
    let value: Value = serde_json::from_slice(&file.bytes).unwrap();
    assert_eq!(value["approaches"][0]["last_leg"]["travel"], "air");
    assert!(value["approaches"][1].get("last_leg").is_none());
}
