//! The last legs of approaches in two stages.

use dipward_plugin::{Approach, LastLegPlan, LegTravel, Report};

use super::markup::{Cell, Markup};
use crate::figures::{NONE, fixed, instant, instant_in_words, place};

/// All last legs, a row each; nothing where every approach goes all the way.
pub(super) fn section(page: &mut Markup, report: &Report) {
    let staged: Vec<(&Approach, &LastLegPlan)> = report
        .ranking
        .approaches
        .iter()
        .filter_map(|approach| Some((approach, approach.last_leg.as_ref()?)))
        .collect();
    if staged.is_empty() {
        return;
    }
    page.within("section id=\"last-leg\"", |page| {
        page.element("h2", "Last legs");
        page.element(
            "p",
            "The ship lies at a landing and a party goes on to the pole and back. Radius: how far it could \
             go and still come home with its reserve; hours out after which it could not are the point of \
             no return. Fuel is the party's own: of one sortie where it flies.",
        );
        let rows: Vec<Vec<Cell>> =
            staged.iter().map(|(approach, leg)| row(approach, leg)).collect();
        page.within("div class=\"wide\"", |page| {
            page.table(
                &[
                    "Rank", "By", "Landing", "Ship lies, UTC", "Ship leaves, UTC", "Short, km",
                    "Radius, km", "Out, h", "No return, h out", "Home, h", "Out, kg", "At the pole, kg",
                    "Home, kg", "Reserve, kg", "Margin, kg", "Sorties, mean", "Hours to fly",
                ],
                &rows,
            );
        });
        let over_ice = staged.iter().filter(|(_, leg)| leg.travel == LegTravel::OverIce);
        let gaps: Vec<Option<f64>> = over_ice
            .flat_map(|(_, leg)| [leg.out_bound, leg.home_bound])
            .map(|bound| bound.and_then(|bound| bound.gap_percent))
            .collect();
        if let Some(most) = gaps.iter().flatten().copied().max_by(f64::total_cmp) {
            let most = fixed(most, 1);
            let unproved = gaps.iter().filter(|gap| gap.is_none()).count();
            let but = match unproved {
                0 => String::new(),
                count => format!(", but for {count} of {}, where none is proved", gaps.len()),
            };
            let told = format!(
                "The hours of the ways over the ice lie no more than {most} % above a proven bound{but}."
            );
            page.element("p", &told);
        }
        // Approaches that differ in the ship's part alone often share their depots.
        let mut told: Vec<(String, Vec<String>)> = Vec::new();
        for (approach, leg) in staged.iter().filter(|(_, leg)| !leg.depots.is_empty()) {
            let (words, rank) = (depots(leg), approach.rank.to_string());
            match told.iter_mut().find(|(known, _)| *known == words) {
                Some((_, ranks)) => ranks.push(rank),
                None => told.push((words, vec![rank])),
            }
        }
        for (words, ranks) in told {
            page.element("p", &format!("Rank {}: {words}.", ranks.join(", ")));
        }
    });
}

fn row(approach: &Approach, leg: &LastLegPlan) -> Vec<Cell> {
    let number = |value: f64, decimals: usize| Cell::Number(fixed(value, decimals));
    let kg = |tonnes: f64| number(1000.0 * tonnes, 0);
    let way = match leg.travel {
        LegTravel::Air => "by air",
        LegTravel::OverIce => "over the ice",
    };
    vec![
        Cell::Number(approach.rank.to_string()),
        Cell::Words(format!("{}, {way}", leg.by)),
        Cell::Words(place(leg.landing_latitude_deg, leg.landing_longitude_deg)),
        Cell::Words(instant(leg.ship_arrives)),
        Cell::Words(instant(leg.ship_leaves)),
        number(leg.short_km, 0),
        number(leg.radius_km, 0),
        number(leg.out_h, 1),
        number(leg.no_return_h, 1),
        number(leg.home_h, 1),
        kg(leg.fuel_t.out),
        kg(leg.fuel_t.stay),
        kg(leg.fuel_t.home),
        kg(leg.fuel_t.reserve),
        kg(leg.fuel_t.margin),
        Cell::Number(leg.sorties.map_or_else(|| NONE.to_owned(), |flown| fixed(flown.mean, 1))),
        Cell::Number(
            leg.sorties.map_or_else(|| NONE.to_owned(), |flown| flown.hours_to_fly.to_string()),
        ),
    ]
}

/// "depot at 40 km: 120 kg laid, 120 kg drawn".
fn depots(leg: &LastLegPlan) -> String {
    let each = leg.depots.iter().map(|depot| {
        let laid = if depot.laid_t > 0.0 {
            format!("{} kg laid on the way out", fixed(1000.0 * depot.laid_t, 0))
        } else {
            "laid beforehand".to_owned()
        };
        let drawn = match depot.off_way_km {
            None => format!("{} kg drawn on the way home", fixed(1000.0 * depot.drawn_t, 0)),
            Some(off_km) => {
                format!("not drawn: the way home passes {} km off it", fixed(off_km, 1))
            }
        };
        format!("depot at {} km: {laid}, {drawn}", fixed(depot.at_km, 0))
    });
    each.collect::<Vec<String>>().join("; ")
}

/// What the summary says of the last leg of an approach.
pub(super) fn in_words(leg: &LastLegPlan) -> String {
    format!(
        "The ship lies at {} from {} UTC, {} km short of the pole; {} {} on from there in {} h.",
        place(leg.landing_latitude_deg, leg.landing_longitude_deg),
        instant_in_words(leg.ship_arrives),
        fixed(leg.short_km, 0),
        leg.by,
        leg.travel.verb(),
        fixed(leg.out_h, 1)
    )
}
