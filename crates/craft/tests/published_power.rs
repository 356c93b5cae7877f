//! Published and recomputed values for power and fuel; the words as in `published_ice.rs`.

use dipward_craft::{
    AdmiraltyConstant, FuelKind, LoadCurve, economical_speed_kn, specific_consumption_g_per_kwh,
};

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want} within {tolerance}");
}

/// The Admiralty formula on an invented ship: 12,000 t, 14 kn, 5,000 kW; recomputed.
#[test]
fn published_admiralty_example_recomputed() {
    let ship = AdmiraltyConstant::of(12_000.0, 14.0, 5_000.0).unwrap();
    near(ship.value(), 287.7, 0.1);
    let power_kw = ship.power_kw(12_000.0, 12.0);
    near(power_kw, 3148.7, 0.1);
    let consumption = specific_consumption_g_per_kwh(190.0, LoadCurve::Constant, 0.6);
    near(power_kw * 24.0 * consumption / 1.0e6, 14.36, 0.005);
}

/// The speed of least fuel a mile, by calculus: at `P = P0 + k v^3` the hotel load is twice the
/// propulsion load.
#[test]
fn published_economical_speed_by_calculus() {
    let (hotel_kw, k) = (1000.0, 4.0);
    let speed_kn = economical_speed_kn(hotel_kw, k).unwrap();
    near(speed_kn, 5.0, 1e-12);
    near(hotel_kw, 2.0 * k * speed_kn.powi(3), 1e-9);
    assert_eq!(economical_speed_kn(0.0, k).unwrap(), 0.0);
    assert!(economical_speed_kn(-1.0, k).is_err());
    assert!(economical_speed_kn(1.0, f64::NAN).is_err());
}

/// MEPC.282(70) appendix 2, seen in an open copy: 100 t of gas oil make 320.6 t of carbon dioxide.
#[test]
fn published_carbon_factors() {
    for (fuel, factor) in [
        (FuelKind::MarineGasOil, 3.206),
        (FuelKind::LightFuelOil, 3.151),
        (FuelKind::HeavyFuelOil, 3.114),
        (FuelKind::Propane, 3.000),
        (FuelKind::Butane, 3.030),
        (FuelKind::LiquefiedNaturalGas, 2.750),
        (FuelKind::Methanol, 1.375),
        (FuelKind::Ethanol, 1.913),
    ] {
        assert_eq!(fuel.carbon_factor(), factor);
    }
    near(100.0 * FuelKind::MarineGasOil.carbon_factor(), 320.6, 1e-9);
}

/// The load correction of the Fourth IMO Greenhouse Gas Study, from memory: least at a load of
/// 0.78, where it is 1.003.
#[test]
fn published_load_correction_from_memory() {
    let at = |load| specific_consumption_g_per_kwh(1.0, LoadCurve::SingleEngine, load);
    near(at(0.78), 1.003, 0.0005);
    for load in [0.0, 0.2, 0.5, 0.7, 0.86, 1.0] {
        assert!(at(load) > at(0.78));
    }
    assert_eq!(at(7.0), at(1.0));
}
