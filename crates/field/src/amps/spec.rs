use dipward_plugin::{
    Assumption, BuildContext, Control, DisturbanceRequest, Error, ExternalField, Fault, Faults, Kp,
    KpSeries, KpSlots, Provenance, Response, ResponsePoint, Spec,
};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{
    amps::{
        drivers::Drivers,
        from_kp::{FromKp, kp_of},
        ground::{GroundField, product},
        responses::Responses,
    },
    igrf14,
    learnt::{HourLaw, LearntLaw, Refit, fill, laws_along},
    path_answers::PathAnswers,
    streams::{Draw, stream},
};

/// Response of the average currents of the polar ionosphere, with the learnt response's scatter about
/// them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AmpsResponseSpec {
    /// Where the solar wind is taken from.
    pub drivers: DriversSource,
    /// The field at the ground over that of the currents overhead alone: currents are induced in the
    /// Earth below, and averages smooth the peaks. The default is fitted to recorded hours at four
    /// stations (docs/disturbance.md).
    #[schemars(range(min = 0.5, max = 3.0))]
    pub induced: f64,
    /// The scatter over that of the learnt response. The default is fitted like `induced`: above 1, for
    /// these means tell less.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub scatter: f64,
}

impl Default for AmpsResponseSpec {
    fn default() -> Self {
        Self { drivers: DriversSource::default(), induced: 1.5, scatter: 1.2 }
    }
}

/// Where the solar wind is taken from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DriversSource {
    /// The same state all the time.
    Stated(WindState),
    /// A table, straight between its times, by increasing time; it must cover the hours asked for.
    Table(Vec<WindAt>),
    /// From the activity's Kp.
    FromKp(FromKp),
}

impl Default for DriversSource {
    fn default() -> Self {
        Self::FromKp(FromKp::default())
    }
}

/// A state of the solar wind and of the Sun.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WindState {
    /// Speed of the solar wind.
    #[schemars(range(min = 200.0, max = 3000.0))]
    pub solar_wind_km_per_s: f64,
    /// The interplanetary field toward dusk (geocentric solar magnetospheric axes).
    #[schemars(range(min = -100.0, max = 100.0))]
    pub by_nt: f64,
    /// The interplanetary field toward north.
    #[schemars(range(min = -100.0, max = 100.0))]
    pub bz_nt: f64,
    /// The flux of the Sun at 10.7 cm, solar flux units.
    #[schemars(range(min = 50.0, max = 500.0))]
    pub f10_7: f64,
}

/// The state at one time of a table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WindAt {
    /// When, UTC.
    #[schemars(with = "String")]
    pub time: Timestamp,
    /// Speed of the solar wind.
    #[schemars(range(min = 200.0, max = 3000.0))]
    pub solar_wind_km_per_s: f64,
    /// The interplanetary field toward dusk (geocentric solar magnetospheric axes).
    #[schemars(range(min = -100.0, max = 100.0))]
    pub by_nt: f64,
    /// The interplanetary field toward north.
    #[schemars(range(min = -100.0, max = 100.0))]
    pub bz_nt: f64,
    /// The flux of the Sun at 10.7 cm, solar flux units.
    #[schemars(range(min = 50.0, max = 500.0))]
    pub f10_7: f64,
}

impl From<WindState> for Drivers {
    fn from(state: WindState) -> Self {
        let WindState { solar_wind_km_per_s, by_nt, bz_nt, f10_7 } = state;
        Self { solar_wind_km_per_s, by_nt, bz_nt, f10_7 }
    }
}

impl Spec for AmpsResponseSpec {
    type Point = ResponsePoint;
    const KIND: &'static str = "amps";
    const SUMMARY: &'static str =
        "average polar currents of the AMPS model, from solar wind or Kp, with the learnt scatter";
    const EXAMPLE: &'static str = "\
kind: amps
drivers:
  stated: {solar_wind_km_per_s: 450, by_nt: 2, bz_nt: -3, f10_7: 140}
induced: 1.4
";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Response>, Faults> {
        if let DriversSource::Table(rows) = &self.drivers {
            let mut faults = Faults::default();
            if rows.is_empty() {
                faults.push(Fault::at("/drivers/table", "the table is empty"));
            }
            for (index, pair) in rows.windows(2).enumerate() {
                if pair[1].time <= pair[0].time {
                    let message = "the times of the table do not increase here";
                    faults.push(Fault::at(format!("/drivers/table/{}/time", index + 1), message));
                }
            }
            faults.into_result(())?;
        }
        let carried = |error: crate::ReadError| Fault::at("", error.to_string());
        let ground = GroundField::embedded().map_err(carried)?;
        let responses = Responses::new(ground, igrf14().map_err(carried)?);
        let law = LearntLaw::embedded(Refit::All);
        Ok(Box::new(Amps { spec: self, responses, law, hours: PathAnswers::default() }))
    }
}

#[derive(Debug)]
struct Amps {
    spec: AmpsResponseSpec,
    responses: Responses,
    law: &'static LearntLaw,
    hours: PathAnswers<HourLaw>,
}

impl Amps {
    /// The drivers at the hours, and the Kp that goes with them: that of the activity where they come
    /// from it, else the one that Newell's relation gives for the stated wind.
    fn drivers(
        &self,
        request: &DisturbanceRequest<'_>,
        kp: &KpSeries,
        member: u32,
    ) -> Result<(Vec<Drivers>, KpSeries), Error> {
        let clock = request.clock;
        match &self.spec.drivers {
            DriversSource::Stated(state) => {
                let state = Drivers::from(*state);
                let drivers = vec![state; request.hours.len()];
                let values = vec![Kp::nearest(kp_of(&state)); kp.slots.count];
                Ok((drivers, KpSeries { slots: kp.slots, values }))
            }
            DriversSource::Table(rows) => {
                let at = |&hour| between(rows, clock.instant(hour));
                let drivers: Vec<Drivers> =
                    request.hours.iter().map(at).collect::<Result<_, _>>()?;
                let slots: KpSlots = kp.slots;
                let values = (0..slots.count)
                    .map(|slot| {
                        let after = request.hours.partition_point(|h| *h < slots.middle_h(slot));
                        let near = drivers.get(after.min(drivers.len().saturating_sub(1)));
                        Kp::nearest(near.map_or(0.0, kp_of))
                    })
                    .collect();
                Ok((drivers, KpSeries { slots, values }))
            }
            DriversSource::FromKp(from) => {
                let mut rng = stream(request.seed, member, Draw::SolarWind);
                Ok((from.drivers(request, kp, &mut rng), kp.clone()))
            }
        }
    }
}

/// The drivers of a table at an instant.
fn between(rows: &[WindAt], instant: Timestamp) -> Result<Drivers, Error> {
    let after = rows.partition_point(|row| row.time < instant);
    let state = |row: &WindAt| {
        let WindAt { solar_wind_km_per_s, by_nt, bz_nt, f10_7, .. } = *row;
        [solar_wind_km_per_s, by_nt, bz_nt, f10_7]
    };
    let [solar_wind_km_per_s, by_nt, bz_nt, f10_7] =
        match (after.checked_sub(1).and_then(|at| rows.get(at)), rows.get(after)) {
            (_, Some(row)) if row.time == instant => state(row),
            (Some(before), Some(next)) => {
                let milliseconds = |from: Timestamp, to: Timestamp| {
                    (to.as_millisecond() - from.as_millisecond()) as f64
                };
                let share =
                    milliseconds(before.time, instant) / milliseconds(before.time, next.time);
                let (before, next) = (state(before), state(next));
                std::array::from_fn(|k| before[k] + share * (next[k] - before[k]))
            }
            _ => {
                return Err(Error::Outside(format!(
                    "the table of the solar wind does not cover {instant}"
                )));
            }
        };
    Ok(Drivers { solar_wind_km_per_s, by_nt, bz_nt, f10_7 })
}

impl Response for Amps {
    fn provenance(&self) -> Provenance {
        Provenance {
            name: "AMPS 1.7, average polar currents".into(),
            source:
                "Laundal et al. 2018, doi 10.1029/2018JA025387, from pyamps 1.8; scatter as the \
                     learnt response's"
                    .into(),
            licence: Some("MIT, copyright 2017 Karl M. Laundal".into()),
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
        control.check()?;
        let (drivers, kp) = self.drivers(request, kp, member)?;
        let responses = self.responses.along(request, control)?;
        let main = self.responses.main();
        let hours = self.hours.along(request, || laws_along(self.law, main, request, control))?;
        let mean = |index: usize| {
            let functions = drivers.get(index)?.functions();
            let response = responses.get(index)?;
            let parts = [response.north, response.east];
            Some(parts.map(|part| self.spec.induced * product(&part, &functions)))
        };
        fill(self.law, &hours, (request, &kp, member), self.spec.scatter, mean, out);
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut all = vec![
            "the currents above the pole are the average ones of the AMPS model for the solar wind of \
             the hour, a climatology that underestimates peaks"
                .to_owned(),
            format!(
                "currents induced in the Earth make that field {} times as large; the field of the ring \
                 current is left out",
                self.spec.induced
            ),
            format!(
                "about it the field scatters {} times as far as about the learnt response",
                self.spec.scatter
            ),
            "where the interplanetary field points south by more than 8 nT the AMPS model is \
             extrapolated"
                .to_owned(),
            "the magnetic coordinates of the currents follow IGRF-14, whatever the model of the main \
             field, and outside 1900 to 2030 the nearest of those years"
                .to_owned(),
        ];
        all.extend(match &self.spec.drivers {
            DriversSource::Stated(WindState { solar_wind_km_per_s, by_nt, bz_nt, f10_7 }) => {
                vec![format!(
                    "the solar wind blows at {solar_wind_km_per_s} km/s all the time, with By \
                     {by_nt} nT, Bz {bz_nt} nT and F10.7 {f10_7}"
                )]
            }
            DriversSource::Table(_) => {
                vec!["the solar wind is that of the scenario's table, without error".to_owned()]
            }
            DriversSource::FromKp(from) => from.told(),
        });
        all.into_iter().map(|text| Assumption::new("pole.disturbance.response", text)).collect()
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Hemisphere, Position, position};
    use dipward_plugin::{Clock, Site};

    use super::*;
    use crate::amps::MagneticPlace;

    fn context() -> BuildContext {
        let clock = Clock::new("2027-03-01T00:00Z".parse().unwrap());
        BuildContext::new(".", Hemisphere::North, clock, 1500.0)
    }

    fn build(spec: AmpsResponseSpec) -> Box<dyn Response> {
        spec.build(&context()).unwrap()
    }

    fn stated(bz_nt: f64, scatter: f64) -> AmpsResponseSpec {
        let state = WindState { solar_wind_km_per_s: 450.0, by_nt: 2.0, bz_nt, f10_7: 140.0 };
        AmpsResponseSpec { drivers: DriversSource::Stated(state), induced: 1.0, scatter }
    }

    /// Hours of a season, and a pole that drifts as the northern one does.
    fn season(hours: usize) -> (Vec<f64>, Vec<Position>) {
        (0..hours)
            .map(|hour| {
                let hour = hour as f64;
                (hour, position(85.42 - 2e-5 * hour, 132.0 - 5e-4 * hour))
            })
            .unzip()
    }

    fn member(of: &dyn Response, hours: &[f64], pole: &[Position], n: u32) -> Vec<ExternalField> {
        let request = DisturbanceRequest {
            clock: context().clock(),
            hours,
            mean_pole: pole,
            hemisphere: Hemisphere::North,
            seed: 7,
        };
        let mut out = vec![ExternalField::default(); hours.len()];
        let slots = KpSlots::covering(request.clock, hours).unwrap();
        let kp = KpSeries { slots, values: vec![Kp::nearest(3.0); slots.count] };
        of.member(&request, &kp, n, &Control::default(), &mut out).unwrap();
        out
    }

    #[test]
    fn members_do_not_depend_on_what_was_asked_before() {
        let (hours, pole) = season(400);
        let one = build(AmpsResponseSpec::default());
        let first = member(&*one, &hours, &pole, 3);
        let other = member(&*one, &hours[..50], &pole[..50], 0);
        assert_eq!(member(&*one, &hours, &pole, 3), first);
        assert_ne!(member(&*one, &hours[..50], &pole[..50], 1), other);
        assert_eq!(
            member(&*build(AmpsResponseSpec::default()), &hours[..50], &pole[..50], 0),
            other
        );
        assert!(first.iter().all(|field| field.kp_thirds.is_some_and(|kp| kp <= 27)));
        assert!(first.iter().all(|field| field.north_nt.abs() < 3000.0));
    }

    #[test]
    fn the_path_of_the_pole_is_answered_as_if_traced_at_each_hour() {
        let (hours, pole) = season(1500);
        let all = member(&*build(stated(-5.0, 0.0)), &hours, &pole, 0);
        let ground = GroundField::embedded().unwrap();
        let main = igrf14().unwrap();
        let clock = context().clock();
        let drivers = Drivers { solar_wind_km_per_s: 450.0, by_nt: 2.0, bz_nt: -5.0, f10_7: 140.0 };
        for hour in [0, 700, 1499] {
            let site = Site {
                latitude_deg: pole[hour].y(),
                longitude_deg: pole[hour].x(),
                height_km: 0.0,
            };
            let year = clock.decimal_year(hours[hour]);
            let place = MagneticPlace::of(&main, year, &site).unwrap();
            let own = ground.north_east_nt(&place, clock.instant(hours[hour]), &drivers);
            let off = (all[hour].north_nt - own[0]).hypot(all[hour].east_nt - own[1]);
            assert!(off < 0.3, "{hour}: {off} of {own:?}");
        }
    }

    #[test]
    fn a_table_is_straight_between_its_times_and_silent_outside() {
        let row = |time: &str, bz_nt| WindAt {
            time: time.parse().unwrap(),
            solar_wind_km_per_s: 450.0,
            by_nt: 2.0,
            bz_nt,
            f10_7: 140.0,
        };
        let rows = vec![row("2027-03-01T00:00Z", -2.0), row("2027-03-01T04:00Z", -6.0)];
        let (hours, pole) = season(5);
        let spec = |rows| AmpsResponseSpec {
            drivers: DriversSource::Table(rows),
            induced: 1.0,
            scatter: 0.0,
        };
        let table = member(&*build(spec(rows.clone())), &hours, &pole, 0);
        for (hour, bz_nt) in [(0, -2.0), (1, -3.0), (4, -6.0)] {
            let stated = member(&*build(stated(bz_nt, 0.0)), &hours, &pole, 0);
            assert!((table[hour].north_nt - stated[hour].north_nt).abs() < 1e-9, "{hour}");
        }
        assert!(between(&rows, "2027-02-28T23:59Z".parse().unwrap()).is_err());
        assert!(between(&rows, "2027-03-01T04:01Z".parse().unwrap()).is_err());
        let faults = spec(vec![rows[1], rows[0]]).build(&context()).unwrap_err();
        assert_eq!(faults.as_slice()[0].pointer(), "/drivers/table/1/time");
        assert!(spec(Vec::new()).build(&context()).is_err());
    }

    #[test]
    fn the_scatter_has_the_size_of_the_learnt_one() {
        let (hours, pole) = season(1500);
        let off = |scatter| {
            let mean = member(&*build(stated(-5.0, 0.0)), &hours, &pole, 0);
            let all = member(&*build(stated(-5.0, scatter)), &hours, &pole, 0);
            let squares = all.iter().zip(&mean).map(|(all, mean)| {
                (all.north_nt - mean.north_nt).powi(2) + (all.east_nt - mean.east_nt).powi(2)
            });
            (squares.sum::<f64>() / 1500.0).sqrt()
        };
        assert!((off(2.0) / off(1.0) - 2.0).abs() < 1e-6);
        assert!((10.0..200.0).contains(&off(1.0)), "{}", off(1.0));
    }
}
