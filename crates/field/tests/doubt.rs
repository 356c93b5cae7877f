//! The doubt about a dip pole against what is on record: forecasts, old epochs and surveys.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use dipward_field::{GaussModel, dip_pole, doubt, igrf14};
use dipward_geodesy::{Hemisphere, Position, geodesic, position};
use dipward_plugin::{ComponentSigma, FieldSample, MainField, Site};

const POLES: [Hemisphere; 2] = [Hemisphere::North, Hemisphere::South];
/// The square of how many sigma hold 95 in 100 in two dimensions.
const HOLDS_95: f64 = 5.991;

/// X and Y at sea level.
fn field(model: &GaussModel, year: f64, at: Position) -> [f64; 2] {
    let mut out = [FieldSample::default()];
    let site = Site { latitude_deg: at.y(), longitude_deg: at.x(), height_km: 0.0 };
    model.sample(year, &[site], &mut out).unwrap();
    [out[0].vector.north_nt, out[0].vector.east_nt]
}

fn pole(model: &GaussModel, hemisphere: Hemisphere, year: f64) -> Position {
    dip_pole(model, hemisphere, year, 0.0).unwrap().position
}

/// By how much the line through an epoch and the one before misses, at the pole of a later year.
fn miss(model: &GaussModel, hemisphere: Hemisphere, epoch: f64, lead: f64) -> [f64; 2] {
    let there = pole(model, hemisphere, epoch + lead);
    let [before, now, then] =
        [epoch - 5.0, epoch, epoch + lead].map(|year| field(model, year, there));
    [0, 1].map(|part| now[part] + (now[part] - before[part]) * lead / 5.0 - then[part])
}

/// How far a miss lies out, in squares of sigma.
fn squares([north, east]: [f64; 2], sigma: ComponentSigma) -> f64 {
    (north / sigma.north_nt).powi(2) + (east / sigma.east_nt).powi(2)
}

fn rms(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count() as f64;
    (values.map(|value| value * value).sum::<f64>() / count).sqrt()
}

fn epochs(from: u32) -> impl Iterator<Item = f64> + Clone {
    (from..=2020).step_by(5).map(f64::from)
}

#[test]
fn forecasts_from_the_epochs_since_1965_fall_within_the_law() {
    let model = igrf14().unwrap();
    let recorded = [
        [[56.0, 62.0], [111.0, 169.0], [162.0, 274.0], [189.0, 379.0], [235.0, 508.0]],
        [[33.0, 61.0], [95.0, 144.0], [178.0, 239.0], [282.0, 353.0], [413.0, 491.0]],
    ];
    for (hemisphere, recorded) in POLES.into_iter().zip(recorded) {
        let law = doubt::IGRF14.at(hemisphere).forecast;
        for (lead, recorded) in [5.0, 10.0, 15.0, 20.0, 25.0].into_iter().zip(recorded) {
            let misses: Vec<[f64; 2]> = epochs(1965)
                .filter(|epoch| epoch + lead <= 2025.0)
                .map(|epoch| miss(&model, hemisphere, epoch, lead))
                .collect();
            for (part, recorded) in recorded.into_iter().enumerate() {
                let found = rms(misses.iter().map(|miss| miss[part]));
                assert!((found - recorded).abs() < 0.51, "{hemisphere} {lead} {part}: {found}");
            }
            let sigma = law.sigma(lead);
            let held = misses.iter().filter(|miss| squares(**miss, sigma) <= HOLDS_95).count();
            assert!(held + 1 >= misses.len(), "{hemisphere} {lead}: {held} of {}", misses.len());
            // And it is not blown up: nearer to the record than half as much again.
            let recorded = rms(recorded.into_iter());
            assert!(sigma.rms_nt() < 1.5 * recorded, "{hemisphere} {lead}: {sigma:?} {recorded}");
        }
        for lead in [1.0, 2.0, 3.0, 4.0] {
            let sigma = law.sigma(lead);
            let misses = epochs(1965).map(|epoch| miss(&model, hemisphere, epoch, lead));
            let held = misses.filter(|miss| squares(*miss, sigma) <= HOLDS_95).count();
            assert!((11..=12).contains(&held), "{hemisphere} {lead}: {held} of 12");
        }
    }
}

/// Misses of published forecasts after five years at the poles of IGRF-14, nT, both fields cut off at
/// the forecast's degree; computed from the coefficients in PyPI pygeomag 1.1.0 and ppigrf 1.0.0.
#[test]
fn published_forecasts_fall_within_the_law() {
    let model = igrf14().unwrap();
    for (name, epoch, north, south) in [
        ("WMM2010", 2010.0, [-37.7, 73.5], [27.5, -64.4]),
        ("WMM2015", 2015.0, [-72.4, 94.2], [45.3, 18.0]),
        ("WMM2020", 2020.0, [32.4, -36.5], [-12.9, -16.5]),
        ("IGRF-13", 2020.0, [27.4, -21.9], [-6.3, -2.8]),
    ] {
        for (hemisphere, missed) in POLES.into_iter().zip([north, south]) {
            let sigma = doubt::IGRF14.at(hemisphere).forecast.sigma(5.0);
            assert!(squares(missed, sigma) < HOLDS_95, "{name} {hemisphere}");
            // None of the lines through two epochs was worse than the forecast by more than this.
            let line = miss(&model, hemisphere, epoch, 5.0);
            let worse = line[0].hypot(line[1]) - missed[0].hypot(missed[1]);
            assert!(worse < 21.0, "{name} {hemisphere}: {worse}");
        }
    }
}

#[test]
fn old_epochs_jump_and_the_hindcast_says_by_how_much() {
    let model = igrf14().unwrap();
    // The error of single epochs that a second difference stands for, were all three as wrong.
    let jump = |hemisphere, epoch: f64| {
        let there = pole(&model, hemisphere, epoch);
        let [a, b, c] = [-5.0, 0.0, 5.0].map(|step| field(&model, epoch + step, there));
        [0, 1].map(|part| (a[part] - 2.0 * b[part] + c[part]) / 6.0_f64.sqrt())
    };
    for (hemisphere, quiet_nt) in POLES.into_iter().zip([30.0, 15.0]) {
        let late = epochs(1990).map(|epoch| jump(hemisphere, epoch));
        let late = late.map(|[x, y]| x.hypot(y) / 2.0_f64.sqrt());
        assert!(rms(late.clone()) < quiet_nt, "{hemisphere}: {}", rms(late));
        for epoch in [1940.0, 1945.0, 1950.0, 1955.0] {
            let sigma = model.sigma(epoch, hemisphere).forecast;
            assert!(squares(jump(hemisphere, epoch), sigma) < HOLDS_95, "{hemisphere} {epoch}");
        }
    }
    let [x, y] = jump(Hemisphere::South, 1950.0);
    assert!((x + 107.0).abs() < 1.0 && (y - 97.0).abs() < 1.0, "{x} {y}");
    for (hemisphere, of_1909) in POLES.into_iter().zip([168.0, 448.0]) {
        assert_eq!(model.sigma(1909.0, hemisphere).forecast, ComponentSigma::isotropic(of_1909));
        assert_eq!(model.sigma(1984.4, hemisphere).forecast, ComponentSigma::default());
    }
}

#[test]
fn straight_lines_between_epochs_miss_by_little() {
    let model = igrf14().unwrap();
    for (hemisphere, told) in POLES.into_iter().zip([[9.0, 6.0], [4.0, 6.0]]) {
        let middle = epochs(1970).map(|epoch| {
            let there = pole(&model, hemisphere, epoch);
            let [a, b, c] = [-5.0, 0.0, 5.0].map(|step| field(&model, epoch + step, there));
            [0, 1].map(|part| (a[part] - 2.0 * b[part] + c[part]) / 8.0)
        });
        let middle: Vec<[f64; 2]> = middle.collect();
        for (part, told) in told.into_iter().enumerate() {
            let found = rms(middle.iter().map(|miss| miss[part]));
            assert!((found - told).abs() < 0.5, "{hemisphere} {part}: {found}");
        }
    }
}

#[test]
fn a_still_field_ages_as_fast_as_the_field_changes() {
    let model = igrf14().unwrap();
    for hemisphere in POLES {
        let rate = |from: f64| {
            let there = pole(&model, hemisphere, from);
            let [a, b] = [from, from + 5.0].map(|year| field(&model, year, there));
            [0, 1].map(|part| (b[part] - a[part]) / 5.0)
        };
        let past: Vec<[f64; 2]> = epochs(1965).map(rate).collect();
        let now = rate(2025.0);
        let told = doubt::secular_variation(hemisphere);
        for (part, told) in [told.north_nt, told.east_nt].into_iter().enumerate() {
            let found = rms(past.iter().map(|rate| rate[part])).max(now[part].abs());
            assert!((found - told).abs() < 0.51, "{hemisphere} {part}: {found}");
        }
    }
}

/// A survey of the north dip pole: name, decimal year, place, one sigma of each coordinate in km.
type Survey = (&'static str, f64, [f64; 2], f64);

/// The months of the first two and the place of 2001 are from memory. That of 2007 states 40 km,
/// taken as two sigma; the others are given the same, a judgement.
const SURVEYS: [Survey; 4] = [
    ("Newitt and Niblett 1986", 1984.4, [77.0, -102.3], 20.0),
    ("Newitt and Barton 1996", 1994.3, [78.3, -104.0], 20.0),
    ("Newitt et al. 2002, Eos 83", 2001.3, [81.3, -110.8], 20.0),
    ("Newitt et al. 2009, Earth Planets Space 61, 703", 2007.3, [83.95, -120.72], 20.0),
];

/// Surveys tell of the mean pole: they are free of the day's disturbance.
#[test]
fn published_surveys_lie_within_the_95_percent_ellipse() {
    let model = igrf14().unwrap();
    let mut held = 0;
    for (name, year, [latitude, longitude], survey_km) in SURVEYS {
        let pole = dip_pole(&model, Hemisphere::North, year, 0.0).unwrap();
        let [[nn, ne], [_, ee]] = pole.sigma_ellipse().covariance_km2();
        let both = [[nn + survey_km.powi(2), ne], [ne, ee + survey_km.powi(2)]];
        let ellipse = dipward_field::Ellipse::of_covariance(both).holding(0.95);
        let way = geodesic::inverse(pole.position, position(latitude, longitude));
        let (sine, cosine) = way.initial_course_deg.to_radians().sin_cos();
        let radius = ellipse.radius_of([way.distance_km * cosine, way.distance_km * sine]);
        println!(
            "{name}: {:.0} km off, {radius:.2} of {:.0} by {:.0} km",
            way.distance_km, ellipse.semi_major_km, ellipse.semi_minor_km
        );
        held += usize::from(radius <= 1.0);
        // A narrow ellipse was not widened to get there: across it the survey's own error rules.
        assert!(ellipse.semi_minor_km < 60.0 && ellipse.semi_major_km < 135.0, "{ellipse:?}");
    }
    assert!(held >= 3, "{held} of 4");
}
