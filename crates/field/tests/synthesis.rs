//! The synthesis against closed forms and against itself.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]
#![expect(clippy::needless_range_loop, reason = "the indices are those of the formulae")]

use std::fmt::Write;

use dipward_field::{GaussModel, doubt, igrf14, read_shc};
use dipward_plugin::{FieldSample, MainField, Provenance, Site};
use proptest::prelude::*;

const A_KM: f64 = 6371.2;

fn sample(model: &dyn MainField, year: f64, site: Site) -> FieldSample {
    let mut out = [FieldSample::default()];
    model.sample(year, &[site], &mut out).unwrap();
    out[0]
}

/// Schmidt semi-normalised P_nm(u) for all degrees and orders, the textbook way.
fn schmidt(degree: usize, u: f64) -> Vec<Vec<f64>> {
    let s = (1.0 - u * u).sqrt();
    let mut p = vec![vec![0.0; degree + 1]; degree + 1];
    p[0][0] = 1.0;
    for n in 1..=degree {
        let nf = n as f64;
        for m in 0..=n {
            let mf = m as f64;
            p[n][m] = if m == n {
                let factor = if n == 1 { 1.0 } else { ((2.0 * nf - 1.0) / (2.0 * nf)).sqrt() };
                factor * s * p[n - 1][n - 1]
            } else {
                let two =
                    if n >= 2 { ((nf - 1.0).powi(2) - mf * mf).sqrt() * p[n - 2][m] } else { 0.0 };
                ((2.0 * nf - 1.0) * u * p[n - 1][m] - two) / (nf * nf - mf * mf).sqrt()
            };
        }
    }
    p
}

/// Sources inside the Earth: strength (nT at one reference radius), place (in reference radii).
/// The strengths add to zero, so that there is no monopole.
fn sources() -> [(f64, [f64; 3]); 3] {
    [(50_000.0, [0.1, 0.2, 0.72]), (-20_000.0, [0.5, -0.55, 0.2]), (-30_000.0, [-0.3, 0.1, -0.7])]
}

/// The Gauss coefficients of the sources, as a file: 1/|x - x'| expands in products of harmonics.
fn file_of_sources(degree: usize) -> String {
    let mut rows = vec![vec![[0.0; 2]; degree + 1]; degree + 1];
    for (strength, [x, y, z]) in sources() {
        let radius = (x * x + y * y + z * z).sqrt();
        let p = schmidt(degree, z / radius);
        let longitude = y.atan2(x);
        for n in 1..=degree {
            for m in 0..=n {
                let value = strength * radius.powi(n as i32) * p[n][m];
                rows[n][m][0] += value * (m as f64 * longitude).cos();
                rows[n][m][1] += value * (m as f64 * longitude).sin();
            }
        }
    }
    let mut text = format!("# point sources\n1 {degree} 1 1 1\n2000.0\n");
    for n in 1..=degree {
        writeln!(text, "{n} 0 {:e}", rows[n][0][0]).unwrap();
        for m in 1..=n {
            writeln!(text, "{n} {m} {:e}\n{n} -{m} {:e}", rows[n][m][0], rows[n][m][1]).unwrap();
        }
    }
    text
}

fn model_of_sources(degree: usize) -> GaussModel {
    let series = read_shc(file_of_sources(degree).as_bytes()).unwrap();
    GaussModel::new(series, Provenance::default(), doubt::IGRF14)
}

/// The field of the sources and its gradient in closed form, in the site's local axes.
fn closed_form(site: Site) -> ([f64; 3], [[f64; 3]; 3]) {
    let (lat, lon) = (site.latitude_deg.to_radians(), site.longitude_deg.to_radians());
    let e2 = 0.006_694_379_990_141_317;
    let across = 6378.137 / (1.0 - e2 * lat.sin().powi(2)).sqrt();
    let out = (across + site.height_km) * lat.cos();
    let place = [
        out * lon.cos() / A_KM,
        out * lon.sin() / A_KM,
        (across * (1.0 - e2) + site.height_km) * lat.sin() / A_KM,
    ];
    let axes = [
        [-lat.sin() * lon.cos(), -lat.sin() * lon.sin(), lat.cos()],
        [-lon.sin(), lon.cos(), 0.0],
        [-lat.cos() * lon.cos(), -lat.cos() * lon.sin(), -lat.sin()],
    ];
    let (mut field, mut gradient) = ([0.0; 3], [[0.0; 3]; 3]);
    for (strength, source) in sources() {
        let d: [f64; 3] = std::array::from_fn(|i| place[i] - source[i]);
        let r2: f64 = d.iter().map(|d| d * d).sum();
        let r = r2.sqrt();
        for i in 0..3 {
            field[i] += strength * d[i] / (r * r2);
            for j in 0..3 {
                let diagonal = if i == j { 1.0 } else { 0.0 };
                gradient[i][j] +=
                    strength * (diagonal / (r * r2) - 3.0 * d[i] * d[j] / (r2 * r2 * r)) / A_KM;
            }
        }
    }
    let along = |v: [f64; 3], axis: usize| (0..3).map(|i| v[i] * axes[axis][i]).sum::<f64>();
    let local = std::array::from_fn(|i| along(field, i));
    let turned: [[f64; 3]; 3] = std::array::from_fn(|i| {
        std::array::from_fn(|k| (0..3).map(|l| axes[i][l] * gradient[l][k]).sum())
    });
    (local, std::array::from_fn(|i| std::array::from_fn(|j| along(turned[i], j))))
}

#[test]
fn degree_133_meets_the_closed_form_of_point_sources_everywhere() {
    let model = model_of_sources(133);
    let snapshot = model.at(2000.0).unwrap();
    let mut sites = Vec::new();
    for latitude_deg in [90.0, 89.999_999, 85.0, 46.0, 0.0, -33.0, -70.0, -89.5, -90.0] {
        for longitude_deg in [0.0, 63.0, 180.0, -77.0] {
            for height_km in [0.0, 3.0, 5000.0] {
                sites.push(Site { latitude_deg, longitude_deg, height_km });
            }
        }
    }
    let mut out = vec![FieldSample::default(); sites.len()];
    snapshot.sample(&sites, &mut out).unwrap();
    for (site, own) in sites.iter().zip(&out) {
        let (field, gradient) = closed_form(*site);
        let vector = [own.vector.north_nt, own.vector.east_nt, own.vector.down_nt];
        for i in 0..3 {
            assert!((vector[i] - field[i]).abs() < 1e-5, "{site:?}: {vector:?} {field:?}");
            for j in 0..3 {
                let off = own.gradient_nt_per_km[i][j] - gradient[i][j];
                assert!(off.abs() < 1e-6, "{site:?} [{i}][{j}]: {off}");
            }
        }
    }
}

#[test]
fn a_batch_gives_the_bits_of_single_calls() {
    let model = igrf14().unwrap();
    let sites: Vec<Site> = (0..23_u32)
        .map(f64::from)
        .map(|at| Site { latitude_deg: 90.0 - 8.0 * at, longitude_deg: 17.0 * at, height_km: at })
        .collect();
    let mut batch = vec![FieldSample::default(); sites.len()];
    model.sample(2026.3, &sites, &mut batch).unwrap();
    for (site, from_batch) in sites.iter().zip(&batch) {
        assert_eq!(sample(&model, 2026.3, *site), *from_batch);
    }
}

#[test]
fn sites_and_years_that_no_field_can_be_given_for_are_refused() {
    let model = igrf14().unwrap();
    let site =
        |latitude_deg, longitude_deg, height_km| Site { latitude_deg, longitude_deg, height_km };
    let told = |year, site| {
        model.sample(year, &[site], &mut [FieldSample::default()]).unwrap_err().to_string()
    };
    assert_eq!(
        told(2030.5, site(0.0, 0.0, 0.0)),
        "IGRF-14, degree 13 answers for the years 1900 to 2030, not for 2030.500"
    );
    assert!(told(f64::NAN, site(0.0, 0.0, 0.0)).contains("NaN"));
    assert!(told(2000.0, site(90.5, 0.0, 0.0)).contains("not a place on Earth"));
    assert!(told(2000.0, site(f64::NAN, 0.0, 0.0)).contains("not a place on Earth"));
    assert!(told(2000.0, site(0.0, f64::INFINITY, 0.0)).contains("not a place on Earth"));
    assert!(told(2000.0, site(0.0, 0.0, -2900.0)).contains("heights"));
    assert!(model.sample(2000.0, &[site(0.0, 0.0, 0.0)], &mut []).is_err());
}

#[test]
fn beyond_its_years_a_model_goes_on_only_when_asked_and_says_so() {
    let model = igrf14().unwrap().extrapolated();
    let site = Site { latitude_deg: 85.0, longitude_deg: 130.0, height_km: 0.0 };
    let at = |year| sample(&model, year, site).vector.north_nt;
    assert!((at(2033.0) - (4.0 * at(2030.0) - 3.0 * at(2029.0))).abs() < 1e-6);
    assert!(model.assumptions().iter().any(|one| one.text.contains("nobody vouches for")));
    assert!(igrf14().unwrap().assumptions().iter().all(|one| !one.text.contains("vouches")));
    assert!(model.sample(2099.0, &[site], &mut [FieldSample::default()]).is_err());
}

fn anywhere() -> impl Strategy<Value = (f64, Site)> {
    let latitude = prop_oneof![-90.0..=90.0, Just(90.0), Just(-90.0), 89.9..=90.0];
    (1900.0..=2030.0, latitude, -180.0..=360.0, -1.0..=2000.0).prop_map(
        |(year, latitude_deg, longitude_deg, height_km)| {
            (year, Site { latitude_deg, longitude_deg, height_km })
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// The field of any place is the gradient's integral: one km up, and one km along the ellipsoid
    /// with the turning of the axes taken off.
    #[test]
    fn gradient_is_the_difference_of_fields((year, site) in anywhere()) {
        let model = igrf14().unwrap();
        let here = sample(&model, year, site);
        let g = here.gradient_nt_per_km;
        for i in 0..3 {
            for j in 0..3 {
                prop_assert_eq!(g[i][j], g[j][i]);
            }
        }
        prop_assert!((g[0][0] + g[1][1] + g[2][2]).abs() < 1e-12);
        let step_km = 0.5;
        let vertical = |km: f64| {
            sample(&model, year, Site { height_km: site.height_km + km, ..site }).vector
        };
        let (up, down) = (vertical(step_km), vertical(-step_km));
        let by_down = [
            down.north_nt - up.north_nt,
            down.east_nt - up.east_nt,
            down.down_nt - up.down_nt,
        ];
        for i in 0..3 {
            prop_assert!((by_down[i] / (2.0 * step_km) - g[i][2]).abs() < 2e-5);
        }
        if site.latitude_deg.abs() < 89.0 {
            let sine = site.latitude_deg.to_radians().sin();
            let w2 = 1.0 - 0.006_694_379_990_141_317 * sine * sine;
            let meridian_km = 6378.137 * (1.0 - 0.006_694_379_990_141_317) / w2.powf(1.5) + site.height_km;
            let along = |km: f64| {
                let latitude_deg = site.latitude_deg + (km / meridian_km).to_degrees();
                sample(&model, year, Site { latitude_deg, ..site }).vector
            };
            let (far, near) = (along(step_km), along(-step_km));
            let north = (far.north_nt - near.north_nt) / (2.0 * step_km) - here.vector.down_nt / meridian_km;
            let east = (far.east_nt - near.east_nt) / (2.0 * step_km);
            prop_assert!((north - g[0][0]).abs() < 2e-5, "{} {}", north, g[0][0]);
            prop_assert!((east - g[1][0]).abs() < 2e-5);
        }
    }

    /// No file of coefficients makes a reader panic.
    #[test]
    fn garbage_is_refused_and_never_panics(
        bytes in prop::collection::vec(any::<u8>(), 0..200),
        cut in 0_usize..42_000,
        text in "[0-9 .\\-\n#eN]{0,200}",
    ) {
        let whole = include_bytes!("../data/IGRF14.shc");
        prop_assert!(read_shc(&whole[..cut]).is_err());
        let mut changed = whole.to_vec();
        for (at, byte) in bytes.iter().enumerate() {
            let at = (cut + 97 * at) % changed.len();
            changed[at] = *byte;
        }
        let _ = read_shc(&changed);
        let _ = read_shc(&bytes);
        let _ = read_shc(text.as_bytes());
        let _ = dipward_field::read_cof(text.as_bytes());
        let _ = dipward_field::read_cof(&bytes);
    }
}
