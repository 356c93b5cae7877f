//! Ensembles of pole tracks: against the full field, against closed forms, and for repeatability.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use dipward_field::{
    PoleTracks, SurveyedPole, TrackRequest, dip_pole, displaced_pole, igrf14,
    kinds::{KpHistorySpec, QuietSpec},
    pole_tracks,
};
use dipward_geodesy::{Hemisphere, geodesic, position};
use dipward_plugin::{
    Assumption, BuildContext, Clock, Control, Disturbance, DisturbanceRequest, Error,
    ExternalField, FieldSample, FieldSigma, MainField, Provenance, Site, Spec,
};

fn clock() -> Clock {
    Clock::new("2027-01-15T00:00Z".parse().unwrap())
}

fn hourly(count: u32) -> Vec<f64> {
    (0..count).map(f64::from).collect()
}

fn context(hemisphere: Hemisphere) -> BuildContext {
    BuildContext::new(".", hemisphere, clock(), 1680.0)
}

fn quiet() -> Box<dyn Disturbance> {
    QuietSpec::default().build(&context(Hemisphere::South)).unwrap()
}

fn history(hemisphere: Hemisphere) -> Box<dyn Disturbance> {
    KpHistorySpec::default().build(&context(hemisphere)).unwrap()
}

fn request(hours: &[f64], hemisphere: Hemisphere, members: u32) -> TrackRequest<'_> {
    TrackRequest { clock: clock(), hours, hemisphere, members, seed: 7, height_km: 0.0, looks: 1 }
}

fn tracks(
    model: &dyn MainField,
    disturbance: &dyn Disturbance,
    request: &TrackRequest<'_>,
) -> PoleTracks {
    pole_tracks(model, disturbance, request, &Control::default()).unwrap()
}

/// A field of given strength whose direction goes round with the members.
#[derive(Debug)]
struct Storm(f64);

impl Disturbance for Storm {
    fn provenance(&self) -> Provenance {
        Provenance { name: "storm".into(), ..Provenance::default() }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        _: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        for (out, hour) in out.iter_mut().zip(request.hours) {
            let (sine, cosine) = (f64::from(member) * 0.7 + hour / 40.0).sin_cos();
            *out = ExternalField {
                north_nt: self.0 * cosine,
                east_nt: self.0 * sine,
                kp_thirds: None,
            };
        }
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
}

/// A model without any doubt of its own.
#[derive(Debug)]
struct Certain<M>(M);

impl<M: MainField> MainField for Certain<M> {
    fn provenance(&self) -> Provenance {
        self.0.provenance()
    }

    fn years(&self) -> std::ops::RangeInclusive<f64> {
        self.0.years()
    }

    fn sample(&self, year: f64, sites: &[Site], out: &mut [FieldSample]) -> Result<(), Error> {
        self.0.sample(year, sites, out)
    }

    fn sigma(&self, _: f64, _: Hemisphere) -> FieldSigma {
        FieldSigma::default()
    }
}

/// The fast way must be the slow way to 50 m, for a breath of wind as for a great storm.
#[test]
fn displacements_are_those_of_the_full_field() {
    let model = Certain(igrf14().unwrap());
    let hours: Vec<f64> = (0..8).map(|at| f64::from(at) * 240.0).collect();
    for hemisphere in [Hemisphere::North, Hemisphere::South] {
        for strength in [1.0, 30.0, 150.0, 700.0, 1700.0, 3500.0] {
            let tracks = tracks(&model, &Storm(strength), &request(&hours, hemisphere, 5));
            let mut farthest: f64 = 0.0;
            for (index, &hour) in hours.iter().enumerate() {
                let year = clock().decimal_year(hour);
                let pole = dip_pole(&model, hemisphere, year, 0.0).unwrap();
                assert!(geodesic::distance_km(pole.position, tracks.mean(index).unwrap()) < 1e-6);
                for member in 0..5_u32 {
                    let (sine, cosine) = (f64::from(member) * 0.7 + hour / 40.0).sin_cos();
                    let full =
                        displaced_pole(&model, &pole, strength * cosine, strength * sine).unwrap();
                    let own = tracks.member_position(member as usize, index);
                    let (Some(full), Some(own)) = (full, own) else {
                        panic!("{full:?} {own:?}");
                    };
                    let off = geodesic::distance_km(full, own);
                    farthest = farthest.max(geodesic::distance_km(full, pole.position));
                    assert!(off < 0.05, "{hemisphere} {strength} nT: off by {off} km");
                }
            }
            println!("{hemisphere} {strength} nT: up to {farthest:.0} km");
        }
    }
}

#[test]
fn a_field_that_no_main_field_can_cancel_leaves_no_pole() {
    let model = Certain(igrf14().unwrap());
    let hours = hourly(3);
    let tracks = tracks(&model, &Storm(60_000.0), &request(&hours, Hemisphere::South, 4));
    for index in 0..3 {
        assert_eq!(tracks.without_pole(index), 4);
        assert_eq!(tracks.member_position(0, index), None);
        assert_eq!(tracks.ellipse(index, 0.5), None);
        assert_eq!(tracks.rms_km(index), None);
    }
    assert!(tracks.daily_oval().is_empty());
    assert!(tracks.mean(2).is_some());
}

fn surveyed(drift_km_per_year: f64, drift_bearing_deg: f64) -> SurveyedPole {
    SurveyedPole {
        position: position(-64.0, 136.0),
        epoch: Clock::decimal_year_of(clock().start()),
        drift_km_per_year,
        drift_bearing_deg,
        jacobian_nt_per_km: [[6.7, 0.0], [0.0, 6.7]],
        vertical_nt: -66_000.0,
        sigma_km: 0.0,
        sigma_growth_km_per_year: 0.0,
    }
}

#[test]
fn a_fixed_quiet_pole_stays_where_it_was_surveyed() {
    let pole = surveyed(0.0, 0.0);
    let hours = hourly(100);
    let tracks = tracks(&pole, &*quiet(), &request(&hours, Hemisphere::South, 3));
    for index in 0..100 {
        let mean = tracks.mean(index).unwrap();
        assert!(geodesic::distance_km(mean, pole.position) < 1e-6);
        assert_eq!(tracks.member_position(2, index), Some(mean));
        assert_eq!(tracks.rms_km(index), Some(0.0));
    }
    let ellipse = tracks.ellipse(0, 0.95).unwrap();
    assert_eq!((ellipse.ellipse.semi_major_km, ellipse.share), (0.0, 1.0));
    assert_eq!(tracks.member_at(0, 99.5), None);
    assert!(tracks.member_at(0, 98.5).is_some() && tracks.member_at(0, -0.5).is_none());
}

#[test]
fn a_pole_that_runs_at_five_km_an_hour_keeps_its_time_to_a_metre() {
    // 2027 has 8760 hours.
    let pole = surveyed(5.0 * 8760.0, 70.0);
    let hours = hourly(700);
    let tracks = tracks(&pole, &*quiet(), &request(&hours, Hemisphere::South, 2));
    for (index, &hour) in hours.iter().enumerate() {
        let exact = geodesic::direct(pole.position, 70.0, 5.0 * hour).position;
        let off = geodesic::distance_km(exact, tracks.member_position(1, index).unwrap());
        assert!(off < 1e-3, "hour {hour}: {off} km");
    }
    let between = geodesic::direct(pole.position, 70.0, 5.0 * 99.25).position;
    assert!(geodesic::distance_km(between, tracks.mean_at(99.25).unwrap()) < 1e-3);
}

#[test]
fn a_surveyed_pole_is_displaced_by_its_own_straight_lines() {
    let pole = surveyed(0.0, 0.0);
    let hours = hourly(2);
    let tracks = tracks(&pole, &Storm(67.0), &request(&hours, Hemisphere::South, 1));
    let [north, east] = tracks.offset_km(0, 0).unwrap();
    assert!((north + 10.0).abs() < 1e-3 && east.abs() < 1e-3, "{north} {east}");
}

#[test]
fn the_surveys_own_doubt_spreads_the_members() {
    let pole = SurveyedPole { sigma_km: 5.0, ..surveyed(0.0, 0.0) };
    let hours = hourly(1);
    let tracks = tracks(&pole, &*quiet(), &request(&hours, Hemisphere::South, 2000));
    let rms = tracks.rms_km(0).unwrap();
    assert!((rms / (5.0 * 2.0_f64.sqrt()) - 1.0).abs() < 0.04, "{rms}");
    for (share, factor) in [(0.5, 1.177), (0.95, 2.448)] {
        let ellipse = tracks.ellipse(0, share).unwrap();
        assert!((ellipse.ellipse.semi_major_km / (5.0 * factor) - 1.0).abs() < 0.07);
        assert!((ellipse.share - share).abs() < 1e-9);
    }
}

#[test]
fn the_models_doubt_has_the_shape_of_the_jacobian() {
    let model = igrf14().unwrap();
    let hours = hourly(1);
    let tracks = tracks(&model, &*quiet(), &request(&hours, Hemisphere::North, 3000));
    let pole = dip_pole(&model, Hemisphere::North, clock().decimal_year(0.0), 0.0).unwrap();
    let (own, told) =
        (tracks.ellipse(0, 0.95).unwrap().ellipse, pole.sigma_ellipse().holding(0.95));
    assert!((own.semi_major_km / told.semi_major_km - 1.0).abs() < 0.06, "{own:?} {told:?}");
    assert!((own.semi_minor_km / told.semi_minor_km - 1.0).abs() < 0.06, "{own:?} {told:?}");
    assert!((own.bearing_deg - told.bearing_deg).abs() < 3.0, "{own:?} {told:?}");
}

#[test]
fn the_same_seed_gives_the_same_bits_on_any_number_of_threads() {
    let model = igrf14().unwrap();
    let disturbance = history(Hemisphere::North);
    let hours = hourly(60);
    let request = request(&hours, Hemisphere::North, 20);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| tracks(&model, &*disturbance, &request))
    };
    let (one, three) = (with(1), with(3));
    let bits = |tracks: &PoleTracks| {
        let all = (0..20).flat_map(|member| (0..60).map(move |index| (member, index)));
        all.map(|(m, i)| {
            (tracks.offset_km(m, i).map(|o| o.map(f64::to_bits)), tracks.kp_thirds(m, i))
        })
        .collect::<Vec<_>>()
    };
    assert_eq!(bits(&one), bits(&three));
    let other = tracks(&model, &*disturbance, &TrackRequest { seed: 8, ..request });
    assert_ne!(bits(&one), bits(&other));
    // A member does not depend on how many there are.
    let fewer = tracks(&model, &*disturbance, &TrackRequest { members: 3, ..request });
    assert_eq!(fewer.offset_km(2, 59), one.offset_km(2, 59));
}

#[test]
fn the_daily_oval_is_a_loop_of_the_quiet_days_size() {
    let model = Certain(igrf14().unwrap());
    let hours = hourly(24 * 20);
    // Mean vectors of some 40 nT in the northern winter and 90 in the southern summer, over 2 to 5 and 5 to 9
    // nT for a km.
    for (hemisphere, across_km) in
        [(Hemisphere::North, 10.0..50.0), (Hemisphere::South, 15.0..40.0)]
    {
        let tracks = tracks(&model, &*history(hemisphere), &request(&hours, hemisphere, 60));
        let oval = tracks.daily_oval();
        assert_eq!(oval.len(), 24);
        let across = (0..12)
            .map(|at| {
                (oval[at].1[0] - oval[at + 12].1[0]).hypot(oval[at].1[1] - oval[at + 12].1[1])
            })
            .fold(0.0, f64::max);
        println!("{hemisphere}: {across:.1} km across, rms {:.1} km", tracks.rms_km(100).unwrap());
        assert!(across_km.contains(&across), "{hemisphere} {across}");
        assert_eq!(tracks.oval_at(&oval, 3).len(), 24);
    }
}

/// A daily loop of 60 nT against the clock, and a storm all through every third day, hardest at noon.
#[derive(Debug)]
struct LoopAndStorms {
    storm_nt: f64,
    knows_kp: bool,
}

impl LoopAndStorms {
    fn loop_nt(hour: f64) -> [f64; 2] {
        let (sine, cosine) = (hour / 24.0 * std::f64::consts::TAU).sin_cos();
        [60.0 * cosine, -60.0 * sine]
    }
}

impl Disturbance for LoopAndStorms {
    fn provenance(&self) -> Provenance {
        Provenance { name: "loop and storms".into(), ..Provenance::default() }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        _: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        for (out, &hour) in out.iter_mut().zip(request.hours) {
            let day = hour.div_euclid(24.0) as u32;
            let storm = (day + member).is_multiple_of(3);
            let noon = 1.0 - (hour.rem_euclid(24.0) - 12.0).abs() / 12.0;
            let push = if storm { self.storm_nt * (1.0 + noon) } else { 0.0 };
            let [north_nt, east_nt] = Self::loop_nt(hour);
            // 2- is still below 2, and 2o is not.
            let kp_thirds = if storm { 6 + (day % 21) as u8 } else { (day % 6) as u8 };
            *out = ExternalField {
                north_nt: north_nt + push,
                east_nt,
                kp_thirds: self.knows_kp.then_some(kp_thirds),
            };
        }
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
}

#[test]
fn the_quiet_oval_is_the_planted_loop_whatever_the_storms() {
    let pole = surveyed(0.0, 0.0);
    let hours = hourly(24 * 21);
    let with = |storm_nt, knows_kp| {
        let disturbance = LoopAndStorms { storm_nt, knows_kp };
        tracks(&pole, &disturbance, &request(&hours, Hemisphere::South, 4))
    };
    let (calm, stormy) = (with(0.0, true), with(400.0, true));
    let quiet = stormy.quiet_oval(2.0);
    assert_eq!(quiet.len(), 24);
    // The pole goes to where the main field undoes the disturbance: J d = -b.
    for (hour, [north, east]) in &quiet {
        let planted = LoopAndStorms::loop_nt(f64::from(*hour)).map(|nt| -nt / 6.7);
        let off = (north - planted[0]).hypot(east - planted[1]);
        assert!(off < 0.01, "{hour} UTC: off by {off} km");
    }
    assert_eq!(quiet, calm.quiet_oval(2.0));
    // Storms every third day push the mean of all days at noon by a third of 800 nT.
    let moved = stormy.daily_oval()[12].1[0] - calm.daily_oval()[12].1[0];
    assert!((moved + 800.0 / 3.0 / 6.7).abs() < 0.1, "{moved} km");
    assert!(stormy.quiet_oval(0.0).is_empty());
    assert!(with(400.0, false).quiet_oval(9.0).is_empty());
}

#[test]
fn requests_that_make_no_sense_are_refused() {
    let model = igrf14().unwrap();
    let told = |hours: &[f64], members, disturbance: &dyn Disturbance| {
        let request = request(hours, Hemisphere::South, members);
        pole_tracks(&model, disturbance, &request, &Control::default()).unwrap_err().to_string()
    };
    assert!(told(&[], 1, &*quiet()).contains("hours"));
    assert!(told(&[0.0, 0.0], 1, &*quiet()).contains("increase"));
    assert!(told(&[f64::NAN], 1, &*quiet()).contains("finite"));
    assert!(told(&[0.0], 0, &*quiet()).contains("at least one member"));
    assert!(told(&[0.0, 60_000.0], 1, &*quiet()).contains("answers for the years"));
    assert!(
        told(&[0.0], 1, &Storm(f64::NAN)).contains("the plug-in `storm` returned a field of NaN")
    );
    let control = Control::default();
    control.cancel();
    let hours = hourly(2);
    let request = request(&hours, Hemisphere::South, 1);
    assert_eq!(pole_tracks(&model, &*quiet(), &request, &control).unwrap_err(), Error::Cancelled);
}
