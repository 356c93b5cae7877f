//! The page and the map: whole, safe, self-contained, and the same each time.

#![allow(clippy::unwrap_used, reason = "what a test calls may fail as the test does")]

mod sample;

use dipward_plugin::{Assumption, Error, Quantity, Rejected, Report, Writer};
use dipward_report::{ChartFrame, ChartLayer, ChartPage, MapSvg, ReportHtml};
use proptest::prelude::*;

fn page(report: &Report) -> String {
    text(&ReportHtml::default(), report)
}

fn map(report: &Report) -> String {
    text(&MapSvg::default(), report)
}

fn text(writer: &dyn Writer, report: &Report) -> String {
    let mut files = writer.files(report).unwrap();
    String::from_utf8(files.pop().unwrap().bytes).unwrap()
}

fn assert_well_formed(xml: &str) {
    for event in xml::EventReader::new(xml.as_bytes()) {
        event.unwrap();
    }
}

/// The page as XML: its void elements closed, its document type left out. Our markup closes all others.
fn as_xml(page: &str) -> String {
    let body = page.strip_prefix("<!DOCTYPE html>").unwrap();
    body.lines()
        .map(|line| {
            if line.starts_with("<meta") {
                line.strip_suffix('>').unwrap().to_owned() + "/>\n"
            } else {
                format!("{line}\n")
            }
        })
        .collect()
}

/// Every text of the report set to the given one.
fn with_text(text: &str) -> Report {
    let mut report = sample::report();
    let ranking = &mut report.ranking;
    ranking.scenario = text.to_owned();
    ranking.caution = text.to_owned();
    ranking.why = vec![text.to_owned()];
    ranking.pole.model = text.to_owned();
    ranking.assumptions = vec![Assumption::new(text, text)];
    ranking.rejected = vec![Rejected {
        from: text.to_owned(),
        depart: sample::at("2027-01-07T00:00Z"),
        reason: text.to_owned(),
    }];
    for approach in &mut ranking.approaches {
        approach.id = text.to_owned();
        approach.from = text.to_owned();
        approach.home_to = text.to_owned();
        approach.craft = text.to_owned();
        approach.sought = text.to_owned();
        approach.trade = text.to_owned();
        approach.criteria.insert(text.to_owned(), 1.0);
        for scan in approach.turning.iter_mut() {
            scan.decisions[0].nearest_refuge = Some(text.to_owned());
            scan.critical_points[0].behind = text.to_owned();
            scan.critical_points[0].ahead = text.to_owned();
        }
    }
    for (name, _) in &mut report.map.places {
        *name = text.to_owned();
    }
    for layer in &mut report.layers {
        layer.name = text.to_owned();
        layer.kind = text.to_owned();
        layer.provenance.name = text.to_owned();
        layer.provenance.source = text.to_owned();
        layer.provenance.licence = Some(text.to_owned());
    }
    report.run.inputs_sha256.insert(text.to_owned(), text.to_owned());
    report.run.counts.insert(text.to_owned(), 1);
    report.notes = vec![text.to_owned()];
    report.resolved_scenario = text.to_owned();
    report
}

#[test]
fn sections_come_in_order_with_the_caution_first() {
    let page = page(&sample::report());
    let marks = [
        "class=\"caution\"",
        "id=\"summary\"",
        "id=\"map\"",
        "id=\"ranking\"",
        "id=\"along\"",
        "id=\"attainment\"",
        "id=\"pole\"",
        "id=\"turn-back\"",
        "id=\"rejected\"",
        "id=\"assumptions\"",
        "id=\"layers\"",
        "id=\"provenance\"",
    ];
    let places: Vec<usize> = marks.iter().map(|mark| page.find(mark).unwrap()).collect();
    assert!(places.is_sorted(), "{places:?}");
}

/// The page's part about turning back, its words without the markup between them.
fn turning_back(report: &Report) -> String {
    let page = page(report);
    let from = page.find("id=\"turn-back\"").unwrap();
    let part = &page[from..from + page[from..].find("</section>").unwrap()];
    let mut words = String::new();
    for (index, piece) in part.split('<').enumerate() {
        let text = if index == 0 { "" } else { piece.split_once('>').unwrap().1 };
        words += text.trim();
        words += " ";
    }
    words.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn all_turning_points_of_the_approaches_shown_are_on_the_page() {
    let words = turning_back(&sample::report());
    for told in [
        // The latest time to leave the station of all that are shown.
        "Latest to leave, UTC Days from departure Place",
        // In the order of time, the critical point between the first two crossings.
        "2027-01-16 14:00 2.3 52.27° S, 141.76° E Point of no return: the fuel no longer suffices",
        "2027-01-16 16:00 2.4 53.31° S, 141.14° E Critical point: Dumont d&#39;Urville is nearer in time \
         than Hobart from here on",
        "2027-01-16 21:00 2.6 54.36° S, 140.52° E The fuel suffices again",
        "2027-01-17 04:00 2.9 55.40° S, 139.90° E The way home closes",
        "2027-01-18 00:00 3.8 59.58° S, 137.43° E The way home opens",
        "Ranked too low to be scanned: hobart-20270121T06-c, bluff-20270112T18-a, hobart-20270107T06-b.",
        // Where no crossing is, that is said.
        "From each of the 4 decisions a way leads home and the fuel suffices for it.",
        "Each margin keeps the reserve and fuel for 5 days beset.",
        // Fuel at a decision: aboard, home, margin, days beset, nearest refuge.
        "2027-01-16 18:00 under way 53.31° S, 141.14° E 1010 922 -56 none Hobart",
        "on station 63.75° S, 134.95° E 881 212 525 114.3",
        "under way 63.75° S, 134.95° E 900 – – – Hobart",
    ] {
        assert!(words.contains(told), "{told}\n{words}");
    }
}

#[test]
fn without_a_scan_the_latest_time_to_leave_stands_alone() {
    let mut report = sample::report();
    for approach in &mut report.ranking.approaches {
        approach.turning = None;
    }
    let words = turning_back(&report);
    assert!(words.contains("Latest to leave, UTC") && !words.contains("Critical point"), "{words}");
    assert!(!words.contains("decision"), "{words}");
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    for text in [page(&sample::report()), map(&sample::report())] {
        for reach in ["src=", "href=", "url(http", "@import", "<script", "<link", " on"] {
            let found = text.match_indices(reach).find(|(at, _)| {
                // " on" is a handler only as an attribute.
                reach != " on" || text[*at..].starts_with(" onload=")
            });
            assert_eq!(found, None, "{reach}");
        }
        // The only addresses are names of namespaces.
        assert_eq!(
            text.matches("http").count(),
            text.matches("http://www.w3.org/2000/svg").count() + text.matches("http-equiv").count()
        );
    }
}

#[test]
fn text_cannot_become_markup() {
    for evil in [
        "</title></style><script>alert(1)</script>",
        "\"'><img src=x onerror=alert(1)>",
        "]]>&#60;",
    ] {
        let report = with_text(evil);
        let page = page(&report);
        assert!(!page.contains("<script") && !page.contains("<img"));
        assert_well_formed(&as_xml(&page));
        assert_well_formed(&map(&report));
    }
}

#[test]
fn both_are_well_formed_small_and_always_the_same() {
    for report in [sample::report(), sample::north_report(), sample::empty_report()] {
        let (page, map) = (page(&report), map(&report));
        assert_well_formed(&as_xml(&page));
        assert_well_formed(&map);
        assert!(map.len() < 1_500_000);
        assert_eq!(page, self::page(&report));
        assert_eq!(map, self::map(&report));
    }
}

#[test]
fn no_identifier_is_there_twice() {
    let page = page(&sample::report());
    let mut ids: Vec<&str> = page
        .match_indices(" id=\"")
        .filter_map(|(at, mark)| page[at + mark.len()..].split('"').next())
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all);
}

/// Names of degrees stand outside of the frame and must not be cut by the picture's edge. The width of a
/// letter is taken as 0.6 of its height, as it is in DejaVu Sans on average.
#[test]
fn no_label_of_the_graticule_is_cut() {
    // So near to the pole that parallels are a quarter of a degree apart.
    let mut report = sample::report();
    for ellipse in [&mut report.pole.ellipse_50, &mut report.pole.ellipse_95] {
        *ellipse = None;
    }
    report.pole.daily_oval.clear();
    report.pole.quiet_oval.clear();
    let page = page(&report);
    let mut looked_at = Vec::new();
    for drawing in page.split("<svg").skip(1).filter(|one| one.contains("aria-label=\"Map: the")) {
        let number = |part: &str, key: &str| -> Option<f64> {
            let rest = &part[part.find(&format!(" {key}=\""))? + key.len() + 3..];
            rest.split('"').next()?.parse().ok()
        };
        let view = &drawing[drawing.find("viewBox=\"0 0 ").unwrap() + 13..];
        let width: f64 = view.split(' ').next().unwrap().parse().unwrap();
        for label in drawing.split("<text").skip(1).filter(|label| label.contains("°\u{a0}")) {
            let words = label.split_once('>').unwrap().1.split('<').next().unwrap().trim();
            let x = number(label, "x").unwrap();
            let wide = words.chars().count() as f64 * 0.6 * number(label, "font-size").unwrap();
            let (from, to) = match label {
                one if one.contains("text-anchor=\"end\"") => (x - wide, x),
                one if one.contains("text-anchor=\"middle\"") => (x - wide / 2.0, x + wide / 2.0),
                _ => (x, x + wide),
            };
            assert!(from >= 0.0 && to <= width, "{words} from {from} to {to} of {width}");
            looked_at.push(words);
        }
    }
    // Two decimals are the widest.
    assert!(looked_at.len() > 12 && looked_at.contains(&"63.50°\u{a0}S"), "{looked_at:?}");
}

#[test]
fn without_an_approach_the_page_says_so() {
    let page = page(&sample::empty_report());
    assert!(page.contains("No approach is feasible. 2 were tried"));
    assert!(page.contains("not for the way home with the reserve"));
}

#[test]
fn the_legend_says_which_hours_its_ovals_and_ellipses_stand_for() {
    let mut report = sample::report();
    report.pole.quiet_below_kp = 2.5;
    let drawn = map(&report);
    assert!(drawn.contains("mean daily oval, storms included"));
    assert!(drawn.contains("daily oval of quiet hours, Kp below 2.5"));
    assert_eq!(drawn.matches("% of all hours, storms included").count(), 2);
    report.pole.quiet_oval.clear();
    let without = map(&report);
    assert!(!without.contains("quiet hours"));
    // One less in the legend and one less about the pole.
    let lines = |map: &str| map.matches("stroke=\"#e69f00\"").count();
    assert_eq!(lines(&without) + 2, lines(&drawn));
}

#[test]
fn a_column_of_another_length_is_an_error() {
    let mut report = sample::report();
    report.map.closed.pop();
    assert!(matches!(MapSvg::default().files(&report), Err(Error::Unsolved(_))));
    assert!(matches!(ReportHtml::default().files(&report), Err(Error::Unsolved(_))));
}

#[test]
fn a_fine_grid_does_not_make_a_large_map() {
    // 1 km cells with noise in each: what is finer than the picture is averaged away.
    let mut report = sample::report();
    let coarse = report.map.grid.clone();
    let fine = dipward_geodesy::Grid::new(
        *coarse.projection(),
        coarse.origin(),
        3_000.0,
        coarse.columns() * 5,
        coarse.rows() * 5,
    )
    .unwrap();
    let noise = |cell: usize| (cell.wrapping_mul(2_654_435_761) % 1000) as f32 / 1000.0;
    report.map.ice_concentration = (0..fine.len()).map(noise).collect();
    report.map.elevated = (0..fine.len()).map(|cell| noise(cell + 7) > 0.5).collect();
    report.map.closed = Vec::new();
    report.map.grid = fine;
    assert!(map(&report).len() < 1_500_000, "{}", map(&report).len());
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(f64::MAX),
        Just(-0.0),
        -1e3..1e3_f64,
        proptest::num::f64::ANY,
    ]
}

proptest! {
    // Failures are told in full; integration tests have no place of their own to keep them.
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_breaks_the_page_or_the_map(text in "\\PC{0,40}|[\\x00-\\x7f]{0,40}") {
        let report = with_text(&text);
        assert_well_formed(&as_xml(&page(&report)));
        assert_well_formed(&map(&report));
    }

    #[test]
    fn no_number_makes_a_writer_panic(numbers in prop::collection::vec(any_number(), 24)) {
        let mut report = sample::report();
        let mut next = numbers.iter().copied().cycle();
        let mut put = |slot: &mut f64| *slot = next.next().unwrap_or(0.0);
        for approach in &mut report.ranking.approaches {
            put(&mut approach.distance_km);
            put(&mut approach.fuel_t.capacity);
            put(&mut approach.fuel_t.reserve);
            put(&mut approach.attainment.probability);
            if let Some(turn) = &mut approach.turn_back {
                    put(&mut turn.latitude_deg);
                }
            put(&mut approach.waypoints[1].longitude_deg);
            put(&mut approach.waypoints[2].latitude_deg);
            approach.criteria.values_mut().for_each(&mut put);
            for scan in approach.turning.iter_mut() {
                put(&mut scan.beset_days);
                put(&mut scan.under_way_every_h);
                scan.decisions.iter_mut().for_each(|one| put(&mut one.fuel_t));
                scan.decisions.iter_mut().filter_map(|one| one.margin_t.as_mut()).for_each(&mut put);
                scan.crossings.iter_mut().for_each(|one| put(&mut one.latitude_deg));
            }
        }
        for profile in report.profiles.values_mut() {
            put(&mut profile.hour[3]);
            put(&mut profile.fuel_used_t[5]);
            profile.risk_index[7] = Some(profile.fuel_used_t[5]);
        }
        put(&mut report.ranking.pole.latitude_deg);
        put(&mut report.ranking.pole.drift_bearing_deg);
        if let Some(ellipse) = &mut report.pole.ellipse_95 {
            put(&mut ellipse.semi_major_km);
        }
        for (_, chance) in &mut report.pole.chance_by_day {
            put(chance);
        }
        assert_well_formed(&as_xml(&page(&report)));
        assert_well_formed(&map(&report));
        let _ = dipward_report::GpxRoutes::default().files(&report);
        let _ = dipward_report::RoutesGeoJson.files(&report);
        let _ = dipward_report::table(&report.ranking, Some(100));
    }
}

/// The chart of the sample's map, every text of it set to the given one.
fn chart_frame(text: &str) -> ChartFrame {
    let report = sample::report();
    let at = report.map.at;
    let layer = |age_h| ChartLayer {
        name: text.to_owned(),
        source: text.to_owned(),
        instants: Some((at, at)),
        age_h,
        assumptions: vec![text.to_owned()],
    };
    ChartFrame {
        title: text.to_owned(),
        caution: text.to_owned(),
        at,
        land: report.map.ice_concentration.iter().map(|value| value.is_nan()).collect(),
        outlines: report.map.outlines.clone(),
        places: report.map.places.iter().map(|(_, at)| (text.to_owned(), *at)).collect(),
        pole: report.pole.mean_track[0].1,
        layers: vec![layer(Some(30.0)), layer(Some(-6.0)), layer(None)],
        grid: report.map.grid,
    }
}

#[test]
fn a_chart_shows_each_quantity_its_layers_and_its_ages() {
    let frame = chart_frame("a <b> & \"c\"");
    let ice = sample::report().map.ice_concentration;
    let third = ice.len() / 3;
    let layers: Vec<Option<u16>> = ice
        .iter()
        .enumerate()
        .map(|(cell, value)| (!value.is_nan()).then_some((cell / third).min(2) as u16))
        .collect();
    let metres: Vec<f32> = ice.iter().map(|value| value * 3000.0 - 2000.0).collect();
    let mut page = ChartPage::new(&frame);
    page.add(Quantity::ICE_CONCENTRATION, &ice, &layers);
    page.add(Quantity::ELEVATION, &metres, &layers);
    page.add(Quantity::CLOSED, &vec![0.0; ice.len()], &vec![Some(2); ice.len()]);
    page.add(Quantity::SPEED_LIMIT, &vec![f32::NAN; ice.len()], &vec![None; ice.len()]);
    let file = page.finish();
    let page = String::from_utf8(file.bytes).unwrap();
    assert_eq!(file.name, "chart.html");
    assert_well_formed(&as_xml(&page));
    for words in [
        ">ice concentration<",
        ">elevation, m<",
        ">closed: 0.00 wherever it is known<",
        ">speed_limit: no layer covers a cell<",
        // Two quantities of one origin share their maps.
        ">Layer of ice concentration, elevation<",
        ">Age of ice concentration, elevation<",
        "30.0 h old",
        "of 6.0 h later",
        "does not change",
        "no layer covers it",
        "a &lt;b&gt; &amp; ",
    ] {
        assert!(page.contains(words), "{words}");
    }
    // The same values everywhere need no map, and no layer has no age.
    assert_eq!(page.matches("<figure>").count(), 2 + 2 + 1);
    assert!(!page.contains("<b>") && !page.contains("NaN") && !page.contains("<script"));
}

#[test]
fn the_page_parts_the_groups_and_says_what_they_are() {
    let mut report = sample::report();
    let whole = page(&report);
    assert!(!whole.contains("class=\"group\"") && !whole.contains("A group holds"));
    for (approach, group) in report.ranking.approaches.iter_mut().zip([1, 1, 2, 3, 3, 3]) {
        approach.group = group;
    }
    let first = &mut report.ranking.approaches[0];
    (first.lower_bound_h, first.lower_bound_t, first.gap_percent) = (None, None, None);
    let whole = page(&report);
    assert_eq!(whole.matches("<tr class=\"group\">").count(), 3);
    assert!(whole.contains("A group holds the approaches that the data do not tell apart"));
    assert!(whole.contains("colspan=\"17\">Group 1: the data do not tell these 2 apart"));
    assert!(whole.contains("not proved"));
}
