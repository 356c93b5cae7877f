use std::sync::Arc;

use dipward_plugin::{
    Alternative, Assumption, BuildContext, Control, DisturbanceRequest, Error, ExternalField,
    Fault, Faults, KpSeries, Provenance, Response, ResponsePoint, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    Refit,
    hours::{HourLaw, MagneticHour},
    law::LearntLaw,
    motion::Motion,
    site::SiteDraw,
};
use crate::{
    GaussModel, igrf14,
    path_answers::{MagneticTrail, PathAnswers},
    streams::{Draw, stream},
};

/// Response learnt from half a century of recorded hours at polar-cap observatories.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct LearntSpec {
    /// Which stations it is fitted to: all, or all but one, to see how much hangs on each.
    pub fitted: Refit,
}

impl Spec for LearntSpec {
    type Point = ResponsePoint;
    const KIND: &'static str = "learnt";
    const SUMMARY: &'static str = "learnt from recorded hours of polar-cap observatories";
    const EXAMPLE: &'static str = "{kind: learnt, fitted: without_drv}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Response>, Faults> {
        let learnt = Learnt::new(self.fitted);
        Ok(Box::new(learnt.map_err(|error| Fault::at("", error.to_string()))?))
    }
}

/// The learnt response of a fit.
pub(crate) fn response(fitted: Refit) -> Result<Arc<dyn Response>, Error> {
    Ok(Arc::new(Learnt::new(fitted)?))
}

impl Learnt {
    fn new(fitted: Refit) -> Result<Self, Error> {
        let main = igrf14().map_err(|error| Error::Unsolved(error.to_string()))?;
        Ok(Self { law: LearntLaw::embedded(fitted), main, hours: PathAnswers::default() })
    }
}

#[derive(Debug)]
struct Learnt {
    law: &'static LearntLaw,
    main: GaussModel,
    hours: PathAnswers<HourLaw>,
}

/// The law at each hour of a request.
pub(crate) fn laws_along(
    law: &LearntLaw,
    main: &GaussModel,
    request: &DisturbanceRequest<'_>,
    control: &Control,
) -> Result<Vec<HourLaw>, Error> {
    let mut trail = MagneticTrail::new(main);
    request
        .hours
        .iter()
        .zip(request.mean_pole)
        .map(|(&hour, pole)| {
            let instant = request.clock.instant(hour);
            let place = trail.at(request.clock.decimal_year(hour), *pole, control)?;
            let (latitude_deg, local_time_h) = place.magnetic_hour(instant);
            let magnetic = MagneticHour { latitude_deg, local_time_h };
            Ok(HourLaw::at(law, pole.y(), pole.x(), magnetic, instant))
        })
        .collect()
}

/// Fills a member's field: the mean and the scatter of the law, hour by hour; `mean_nt` may put another
/// mean in place of the law's, without the error that the law's has away from the stations.
pub(crate) fn fill(
    law: &LearntLaw,
    hours: &[HourLaw],
    (request, kp, member): (&DisturbanceRequest<'_>, &KpSeries, u32),
    scatter_factor: f64,
    mut mean_nt: impl FnMut(usize) -> Option<[f64; 2]>,
    out: &mut [ExternalField],
) {
    let rng = stream(request.seed, member, Draw::Residual);
    let mut motion = Motion::new(law.memory, rng);
    let site = SiteDraw::of(&mut stream(request.seed, member, Draw::Site));
    let all = request.hours.iter().zip(hours).zip(out);
    for (index, ((&hour, law_of_hour), out)) in all.enumerate() {
        let scatter = motion.at(hour);
        let told = law_of_hour.moments(kp.smooth(hour));
        let days = law_of_hour.of_north_east(scatter.on_earth);
        let amplitude = scatter_factor * law_of_hour.site.factor(&site) * scatter.amplitude;
        let [first, second] = [0, 1].map(|axis| amplitude * (scatter.with_sun[axis] + days[axis]));
        let rho = told.correlation;
        let strays = [
            told.sigma_nt[0] * first,
            told.sigma_nt[1] * (rho * first + (1.0 - rho * rho).sqrt() * second),
        ];
        let [north_nt, east_nt] = match mean_nt(index) {
            Some(mean) => {
                let strays = law_of_hour.north_east(strays);
                [mean[0] + strays[0], mean[1] + strays[1]]
            }
            None => {
                let mean = law_of_hour.site.mean(told.mean_nt, law_of_hour.clock, &site);
                law_of_hour.north_east([mean[0] + strays[0], mean[1] + strays[1]])
            }
        };
        *out = ExternalField { north_nt, east_nt, kp_thirds: Some(kp.kp(hour).thirds()) };
    }
}

impl Response for Learnt {
    fn provenance(&self) -> Provenance {
        Provenance {
            name: "response learnt from polar-cap observatories".into(),
            source: "hourly means of Dumont d'Urville, Scott Base, Vostok, Resolute Bay and Alert, even \
                     years, by the World Data Centre for Geomagnetism, Edinburgh (EOST; GNS Science; \
                     AARI; Geological Survey of Canada)"
                .into(),
            licence: Some("coefficients derived from data free for scientific use".into()),
        }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        kp: &KpSeries,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        let hours =
            self.hours.along(request, || laws_along(self.law, &self.main, request, control))?;
        fill(self.law, &hours, (request, kp, member), 1.0, |_| None, out);
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        [
            "the currents above the pole do what those above five polar-cap observatories did from 1958 \
             to 2012 at the same Kp, magnetic latitude and local time, height of the Sun, season and \
             phase of the solar cycle",
            "farther than 10 degrees of magnetic latitude from the magnetic pole, where no station stood, \
             the response is that at 10 degrees",
            "away from those stations the mean is misplaced, and the scatter larger or smaller, by a pattern \
             and a factor of the place, as they were at each of them when it was left out of the fit",
            "within the hour the field moves as its hourly means would let one expect: nothing shorter \
             was measured",
            "magnetic coordinates follow IGRF-14, outside 1900 to 2030 that of the nearest of those \
             years",
        ]
        .map(|text| Assumption::new("pole.disturbance.response", text))
        .into()
    }

    fn verified(&self) -> Option<String> {
        Some(super::scores::sentence().to_owned())
    }

    /// The response fitted without each of the stations.
    fn alternatives(&self) -> Vec<Alternative<Arc<dyn Response>>> {
        Refit::without_a_station()
            .iter()
            .map(|&refit| {
                let law = LearntLaw::embedded(refit);
                let other = Self { law, main: self.main.clone(), hours: PathAnswers::default() };
                let name = format!("the response fitted {}", refit.told());
                Alternative { name, object: Arc::new(other) as Arc<dyn Response> }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Hemisphere, position};
    use dipward_plugin::{
        Clock, Kp, KpSlots,
        conformance::{check_example, check_response},
    };

    use super::*;

    fn members(hours: &[f64], kp: f64, count: u32, latitude_deg: f64) -> Vec<Vec<ExternalField>> {
        let clock = Clock::new("2027-01-15T00:00Z".parse().unwrap());
        let hemisphere = if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North };
        let context = BuildContext::new(".", hemisphere, clock, 48.0);
        let response = LearntSpec::default().build(&context).unwrap();
        let places = vec![position(latitude_deg, 135.0); hours.len()];
        let request = DisturbanceRequest { clock, hours, mean_pole: &places, hemisphere, seed: 5 };
        let slots = KpSlots::covering(clock, hours).unwrap();
        let series = KpSeries { slots, values: vec![Kp::nearest(kp); slots.count] };
        (0..count)
            .map(|member| {
                let mut out = vec![ExternalField::default(); hours.len()];
                response.member(&request, &series, member, &Control::default(), &mut out).unwrap();
                out
            })
            .collect()
    }

    #[test]
    fn the_kind_keeps_its_contract() {
        let clock = Clock::new("2027-01-15T00:00Z".parse().unwrap());
        for hemisphere in [Hemisphere::North, Hemisphere::South] {
            let context = BuildContext::new(".", hemisphere, clock, 1680.0);
            let built = check_example::<LearntSpec>(&context).unwrap();
            check_response(built.object.as_ref(), &context).unwrap();
        }
    }

    #[test]
    fn members_have_the_moments_that_are_told() {
        let at = crate::learnt::LearntResponse::at(-64.0, 135.0, 2027.04, Refit::All).unwrap();
        // Means over the hour from 2 to 3 and 14 to 15 UT, by eight instants.
        let hours: Vec<f64> = [2.0, 14.0]
            .iter()
            .flat_map(|h| (0..8).map(move |k| h + (f64::from(k) + 0.5) / 8.0))
            .collect();
        for kp in [0.0, 3.0] {
            let all = members(&hours, kp, 4000, -64.0);
            for (part, instant) in ["2027-01-15T02:30Z", "2027-01-15T14:30Z"].iter().enumerate() {
                let means: Vec<[f64; 2]> = all
                    .iter()
                    .map(|fields| {
                        let of = &fields[8 * part..8 * part + 8];
                        [
                            of.iter().map(|field| field.north_nt).sum::<f64>() / 8.0,
                            of.iter().map(|field| field.east_nt).sum::<f64>() / 8.0,
                        ]
                    })
                    .collect();
                let told = at.moments(Kp::nearest(kp), instant.parse().unwrap());
                for axis in 0..2 {
                    let mean = means.iter().map(|mean| mean[axis]).sum::<f64>() / 4000.0;
                    let square = |mean: &[f64; 2]| (mean[axis] - told.mean_nt[axis]).powi(2);
                    let sigma = (means.iter().map(square).sum::<f64>() / 4000.0).sqrt();
                    let expected = told.covariance_nt2[axis][axis].sqrt();
                    assert!((mean - told.mean_nt[axis]).abs() < 0.08 * expected, "{kp} {instant}");
                    // The amplitude is log-normal where the moments are Student's.
                    assert!(
                        (sigma / expected - 1.0).abs() < 0.1,
                        "{kp} {instant} {sigma} {expected}"
                    );
                    assert!(sigma > 5.0, "it is never quite still in summer: {sigma}");
                }
            }
        }
    }

    #[test]
    fn members_do_not_depend_on_what_was_asked_before() {
        let hours: Vec<f64> = (0..50).map(f64::from).collect();
        let (few, more) = (members(&hours, 2.0, 2, 85.0), members(&hours, 2.0, 4, 85.0));
        assert_eq!(few[1], more[1]);
        assert_ne!(more[0], more[3]);
    }
}
