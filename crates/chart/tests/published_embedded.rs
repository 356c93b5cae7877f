//! The embedded coast, shelves, depths and heights against published numbers and their own sources.
#![expect(clippy::unwrap_used, clippy::expect_used, reason = "a failed unwrap here is the report")]

use dipward_chart::embedded::coast::{self, Cover, cover_at};
use dipward_chart::embedded::depth;
use dipward_geodesy::{Ellipsoid, Hemisphere, Position, geodesic, position};
use geo::{Area, BooleanOps, Contains, MapCoords, MultiPolygon, Point, Polygon};

/// Latitude, longitude, what is there, and its name. The places are common knowledge of any atlas
/// (from memory, to a tenth of a degree or better, and well clear of a shore).
const PLACES: [(f64, f64, Cover, &str); 45] = [
    (-80.0, 180.0, Cover::IceShelf, "Ross Ice Shelf"),
    (-80.0, -179.99, Cover::IceShelf, "Ross Ice Shelf, east of the antimeridian"),
    (-78.5, -60.0, Cover::IceShelf, "Ronne Ice Shelf"),
    (-79.5, -40.0, Cover::IceShelf, "Filchner Ice Shelf"),
    (-70.5, 71.0, Cover::IceShelf, "Amery Ice Shelf"),
    (-67.5, -62.0, Cover::IceShelf, "Larsen C Ice Shelf"),
    (-66.0, 98.0, Cover::IceShelf, "Shackleton Ice Shelf"),
    (-67.0, 85.0, Cover::IceShelf, "West Ice Shelf"),
    (-74.5, -125.0, Cover::IceShelf, "Getz Ice Shelf"),
    (-70.7, 0.0, Cover::IceShelf, "Fimbul Ice Shelf"),
    (-75.3, -25.5, Cover::IceShelf, "Brunt Ice Shelf"),
    (-73.0, -15.0, Cover::IceShelf, "Riiser-Larsen Ice Shelf"),
    (-71.0, -68.0, Cover::IceShelf, "George VI Ice Shelf"),
    (-72.9, -96.0, Cover::IceShelf, "Abbot Ice Shelf"),
    (-75.0, -101.0, Cover::IceShelf, "Pine Island Glacier"),
    (-77.95, 167.0, Cover::IceShelf, "McMurdo Ice Shelf"),
    (-76.0, 180.0, Cover::Sea, "Ross Sea"),
    (-77.0, -170.0, Cover::Sea, "Ross Sea north of the Bay of Whales"),
    (-74.0, -50.0, Cover::Sea, "Weddell Sea off the Ronne Ice Shelf"),
    (-68.0, 75.0, Cover::Sea, "Prydz Bay"),
    (-67.5, -58.0, Cover::Sea, "Weddell Sea off Larsen C"),
    (-64.5, 98.0, Cover::Sea, "north of the Shackleton Ice Shelf"),
    (-69.0, 0.0, Cover::Sea, "north of the Fimbul Ice Shelf"),
    (-65.0, 137.0, Cover::Sea, "off Adelie Land"),
    (-63.8, 135.0, Cover::Sea, "the south magnetic dip pole of the 2020s"),
    (-57.0, -65.0, Cover::Sea, "Drake Passage"),
    (-53.5, -70.5, Cover::Sea, "Strait of Magellan, Paso Ancho"),
    (-90.0, 0.0, Cover::Land, "South Pole"),
    (-78.46, 106.84, Cover::Land, "Vostok"),
    (-75.1, 123.35, Cover::Land, "Dome C"),
    (-68.0, 140.0, Cover::Land, "Adelie Land"),
    (-79.5, -48.0, Cover::Land, "Berkner Island"),
    (-42.0, 146.5, Cover::Land, "Tasmania"),
    (-43.5, 171.5, Cover::Land, "South Island of New Zealand"),
    (-49.3, 69.5, Cover::Land, "Kerguelen"),
    (90.0, 0.0, Cover::Sea, "North Pole"),
    (86.0, 150.0, Cover::Sea, "the north dip pole of the 2020s"),
    (75.0, 0.0, Cover::Sea, "Greenland Sea"),
    (66.0, -169.0, Cover::Sea, "Bering Strait"),
    (60.0, -86.0, Cover::Sea, "Hudson Bay"),
    (72.58, -38.46, Cover::Land, "Summit, Greenland"),
    (80.0, -75.0, Cover::Land, "Ellesmere Island"),
    (71.2, 180.0, Cover::Land, "Wrangel Island, on the antimeridian"),
    (67.0, 179.99, Cover::Land, "Chukotka, west of the antimeridian"),
    (67.0, -179.99, Cover::Land, "Chukotka, east of the antimeridian"),
];

#[test]
fn published_places_have_their_cover() {
    for (latitude_deg, longitude_deg, cover, name) in PLACES {
        let found = cover_at(position(latitude_deg, longitude_deg)).unwrap();
        assert_eq!(found, Some(cover), "{name}");
    }
}

/// Harbours and stations that ships call at (from memory, to a minute or two of arc).
const HARBOURS: [(f64, f64, &str); 16] = [
    (-77.85, 166.65, "McMurdo"),
    (-42.88, 147.34, "Hobart"),
    (-54.81, -68.30, "Ushuaia"),
    (-53.16, -70.90, "Punta Arenas"),
    (-43.61, 172.72, "Lyttelton"),
    (-46.60, 168.34, "Bluff"),
    (-66.66, 140.00, "Dumont d'Urville"),
    (-66.28, 110.53, "Casey"),
    (-68.58, 77.97, "Davis"),
    (-67.57, -68.13, "Rothera"),
    (78.22, 15.65, "Longyearbyen"),
    (69.65, 18.96, "Tromso"),
    (64.17, -51.74, "Nuuk"),
    (71.29, -156.79, "Utqiagvik (Barrow)"),
    (74.69, -94.87, "Resolute"),
    (68.97, 33.06, "Murmansk"),
];

#[test]
fn published_harbours_are_within_15_km_of_the_sea() {
    for (latitude_deg, longitude_deg, name) in HARBOURS {
        let harbour = position(latitude_deg, longitude_deg);
        let mut rings =
            (0..=15).flat_map(|km| (0..16).map(move |point| (f64::from(km), f64::from(point))));
        let reached = rings.any(|(distance_km, point)| {
            let place = geodesic::direct(harbour, point * 22.5, distance_km).position;
            cover_at(place).unwrap() == Some(Cover::Sea)
        });
        assert!(reached, "{name}");
    }
}

/// Area on the ellipsoid, km2, by Lambert's azimuthal equal-area projection on the authalic sphere
/// (Snyder 1987, USGS Professional Paper 1395, eq. 3-11, 3-12 and 24-23). Edges are short enough
/// to be taken as straight on either plane.
fn area_km2(polygons: &MultiPolygon<f64>, hemisphere: Hemisphere) -> f64 {
    let plane = coast::projection(hemisphere).unwrap();
    let eccentricity = Ellipsoid::WGS84.eccentricity_squared().sqrt();
    let q = |sine: f64| {
        let x = eccentricity * sine;
        (1.0 - eccentricity * eccentricity) * (sine / (1.0 - x * x) + x.atanh() / eccentricity)
    };
    let radius_km = Ellipsoid::WGS84.semi_major_m / 1e3;
    let equal_area = polygons.map_coords(|coord| {
        let place = plane.inverse(coord);
        let rho_km = radius_km * (q(1.0) - q(place.y().to_radians().sin().abs())).max(0.0).sqrt();
        let (sine, cosine) = place.x().to_radians().sin_cos();
        geo::Coord { x: rho_km * sine, y: rho_km * cosine }
    });
    equal_area.unsigned_area()
}

fn island_about(latitude_deg: f64, longitude_deg: f64) -> (MultiPolygon<f64>, Hemisphere) {
    let hemisphere = if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North };
    let place =
        coast::projection(hemisphere).unwrap().forward(position(latitude_deg, longitude_deg));
    let land = coast::land(hemisphere).unwrap();
    let island = land.iter().find(|part| part.contains(&place)).expect("land is there");
    (MultiPolygon::new(vec![island.clone()]), hemisphere)
}

#[test]
fn published_areas_of_islands() {
    // Square kilometres, of the main island, from memory of the usual reference works. Natural Earth
    // has the coast without its skerries and smaller fjords: within 3 per cent.
    for (latitude_deg, longitude_deg, published_km2, name) in [
        (72.0, -40.0, 2_130_800.0, "Greenland"),
        (78.5, 16.5, 37_673.0, "Spitsbergen"),
        (65.0, -18.0, 101_826.0, "Iceland"),
        (-42.0, 146.5, 64_519.0, "Tasmania"),
        (80.0, -75.0, 196_236.0, "Ellesmere Island"),
    ] {
        let (island, hemisphere) = island_about(latitude_deg, longitude_deg);
        let off = area_km2(&island, hemisphere) / published_km2 - 1.0;
        assert!(off.abs() < 0.03, "{name} is {off:+.3} off");
    }
}

#[test]
fn published_area_of_antarctica() {
    // 13.924 million km2 with shelves and islands: Fretwell et al. 2013, The Cryosphere 7, 375, table 3.
    // Shelves 1.561 million km2: Rignot et al. 2013, Science 341, 266 (both from memory).
    let plane = coast::projection(Hemisphere::South).unwrap();
    let ring = (0..720).map(|half| plane.forward(position(-60.0, f64::from(half) / 2.0)));
    let south_of_60 = Polygon::new(ring.collect(), vec![]);
    let land = coast::land(Hemisphere::South).unwrap();
    let land = MultiPolygon::new(
        land.iter().filter(|part| south_of_60.contains(&part.exterior().0[0])).cloned().collect(),
    );
    let shelves = coast::ice_shelves().unwrap();
    let shelves = area_km2(&shelves.difference(&land), Hemisphere::South);
    let all = shelves + area_km2(&land, Hemisphere::South);
    assert!((all / 13.924e6 - 1.0).abs() < 0.01, "Antarctica is {all:.0} km2");
    assert!((shelves / 1.561e6 - 1.0).abs() < 0.01, "shelves are {shelves:.0} km2");
}

fn rows(csv: &str) -> impl Iterator<Item = (Position, Vec<&str>)> {
    csv.lines().skip(1).map(|line| {
        let fields: Vec<_> = line.split(',').collect();
        (position(fields[0].parse().unwrap(), fields[1].parse().unwrap()), fields[2..].to_vec())
    })
}

#[test]
fn published_coast_is_followed_clear_of_the_shore() {
    // Natural Earth itself, neither simplified nor rounded, at random places 1.2 km or more from any
    // shore: tests/fixtures/make_embedded_samples.py.
    for (place, fields) in rows(include_str!("fixtures/embedded_cover.csv")) {
        let cover = match fields[0] {
            "land" => Cover::Land,
            "ice_shelf" => Cover::IceShelf,
            _ => Cover::Sea,
        };
        assert_eq!(cover_at(place).unwrap(), Some(cover), "{place:?}");
    }
}

#[test]
fn published_relief_is_followed() {
    // ETOPO1 and ETOPO5 themselves at random places: tests/fixtures/make_embedded_samples.py.
    let (mut rock, mut ice) = (Vec::new(), Vec::new());
    for (place, fields) in rows(include_str!("fixtures/embedded_elevation.csv")) {
        let true_m: f32 = fields[0].parse().unwrap();
        let error_m = (depth::elevation_m(place).unwrap().unwrap() - true_m).abs();
        rock.push(error_m / (1.0 + 0.005 * true_m.abs()));
        match fields[1].parse::<f32>() {
            Ok(true_m) => {
                ice.push((depth::surface_height_m(place).unwrap().unwrap() - true_m).abs());
            }
            Err(_) => assert_eq!(depth::surface_height_m(place).unwrap(), None, "{place:?}"),
        }
    }
    for errors in [&mut rock, &mut ice] {
        errors.sort_by(f32::total_cmp);
    }
    let percentile = |errors: &[f32], percent: usize| errors[errors.len() * percent / 100];
    assert!(percentile(&rock, 50) < 0.5, "median {}", percentile(&rock, 50));
    assert!(percentile(&rock, 95) < 3.0, "95 per cent {}", percentile(&rock, 95));
    assert!(percentile(&ice, 50) < 6.0, "median {}", percentile(&ice, 50));
    assert!(percentile(&ice, 95) < 50.0, "95 per cent {}", percentile(&ice, 95));
}

#[test]
fn published_heights_of_the_ice_sheets() {
    // Surveyed heights (from memory), against a compilation of the 1980s: within 250 m.
    for (latitude_deg, longitude_deg, published_m, name) in [
        (-90.0, 0.0, 2835.0, "South Pole"),
        (-78.46, 106.84, 3488.0, "Vostok"),
        (-75.1, 123.35, 3233.0, "Dome C"),
        (-80.37, 77.37, 4093.0, "Dome A"),
        (72.58, -38.46, 3216.0, "Summit, Greenland"),
        (-65.0, 136.0, 0.0, "sea off Adelie Land"),
        (90.0, 0.0, 0.0, "North Pole"),
    ] {
        let height_m =
            depth::surface_height_m(position(latitude_deg, longitude_deg)).unwrap().unwrap();
        assert!((height_m - published_m).abs() < 250.0, "{name} at {height_m} m");
    }
    // The ice rests on rock that lies far below: at the South Pole within 200 m of the sea's surface.
    let rock_m = depth::elevation_m(position(-90.0, 0.0)).unwrap().unwrap();
    assert!(rock_m.abs() < 200.0, "{rock_m} m");
}

#[test]
fn published_depths() {
    // Echo-sounded depths (from memory), against cells of some 10 km: within the given part of it.
    for (latitude_deg, longitude_deg, published_m, part, name) in [
        (90.0, 0.0, -4261.0, 0.02, "North Pole"),
        (-76.0, 180.0, -500.0, 0.3, "Ross Sea"),
        (79.13, 2.8, -5550.0, 0.15, "Molloy Deep"),
        (-58.0, -63.0, -3800.0, 0.15, "Drake Passage"),
        (60.0, -86.0, -180.0, 0.3, "Hudson Bay"),
        (72.0, 40.0, -330.0, 0.3, "Barents Sea"),
    ] {
        let depth_m = depth::elevation_m(position(latitude_deg, longitude_deg)).unwrap().unwrap();
        assert!((depth_m / published_m - 1.0).abs() < part, "{name} at {depth_m} m");
    }
}

#[test]
fn published_disagreement_off_adelie_land() {
    // ETOPO1 has 319 m at 65 S 136 E and 51 m at 66 S; ETOPO5 has 672 and 302 m.
    let at = |latitude_deg| {
        let place = position(latitude_deg, 136.0);
        (depth::elevation_m(place).unwrap().unwrap(), depth::doubt(place).unwrap().unwrap())
    };
    let (off_m, off_doubt) = at(-65.0);
    let (shelf_m, shelf_doubt) = at(-66.0);
    assert!((off_m + 319.0).abs() < 2.0 && (shelf_m + 51.0).abs() < 2.0, "{off_m} {shelf_m}");
    assert!((1.8..4.0).contains(&off_doubt), "{off_doubt}");
    assert!((3.0..100.0).contains(&shelf_doubt), "{shelf_doubt}");
    // In the well-sounded deep water south of Tasmania the two agree.
    let deep = depth::doubt(position(-48.0, 142.0)).unwrap().unwrap();
    assert!(deep < 1.2, "{deep}");
    assert_eq!(depth::doubt(position(65.0, 100.0)).unwrap(), None, "Siberia has no depth");
}

#[test]
fn many_positions_are_answered_as_each_alone() {
    let places: Vec<_> = (0..2000)
        .map(|i| Point::new(f64::from(i) * 0.731 - 700.0, f64::from(i) * 0.0923 - 92.0))
        .collect();
    let mut out = vec![0.0; places.len()];
    let same = |out: &[f32], one: fn(Position) -> Result<Option<f32>, dipward_plugin::Error>| {
        for (value, place) in out.iter().zip(&places) {
            let alone = one(*place).unwrap();
            assert_eq!(alone, (!value.is_nan()).then_some(*value), "{place:?}");
        }
    };
    depth::fill_elevations_m(&places, &mut out).unwrap();
    same(&out, depth::elevation_m);
    depth::fill_doubts(&places, &mut out).unwrap();
    same(&out, depth::doubt);
    depth::fill_surface_heights_m(&places, &mut out).unwrap();
    same(&out, depth::surface_height_m);
    assert!(depth::fill_elevations_m(&places, &mut out[1..]).is_err());
}

#[test]
fn polygons_are_simple_rings_the_right_way_round() {
    use geo::{
        Validation,
        orient::{Direction, Orient},
    };
    let all = [
        coast::land(Hemisphere::North).unwrap(),
        coast::land(Hemisphere::South).unwrap(),
        coast::ice_shelves().unwrap(),
    ];
    for polygons in all {
        // The check compares all edges with all others, so the continents are left to the script that
        // made them, which refuses to store an invalid polygon.
        let mut small = polygons.iter().filter(|polygon| polygon.exterior().0.len() < 1000);
        assert!(small.all(Validation::is_valid));
        assert_eq!(&polygons.orient(Direction::Default), polygons);
        let areas: Vec<_> = polygons.iter().map(Area::unsigned_area).collect();
        assert!(areas.is_sorted_by(|a, b| a >= b));
    }
}
