//! The record as one page that stands by itself.

use std::fmt::Write;

use dipward_field::{Element, Evidence, PoleEstimate};

use crate::arguments::CAUTION;

const STYLE: &str = "body{font:16px/1.5 sans-serif;max-width:60rem;margin:1rem auto;padding:0 1rem;color:#1b1f24}\
.caution{border:2px solid #1b1f24;border-left-width:.6rem;padding:.7rem 1rem;background:#fdf6e3}\
table{border-collapse:collapse;display:block;overflow-x:auto}\
th,td{border:1px solid #8a939d;padding:.2rem .5rem;text-align:left;vertical-align:top;white-space:nowrap}";

/// One of the three claims in words.
pub(super) struct Claim {
    pub(super) title: &'static str,
    pub(super) attained: bool,
    pub(super) told: String,
}

/// The three claims, in the order of what they take to believe.
pub(super) fn claims(evidence: &Evidence) -> [Claim; 3] {
    let none = || "no pole was found".to_owned();
    let mean = evidence.mean_pole;
    let instantaneous = evidence.instantaneous_pole;
    [
        Claim {
            title: "mean pole within the stated distance",
            attained: mean.is_some_and(|claim| claim.attained),
            told: mean.map_or_else(none, |claim| {
                let doubt = if claim.beyond_doubt { "within" } else { "not within" };
                let model = claim
                    .closest_to_model_km
                    .map_or(String::new(), |km| format!("; {km:.1} km from the model's own"));
                format!(
                    "{:.1} km at reading {}, stated {} km, its 95 % ellipse {doubt} the distance as a \
                     whole{model}",
                    claim.closest_km,
                    claim.reading + 1,
                    claim.within_km
                )
            }),
        },
        Claim {
            title: "instantaneous pole within its ellipse",
            attained: instantaneous.is_some_and(|claim| claim.attained),
            told: instantaneous.map_or_else(none, |claim| {
                let ellipse = claim.pole.ellipse_95;
                format!(
                    "reading {} was {:.1} km away, {:.2} times the 95 % ellipse of {:.1} by {:.1} km",
                    claim.reading + 1,
                    claim.pole.distance_km,
                    claim.ellipses_away,
                    ellipse.semi_major_km,
                    ellipse.semi_minor_km
                )
            }),
        },
        Claim {
            title: "crossing observed",
            attained: evidence.crossing.attained,
            told: match evidence.crossing.lines.as_slice() {
                [] => "no line along which both horizontal components changed sign".to_owned(),
                lines => {
                    let each: Vec<String> = lines
                        .iter()
                        .map(|line| {
                            format!(
                                "readings {} to {} on {:.0} deg",
                                line.from + 1,
                                line.to + 1,
                                line.bearing_deg
                            )
                        })
                        .collect();
                    format!("both components changed sign along {}", each.join(", "))
                }
            },
        },
    ]
}

/// The page.
pub(super) fn page(evidence: &Evidence) -> String {
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>Evidence of a dip pole</title><style>{STYLE}</style></head><body>\n\
         <p class=\"caution\" role=\"note\">{}</p>\n<h1>Evidence of the {} dip pole</h1>\n\
         <p>Three claims, each by itself: none of them implies another.</p>\n<table>\
         <tr><th>claim</th><th>attained</th><th>grounds</th></tr>\n",
        escaped(CAUTION),
        evidence.fix.hemisphere
    );
    // Writing to a string cannot fail, here and below.
    for claim in claims(evidence) {
        let _ = writeln!(
            page,
            "<tr><td>{}</td><td>{}</td><td style=\"white-space:normal\">{}</td></tr>",
            claim.title,
            if claim.attained { "yes" } else { "no" },
            escaped(&claim.told)
        );
    }
    page.push_str(
        "</table>\n<h2>Readings</h2>\n<table><tr><th>no.</th><th>UTC</th><th>position</th>",
    );
    page.push_str(
        "<th>measured, one sigma</th><th>base X, Y, Z</th><th>Kp</th><th>instantaneous pole</th>\
         <th>mean pole</th><th>model's pole</th><th>instrument</th><th>calibration</th></tr>\n",
    );
    for (at, reading) in evidence.readings.iter().enumerate() {
        let measured: Vec<String> = reading
            .elements
            .iter()
            .map(|(&element, value)| {
                format!("{} {} ± {}", symbol(element), value.value, value.sigma)
            })
            .collect();
        let base = reading.base_nt.map(|base| base.map(|part| part.to_string()).join(", "));
        let cells = [
            (at + 1).to_string(),
            reading.time.to_string(),
            format!(
                "{:.5}, {:.5} ± {} km, {} km high",
                reading.latitude_deg,
                reading.longitude_deg,
                reading.position_sigma_km,
                reading.height_km
            ),
            measured.join("; "),
            base.unwrap_or_else(|| "-".into()),
            reading.kp.map_or("-".into(), |kp| kp.to_string()),
            place(reading.instantaneous_pole.as_ref()),
            place(reading.mean_pole.as_ref()),
            reading.model_pole_km.map_or("-".into(), |km| format!("{km:.1} km away")),
            reading.instrument.clone().unwrap_or_else(|| "-".into()),
            reading.calibration.clone().unwrap_or_else(|| "-".into()),
        ];
        let cells = cells.map(|cell| format!("<td>{}</td>", escaped(&cell)));
        let _ = writeln!(page, "<tr>{}</tr>", cells.concat());
    }
    page.push_str(
        "</table>\n<h2>What is left of each reading</h2>\n<table><tr><th>reading</th>\
         <th>element</th><th>measured less expected</th><th>sigmas</th><th>weight</th></tr>\n",
    );
    for residual in &evidence.fix.residuals {
        let _ = writeln!(
            page,
            "<tr><td>{}</td><td>{}</td><td>{:.3}</td><td>{:.2}</td><td>{:.2}</td></tr>",
            residual.reading + 1,
            symbol(residual.element),
            residual.difference,
            residual.normalised,
            residual.weight
        );
    }
    let _ = write!(
        page,
        "</table>\n<h2>Taken for granted</h2>\n<p>Main field: {}.</p>\n<ul>\n",
        escaped(&evidence.fix.model)
    );
    for assumption in &evidence.fix.assumptions {
        let _ = writeln!(page, "<li>{}</li>", escaped(assumption));
    }
    page.push_str("</ul>\n</body></html>\n");
    page
}

fn place(pole: Option<&PoleEstimate>) -> String {
    pole.map_or("-".into(), |pole| {
        let ellipse = pole.ellipse_95;
        format!(
            "{:.4}, {:.4}; {:.1} km away; {:.1} by {:.1} km",
            pole.latitude_deg,
            pole.longitude_deg,
            pole.distance_km,
            ellipse.semi_major_km,
            ellipse.semi_minor_km
        )
    })
}

fn symbol(element: Element) -> &'static str {
    match element {
        Element::Declination => "D (deg)",
        Element::Inclination => "I (deg)",
        Element::Horizontal => "H (nT)",
        Element::Total => "F (nT)",
        Element::North => "X (nT)",
        Element::East => "Y (nT)",
        Element::Down => "Z (nT)",
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
