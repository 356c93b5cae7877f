//! The ranking and the rejections as text.

#![allow(clippy::unwrap_used, reason = "what a test calls may fail as the test does")]

mod sample;

use dipward_plugin::{Pilotage, TurnBackLimit};
use dipward_report::{rejected_list, table};

#[test]
fn the_whole_table_has_names_units_and_a_line_an_approach() {
    let text = table(&sample::report().ranking, None);
    println!("{text}");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 2 + 6 + 1);
    let headings: Vec<&str> = lines[0].split_whitespace().collect();
    assert_eq!(
        headings,
        [
            "rank", "id", "from", "depart", "arrive", "days", "dist", "fuel:out", "stn", "home",
            "margin", "turn", "by", "attain", "RIO", "elev", "gap:out", "home", "front",
        ]
    );
    assert!(lines[2].contains("hobart-20270114T06-a") && lines[2].ends_with('*'));
    assert!(lines[2].contains("82 (78-86)"));
    assert!(!lines[7].ends_with('*'));
    // What the chance is worth stands below.
    for told in ["93 % instead of 82 %", "74 % instead of 71 %", "61 % (10 %)"] {
        assert!(lines[8].contains(told), "{}", lines[8]);
    }
}

#[test]
fn columns_give_way_until_the_table_fits() {
    let ranking = sample::report().ranking;
    for width in [130, 120, 100, 80] {
        let text = table(&ranking, Some(width));
        println!("{text}");
        assert!(text.lines().all(|line| line.chars().count() <= width), "{width}");
        assert!(text.contains("82 (78-86)") && text.contains("depart"));
    }
    // What must stay stays, however narrow.
    let least = table(&ranking, Some(1));
    let headings: Vec<&str> = least.lines().next().unwrap().split_whitespace().collect();
    assert_eq!(headings, ["rank", "id", "depart", "attain"]);
}

#[test]
fn the_table_tells_what_ends_the_time_for_turning_and_where_the_voyage_ends() {
    let mut ranking = sample::report().ranking;
    let [first, second, third, ..] = &mut ranking.approaches[..] else { unreachable!() };
    first.turn_back.as_mut().unwrap().limit = Some(TurnBackLimit::Window);
    second.turn_back = None;
    third.home_to = "Lyttelton".to_owned();
    let text = table(&ranking, None);
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines[0].contains("turn by") && lines[0].contains("ends in"));
    assert!(lines[2].contains(" window ") && !lines[2].contains(" fuel "), "{}", lines[2]);
    assert!(!lines[3].contains(" window ") && !lines[3].contains(" fuel "), "{}", lines[3]);
    assert!(lines[4].contains(" fuel ") && lines[4].contains("Lyttelton"), "{}", lines[4]);
}

#[test]
fn the_miles_beside_the_track_are_told_below_the_table() {
    let mut ranking = sample::report().ranking;
    let first = &mut ranking.approaches[0];
    let port_depart = sample::at("2027-01-14T03:24Z");
    first.pilotage = Some(Pilotage {
        out_km: 38.6,
        out_h: 2.6,
        home_km: 0.1,
        home_h: 0.0,
        port_depart,
        port_back: first.back,
    });
    let text = table(&ranking, None);
    let told = text.lines().nth(8).unwrap();
    assert!(
        told.contains("begins 39 km from Hobart") && told.contains("2.6 h of pilotage"),
        "{told}"
    );
    assert!(
        told.contains("14\u{a0}Jan\u{a0}2027,\u{a0}03:24") && !told.contains("it ends"),
        "{told}"
    );
}

#[test]
fn nothing_feasible_gives_no_table() {
    assert_eq!(table(&sample::empty_report().ranking, Some(120)), "");
}

#[test]
fn rejections_are_a_line_each() {
    assert_eq!(
        rejected_list(&sample::report().ranking),
        "Bluff  2027-01-26 18:00  the goal cannot be reached before the window ends\n\
         Hobart 2027-01-28 06:00  fuel for the way there (412 t) but not for the way home with the \
         reserve\n"
    );
}

#[test]
fn a_scenario_cannot_steer_the_terminal() {
    let mut ranking = sample::report().ranking;
    ranking.approaches[0].id = "a\u{1b}[2Jb\nc".to_owned();
    ranking.rejected[0].reason = "\u{7}\r".to_owned();
    let text = table(&ranking, None) + &rejected_list(&ranking);
    assert!(text.chars().all(|c| c == '\n' || !c.is_control()));
    assert_eq!(text.lines().count(), 2 + 6 + 1 + 2);
}

#[test]
fn a_thin_rule_and_a_heading_part_the_groups() {
    let mut ranking = sample::report().ranking;
    for (approach, group) in ranking.approaches.iter_mut().zip([1, 1, 1, 2, 3, 3]) {
        approach.group = group;
    }
    let text = table(&ranking, None);
    println!("{text}");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 2 + 6 + 3 + 2 + 1);
    assert!(lines[2].starts_with("Group 1: the data do not tell these 3 apart"), "{}", lines[2]);
    let rules: Vec<usize> = (0..lines.len()).filter(|&at| lines[at].starts_with('─')).collect();
    assert_eq!(rules, [6, 9]);
    assert_eq!((lines[7], lines[10].contains("these 2 apart")), ("Group 2", true));
    for width in [130, 100, 80] {
        let text = table(&ranking, Some(width));
        assert!(text.lines().all(|line| line.chars().count() <= width), "{width}\n{text}");
    }
    // A ranking of an earlier version tells no groups.
    ranking.approaches.iter_mut().for_each(|approach| approach.group = 0);
    assert_eq!(table(&ranking, None).lines().count(), 2 + 6 + 1);
}
