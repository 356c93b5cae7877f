//! From the keys to the ship: the checks between them, and what they take for granted.

use dipward_geodesy::Hemisphere;
use dipward_plugin::{Assumption, BuildContext, Craft, CraftPoint, Fault, Faults, Spec};

use super::{
    CautiousIce, ChannelForm, Fuel, Icebreaker, IcebreakerSpec, M_S_PER_KN, SpecialConsideration,
    ThicknessRule, UnknownDepth, UnknownIce, cells::SeasonalRisk, weather,
};
use crate::{
    ChannelHull, HeavyFuelBan, IceAge, IceSeason, Kwon, MinimumPower, Oil, Propulsion, RiskValues,
    Screw, bollard_pull_n,
};
use jiff::tz::Offset;

impl Spec for IcebreakerSpec {
    type Point = CraftPoint;
    const KIND: &'static str = "icebreaker";
    const SUMMARY: &'static str =
        "a ship by ice class (POLARIS), level-ice resistance, net thrust and the cube law";
    const EXAMPLE: &'static str = "\
kind: icebreaker
name: an invented research icebreaker
ice_class: pc3
hull:
  length_m: 120
  beam_m: 24
  draught_m: 8.5
  stem_angle_deg: 26
  waterline_angle_deg: 28
  parallel_midbody_m: 48
  bow_length_m: 34
machinery:
  propulsion_kw: 16000
  propellers: {number: 2, diameter_m: 4.8}
  open_water_speed_kn: 16.5
  hotel_kw: 1800
  specific_consumption_g_per_kwh: 200
fuel:
  kind: marine_gas_oil
  density_kg_m3: 885
  capacity_t: 3200
  reserve: {fraction: 0.2, besetment_days: 7}
power_settings: [1.0, 0.7, 0.45]
under_keel_clearance_m: 10
unknown_ice: cautious
cautious_ice: {concentration: 0.9, stage: thick_first_year, thickness_m: 1.2}
ice:
  resistance: riska
  equivalent_thickness: {rule: proportional, ridging_factor: 1.2, free_concentration: 0.4}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Craft>, Faults> {
        let mut faults = Faults::default();
        let (hull, machinery) = (&self.hull, &self.machinery);
        if hull.parallel_midbody_m + hull.bow_length_m > hull.length_m {
            faults.push(Fault::at("/hull", "midbody and bow are longer than the ship"));
        }
        if hull.beam_m >= hull.length_m {
            faults.push(Fault::at("/hull/beam_m", "the ship is broader than it is long"));
        }
        let propellers = &machinery.propellers;
        if propellers.diameter_m > hull.draught_m {
            faults.push(Fault::at(
                "/machinery/propellers/diameter_m",
                format!("the propeller is greater than the draught of {} m", hull.draught_m),
            ));
        }
        if self.power_settings.is_empty() {
            faults.push(Fault::at("/power_settings", "at least one power setting is needed"));
        }
        if self.power_settings.windows(2).any(|pair| pair[0] <= pair[1]) {
            faults.push(Fault::at("/power_settings", "the settings must fall, the greatest first"));
        }
        if let Err(error) = self.ice.resistance.check(hull, &self.ice.strength) {
            faults.push(
                Fault::at("/ice/resistance", error.to_string()).help("`riska` takes this hull"),
            );
        }
        if let Some(form) = &self.ice.channel
            && let Err(fault) = self.check_channel(form)
        {
            faults.push(fault);
        }
        if machinery.service_kn() > machinery.open_water_speed_kn {
            faults.push(
                Fault::at(
                    "/machinery/service_speed_kn",
                    format!(
                        "the ship cannot be sailed faster than the {} kn of her full power",
                        machinery.open_water_speed_kn
                    ),
                )
                .help("state a service speed of `open_water_speed_kn` or less"),
            );
        }
        for (key, stated) in [
            ("density_kg_m3", self.fuel.density_kg_m3),
            ("viscosity_mm2_s", self.fuel.viscosity_mm2_s),
        ] {
            if stated.is_some() && self.fuel.oil().is_none() {
                faults.push(
                    Fault::at(
                        format!("/fuel/{key}"),
                        "the fuel is no oil, and the bans on heavy oil do not ask this of it",
                    )
                    .help("leave it out, or state the `kind` of the oil"),
                );
            }
        }
        let stores = self.stores();
        if stores.reserve_t >= stores.capacity_t {
            faults.push(Fault::at(
                "/fuel",
                format!(
                    "the reserve of {:.0} t is not less than the usable {:.0} t",
                    stores.reserve_t, stores.capacity_t
                ),
            ));
        }
        let risk = self.risk_values(context).map_err(|fault| faults.push(fault));
        let propulsion = bollard_pull_n(
            propellers.kind,
            propellers.number,
            machinery.propulsion_kw,
            propellers.diameter_m,
        )
        .and_then(|pull_n| Propulsion::new(pull_n, machinery.open_water_speed_kn * M_S_PER_KN))
        .map_err(|error| faults.push(Fault::at("/machinery", error.to_string())));
        let kwon = self
            .weather
            .loss
            .map(|loss| loss.kwon(hull))
            .transpose()
            .map_err(|error| faults.push(Fault::at("/weather/loss", error.to_string())));
        match (risk, propulsion, kwon) {
            (Ok(risk), Ok(propulsion), Ok(kwon)) if faults.is_empty() => {
                let ban = self.heavy_fuel_ban(context);
                Ok(Box::new(Icebreaker::new(self, risk, propulsion, kwon, ban)))
            }
            _ => Err(faults),
        }
    }
}

impl IcebreakerSpec {
    /// The heavy-fuel ban that the fuel comes under in the polar waters when the window ends, if any.
    fn heavy_fuel_ban(&self, context: &BuildContext) -> Option<HeavyFuelBan> {
        self.fuel.oil().filter(Oil::is_heavy)?;
        let end = context.clock().instant(context.window_hours());
        let south = context.hemisphere() == Hemisphere::South;
        let day = Offset::UTC.to_datetime(end).date();
        HeavyFuelBan::on(south, day, self.fuel.protected_tanks)
    }

    /// Holds the power against the least that the ice class rules ask.
    fn check_channel(&self, form: &ChannelForm) -> Result<(), Fault> {
        let (hull, propellers) = (&self.hull, &self.machinery.propellers);
        let measured = ChannelHull {
            length_m: hull.length_m,
            beam_m: hull.beam_m,
            draught_m: hull.draught_m,
            bow_length_m: hull.bow_length_m,
            parallel_midbody_m: hull.parallel_midbody_m,
            bow_waterplane_m2: form.bow_waterplane_m2,
            waterline_angle_deg: hull.waterline_angle_deg,
            stem_angle_deg: hull.stem_angle_deg,
            bow_rake_deg: form.bow_rake_deg,
        };
        let screw = Screw {
            propellers: propellers.number,
            kind: propellers.kind,
            diameter_m: propellers.diameter_m,
        };
        let least = MinimumPower::of(self.ice_class, &measured, &screw).map_err(|error| {
            Fault::at("/ice/channel", error.to_string())
                .help("leave `channel` out where the Finnish-Swedish rules do not apply")
        })?;
        let own_kw = self.machinery.propulsion_kw;
        if own_kw < least.required_kw {
            return Err(Fault::at(
                "/machinery/propulsion_kw",
                format!(
                    "{own_kw:.0} kW is less than the {:.0} kW that the Finnish-Swedish rules ask of \
                     this hull for {}",
                    least.required_kw, self.ice_class
                ),
            )
            .help("state a lower `ice_class`, or more power"));
        }
        Ok(())
    }

    fn risk_values(&self, context: &BuildContext) -> Result<SeasonalRisk, Fault> {
        let normal = RiskValues::normal(self.ice_class);
        let Some(path) = &self.ice.decayed_values else {
            return Ok(SeasonalRisk::new(normal, None));
        };
        let fault = |text: String| Fault::at("/ice/decayed_values", text);
        let bytes = context.read(path).map_err(|error| fault(error.to_string()))?;
        let text = String::from_utf8(bytes)
            .map_err(|_| fault(format!("{}: not UTF-8 text", path.display())))?;
        let decayed = RiskValues::decayed(&text, self.ice_class)
            .map_err(|error| fault(format!("{}: {error}", path.display())))?;
        Ok(SeasonalRisk::new(normal, Some(decayed)))
    }
}

/// Why the fuel counts as heavy, where it does.
fn heavy_fuel_words(fuel: &Fuel) -> Option<String> {
    let oil = fuel.oil().filter(Oil::is_heavy)?;
    let told = |stated: Option<f64>| if stated.is_some() { "as stated" } else { "by its grades" };
    Some(format!(
        "the fuel counts as heavy oil, for which MARPOL Annex I regulations 43 and 43A take what is \
         over {} kg/m3 at 15 C or over {} mm2/s at 50 C: {} kg/m3 {}, {} mm2/s {}; the warnings along \
         the way tell where and when it is banned",
        Oil::LIGHT_KG_M3,
        Oil::LIGHT_MM2_S,
        oil.density_kg_m3,
        told(fuel.density_kg_m3),
        oil.viscosity_mm2_s,
        told(fuel.viscosity_mm2_s),
    ))
}

/// What a ship takes for granted, in sentences for the report.
pub(super) fn assumptions(
    spec: &IcebreakerSpec,
    kwon: Option<Kwon>,
    heavy_fuel_ban: Option<HeavyFuelBan>,
) -> Vec<Assumption> {
    let rules = &spec.ice;
    let equivalent = &rules.equivalent_thickness;
    let mut texts = vec![
        "POLARIS limits, elevated-risk speeds and the escort allowance are from memory of \
         MSC.1/Circ.1519; POLARIS is decision support, not a go or no-go tool"
            .to_owned(),
        "speed in ice is that of level ice of the equivalent thickness: the coefficients of the \
         resistance formula are from memory, and ridges, pressure and ramming are not modelled"
            .to_owned(),
        format!(
            "equivalent thickness is {} times {}, and below {:.0} % concentration speed is blended \
             with that in open water",
            match equivalent.rule {
                ThicknessRule::Proportional => "thickness times concentration",
                ThicknessRule::Full => "thickness",
            },
            equivalent.ridging_factor,
            100.0 * equivalent.free_concentration
        ),
        format!("continuous progress below {} kn is counted as beset", rules.least_speed_kn),
        "power in open water goes with the cube of speed".to_owned(),
        match spec.unknown_ice {
            UnknownIce::Refuse => "cells without ice information are closed".to_owned(),
            UnknownIce::Pass => "cells without ice information are taken for open water".to_owned(),
            UnknownIce::Cautious => format!(
                "cells without ice information are taken for {:.0} % {}",
                100.0 * spec.cautious_ice.concentration,
                stand_in(&spec.cautious_ice)
            ),
        },
        format!(
            "ice without a stage of development is taken by its thickness for {}{}, and without a \
             thickness {}",
            spec.ice_age,
            match spec.ice_age {
                IceAge::Unknown => ", for `ice_age` is not stated",
                _ => ", as `ice_age` states",
            },
            match spec.unknown_ice {
                UnknownIce::Refuse => "it is unknown".to_owned(),
                _ => format!("for {}", stand_in(&spec.cautious_ice)),
            }
        ),
        spec.land_ice.assumption(),
    ];
    if spec.unknown_depth == UnknownDepth::Pass {
        texts.push("cells without a depth are taken for deep".to_owned());
    }
    if rules.escorted {
        texts.push("the ship is escorted: 10 is added to the risk index outcome".to_owned());
    }
    if rules.special_consideration != SpecialConsideration::Close {
        texts.push(
            "ice that calls for special consideration is entered: the company and the master \
             must have considered it"
                .to_owned(),
        );
    }
    if rules.decayed_values.is_some() {
        texts.push(format!(
            "risk index values for decayed ice are the user's own and unverified; they are taken where \
             the chart's `ice_melting` says that ice melts, and elsewhere {}",
            match rules.season {
                IceSeason::Melting => "too, as `season: melting` states",
                IceSeason::Cold => "not, as `season: cold` states",
                IceSeason::Unknown => "not, for `season` does not state it",
            }
        ));
    }
    texts.extend(heavy_fuel_words(&spec.fuel));
    texts.extend(heavy_fuel_ban.map(|ban| format!("caution: {ban}")));
    texts.extend(weather::assumptions(spec, kwon));
    texts.extend(rules.resistance.cautions(&spec.hull));
    texts.into_iter().map(|text| Assumption::new("craft", text)).collect()
}

/// "thick first-year ice of 1.2 m".
fn stand_in(ice: &CautiousIce) -> String {
    format!("{} of {} m", ice.stage, ice.thickness_m)
}
