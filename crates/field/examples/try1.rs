use dipward_field::*;
use dipward_geodesy::{Hemisphere::*, geodesic};
fn main() {
    let m = igrf14().unwrap();
    let p = |y| dip_pole(&m, North, y, 0.0).unwrap().position;
    for (a, b) in [
        (2019.0, 2020.0),
        (2020.0, 2021.0),
        (2019.5, 2020.5),
        (2024.5, 2025.5),
        (2025.0, 2026.0),
        (2024.0, 2025.0),
    ] {
        println!("{a} {b} {}", geodesic::distance_km(p(a), p(b)) / (b - a));
    }
    for y in [2020.0, 2025.0, 2030.0] {
        println!("{:?}", dip_pole(&m, North, y, 0.0));
    }
    println!("{:?}", dip_pole(&m, North, 2027.0, 0.0).unwrap().sigma_ellipse());
    println!("{:?}", dip_pole(&m, South, 2027.0, 0.0).unwrap().sigma_ellipse());
}
