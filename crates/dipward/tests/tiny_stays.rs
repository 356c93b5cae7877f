//! Oracle: stays on tiny worlds, hour by hour in full, against a plain second telling of each policy and
//! of what foresight could do. The second telling keeps the craft's whole path first and judges it then.

#![expect(
    clippy::unwrap_used,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

use std::sync::Mutex;

use dipward::{
    Measure, Station, Stay,
    policies::{AmbushSpec, HoldSpec, PursueSpec},
};
use dipward_field::{FARTHEST_KM, PoleTracks, SurveyedPole, TrackRequest, pole_tracks};
use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{
    Action, Assumption, BuildContext, Clock, Control, Disturbance, DisturbanceRequest, Error,
    ExternalField, Knowledge, OffsetKm, Policy, Provenance, Spec,
};
use proptest::prelude::*;

/// What an hour of a member brings: the field that throws the pole about, and Kp.
type Hour = ([f64; 2], Option<u8>);

/// A disturbance that is written down hour by hour.
#[derive(Debug)]
struct Planted(Vec<Vec<Hour>>);

impl Disturbance for Planted {
    fn provenance(&self) -> Provenance {
        Provenance { name: "planted".into(), source: "invented".into(), licence: None }
    }

    fn member(
        &self,
        _: &DisturbanceRequest<'_>,
        member: u32,
        _: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        for (out, &([north_nt, east_nt], kp_thirds)) in out.iter_mut().zip(&self.0[member as usize])
        {
            *out = ExternalField { north_nt, east_nt, kp_thirds };
        }
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
}

/// A policy of the three kinds, told plainly.
#[derive(Debug, Clone, Copy)]
enum Way {
    Hold,
    Ambush,
    Pursue { leash_km: f64, break_off_kp: f64 },
}

impl Way {
    fn policy(self) -> Box<dyn Policy> {
        let clock = clock();
        let context = BuildContext::new(".", Hemisphere::North, clock, 240.0);
        match self {
            Self::Hold => HoldSpec {}.build(&context),
            Self::Ambush => AmbushSpec {}.build(&context),
            Self::Pursue { leash_km, break_off_kp } => {
                PursueSpec { leash_km, break_off_kp }.build(&context)
            }
        }
        .unwrap()
    }
}

/// Asks a policy and writes down what it was told.
#[derive(Debug)]
struct Overheard {
    policy: Box<dyn Policy>,
    told: Mutex<Vec<Knowledge>>,
}

impl Policy for Overheard {
    fn describe(&self) -> String {
        self.policy.describe()
    }

    fn act(&self, known: &Knowledge) -> Action {
        self.told.lock().unwrap().push(*known);
        self.policy.act(known)
    }
}

/// A tiny world: a pole that is thrown about over a few hours, and a craft.
#[derive(Debug, Clone)]
struct Tiny {
    members: Vec<Vec<Hour>>,
    reach_km: Vec<f64>,
    chase_t_per_h: Vec<f64>,
    chase_fuel_t: f64,
    measure: Measure,
    reading_range_km: f64,
    haunt_km: OffsetKm,
    arrive_hour: f64,
    leave_hour: f64,
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

impl Tiny {
    fn tracks(&self) -> PoleTracks {
        let model = SurveyedPole {
            position: position(88.0, 30.0),
            epoch: 2027.0,
            drift_km_per_year: 0.0,
            drift_bearing_deg: 0.0,
            // 10 nT throw the pole about by 1 km.
            jacobian_nt_per_km: [[-10.0, 0.0], [0.0, -10.0]],
            vertical_nt: 57_000.0,
            sigma_km: 0.0,
            sigma_growth_km_per_year: 0.0,
        };
        let hours: Vec<f64> = (0..self.members[0].len()).map(|hour| hour as f64).collect();
        let request = TrackRequest {
            clock: clock(),
            hours: &hours,
            hemisphere: Hemisphere::North,
            members: self.members.len() as u32,
            seed: 1,
            height_km: 0.0,
            looks: 1,
        };
        let planted = Planted(self.members.clone());
        pole_tracks(&model, &planted, &request, &Control::default()).unwrap()
    }

    fn station<'a>(&'a self, tracks: &'a PoleTracks, policy: &'a dyn Policy) -> Station<'a> {
        Station {
            tracks,
            measure: self.measure,
            policy,
            reach_km: &self.reach_km,
            chase_t_per_h: &self.chase_t_per_h,
            chase_fuel_t: self.chase_fuel_t,
            reading_range_km: self.reading_range_km,
            oval_km: [[0.0; 2]; 24],
            haunt_km: self.haunt_km,
            chart: None,
            pack: None,
        }
    }

    fn stay(&self, tracks: &PoleTracks, policy: &dyn Policy) -> Stay {
        self.station(tracks, policy).stay(self.arrive_hour, self.leave_hour)
    }

    /// The whole hours of the stay, both ends included.
    fn hours(&self) -> Vec<usize> {
        let all = 0..self.members[0].len();
        let within = |hour: &usize| (self.arrive_hour..=self.leave_hour).contains(&(*hour as f64));
        let stay: Vec<usize> = all.filter(within).collect();
        // A stay without a whole hour is looked at once, after the arrival.
        if stay.is_empty() { vec![self.arrive_hour.ceil() as usize] } else { stay }
    }

    /// The craft's place at each whole hour of the stay.
    fn path(&self, tracks: &PoleTracks, member: usize, way: Way) -> Vec<OffsetKm> {
        let hours = self.hours();
        let end = *hours.last().unwrap();
        let mut craft = [0.0; 2];
        let mut fuel_t = self.chase_fuel_t;
        let mut path = vec![craft];
        for &hour in &hours[..hours.len() - 1] {
            let pole = tracks.offset_km(member, hour);
            let aim = match way {
                Way::Hold => [0.0; 2],
                Way::Ambush => self.haunt_km,
                Way::Pursue { leash_km, break_off_kp } => {
                    let storm = tracks
                        .kp_thirds(member, hour)
                        .is_some_and(|thirds| f64::from(thirds) >= 3.0 * break_off_kp);
                    match pole {
                        Some(pole) if !storm && apart(pole, craft) <= self.reading_range_km => {
                            let away = apart(pole, [0.0; 2]);
                            let drawn_in = if away > leash_km { leash_km / away } else { 1.0 };
                            pole.map(|part| part * drawn_in)
                        }
                        _ => self.haunt_km,
                    }
                }
            };
            // The aim while the way back stays open, else the place, else back.
            let chosen = [aim, craft, [0.0; 2]].into_iter().find_map(|aim| {
                let (next, left_t) = self.sail(craft, aim, hour, fuel_t);
                let back = self.is_back(next, hour + 1, end, left_t);
                (back || aim == [0.0; 2]).then_some((next, left_t))
            });
            (craft, fuel_t) = chosen.unwrap();
            path.push(craft);
        }
        path
    }

    /// An hour toward an aim: the new place and the fuel left.
    fn sail(&self, from: OffsetKm, aim: OffsetKm, hour: usize, fuel_t: f64) -> (OffsetKm, f64) {
        let way = apart(aim, from);
        let fastest = self.reach_km[hour];
        if way == 0.0 || fastest == 0.0 {
            return (from, fuel_t);
        }
        let t_per_km = self.chase_t_per_h[hour] / fastest;
        let paid_km = if t_per_km > 0.0 { fuel_t / t_per_km } else { f64::INFINITY };
        let gone = way.min(fastest).min(paid_km);
        let to = [0, 1].map(|part| from[part] + (aim[part] - from[part]) * (gone / way));
        (to, fuel_t - gone * t_per_km)
    }

    fn is_back(&self, from: OffsetKm, hour: usize, end: usize, fuel_t: f64) -> bool {
        if apart(from, [0.0; 2]) < 1e-6 {
            return true;
        }
        if hour >= end {
            return false;
        }
        let (next, left_t) = self.sail(from, [0.0; 2], hour, fuel_t);
        self.is_back(next, hour + 1, end, left_t)
    }

    /// Whether the pole is within reach of a path on all hours from one to another that is at least
    /// `for_h` later, and the first such later hour, counted from the arrival.
    fn attained(&self, tracks: &PoleTracks, member: usize, path: &[OffsetKm]) -> Option<usize> {
        let first = self.hours()[0];
        let near = |step: usize| {
            tracks
                .offset_km(member, first + step)
                .is_some_and(|pole| apart(pole, path[step]) <= self.measure.within_km)
        };
        let spans = (0..path.len()).flat_map(|to| (0..=to).map(move |from| (from, to)));
        spans
            .filter(|(from, to)| (to - from) as f64 >= self.measure.for_h)
            .filter(|&(from, to)| (from..=to).all(near))
            .map(|(_, to)| to)
            .min()
    }

    /// Whether a craft that knows the track attains, among all paths, hour by hour, between the places
    /// that matter: the mean pole, where the pole will be, and marches straight toward either.
    fn foresight(&self, tracks: &PoleTracks, member: usize) -> bool {
        let hours = self.hours();
        let poles: Vec<OffsetKm> =
            hours.iter().filter_map(|&hour| tracks.offset_km(member, hour)).collect();
        let mut paths: Vec<Vec<OffsetKm>> = vec![vec![[0.0; 2]]];
        for &hour in &hours[..hours.len() - 1] {
            paths = paths
                .into_iter()
                .flat_map(|path| {
                    let here = *path.last().unwrap();
                    let mut aims = poles.clone();
                    aims.push(here);
                    aims.into_iter().map(move |aim| {
                        let way = apart(aim, here);
                        let share =
                            if way > 0.0 { (self.reach_km[hour] / way).min(1.0) } else { 0.0 };
                        let to = [0, 1].map(|part| here[part] + (aim[part] - here[part]) * share);
                        let mut longer = path.clone();
                        longer.push(to);
                        longer
                    })
                })
                .collect();
        }
        paths.iter().any(|path| self.attained(tracks, member, path).is_some())
    }
}

fn apart(a: OffsetKm, b: OffsetKm) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn hour() -> impl Strategy<Value = Hour> {
    // Mostly some km, sometimes a storm, once in a while a field that leaves no pole within reach.
    let field = prop_oneof![
        6 => prop::array::uniform2(-80.0..80.0_f64),
        3 => prop::array::uniform2(-300.0..300.0_f64),
        1 => Just([0.0; 2]),
        1 => Just([FARTHEST_KM * 40.0, 0.0]),
    ];
    (field, prop::option::weighted(0.8, 0_u8..=27))
}

fn tiny(most_hours: usize) -> impl Strategy<Value = Tiny> {
    (2..=most_hours).prop_flat_map(|hours| {
        let rows = prop::collection::vec(prop::collection::vec(hour(), hours), 1..=4);
        let reach = prop::collection::vec(prop_oneof![1 => Just(0.0), 6 => 0.5..12.0_f64], hours);
        let chase = prop::collection::vec(prop_oneof![Just(0.0), 0.1..2.0_f64], hours);
        let measure = (0.5..8.0_f64, prop::sample::select(vec![0.0, 0.5, 1.0, 1.5, 2.0]))
            .prop_map(|(within_km, for_h)| Measure { within_km, for_h });
        let last = (hours - 1) as f64;
        let stay = (0.0..1.0_f64, 0.0..1.0_f64)
            .prop_map(move |(from, to)| [0.4 * from * last, last * (1.0 - 0.4 * to)]);
        (
            rows,
            reach,
            chase,
            0.0..6.0_f64,
            measure,
            0.0..30.0_f64,
            prop::array::uniform2(-6.0..6.0_f64),
            stay,
        )
            .prop_map(
                |(
                    members,
                    reach_km,
                    chase_t_per_h,
                    chase_fuel_t,
                    measure,
                    reading_range_km,
                    haunt_km,
                    [arrive_hour, leave_hour],
                )| Tiny {
                    members,
                    reach_km,
                    chase_t_per_h,
                    chase_fuel_t,
                    measure,
                    reading_range_km,
                    haunt_km,
                    arrive_hour,
                    leave_hour,
                },
            )
    })
}

fn ways() -> impl Strategy<Value = Way> {
    prop_oneof![
        Just(Way::Hold),
        Just(Way::Ambush),
        (0.0..20.0_f64, 0.0..9.0_f64)
            .prop_map(|(leash_km, break_off_kp)| Way::Pursue { leash_km, break_off_kp }),
    ]
}

proptest! {
    // Failures are told in full; integration tests have no place of their own to keep them.
    #![proptest_config(ProptestConfig {
        cases: 400,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn each_policy_comes_to_what_its_path_comes_to(tiny in tiny(10), way in ways()) {
        let tracks = tiny.tracks();
        let stay = tiny.stay(&tracks, &*way.policy());
        let first = tiny.hours()[0];
        let mut count = 0;
        for (member, outcome) in stay.outcome.members.iter().enumerate() {
            let path = tiny.path(&tracks, member, way);
            let attained = tiny.attained(&tracks, member, &path);
            prop_assert_eq!(outcome.attained_after_h, attained.map(|hours| hours as f64));
            count += usize::from(attained.is_some());
            let closest = path
                .iter()
                .enumerate()
                .filter_map(|(step, &place)| Some(apart(tracks.offset_km(member, first + step)?, place)))
                .fold(FARTHEST_KM, f64::min);
            prop_assert!((outcome.closest_km - closest).abs() < 1e-9, "{} {closest}", outcome.closest_km);
        }
        let members = tiny.members.len() as f64;
        prop_assert_eq!(stay.attainment.probability, count as f64 / members);
        let at_end = stay.cumulative.last().unwrap().1;
        prop_assert_eq!(at_end, stay.attainment.probability);
    }

    /// A stay that is put down at any hour and taken up again ends as the whole does.
    #[test]
    fn a_stay_is_lived_on_from_any_hour(tiny in tiny(12), way in ways(), cut in 0.0..1.0) {
        let tracks = tiny.tracks();
        let policy = way.policy();
        let station = tiny.station(&tracks, policy.as_ref());
        let hours = tiny.hours();
        let stay = hours[0]..=hours[hours.len() - 1];
        let cut = hours[(cut * hours.len() as f64) as usize];
        for member in 0..tracks.members() {
            let mut whole = station.arrives(*stay.start());
            station.live(member, &stay, &mut whole, *stay.end());
            let mut first = station.arrives(*stay.start());
            station.live(member, &stay, &mut first, cut);
            let mut on = first.clone();
            station.live(member, &stay, &mut on, *stay.end());
            prop_assert_eq!(&on, &whole);
            prop_assert!(first.hour <= cut + 1 && first.fuel_t >= whole.fuel_t);
        }
    }

    /// Keeping to the mean pole exactly is the lower figure, and the policy `hold`, and every policy
    /// that has nowhere else to be.
    #[test]
    fn holding_is_sitting_on_the_mean_pole(tiny in tiny(10)) {
        let tiny = Tiny { haunt_km: [0.0; 2], ..tiny };
        let tracks = tiny.tracks();
        let sitting = vec![[0.0; 2]; tiny.hours().len()];
        let attained: Vec<Option<f64>> = (0..tiny.members.len())
            .map(|member| tiny.attained(&tracks, member, &sitting).map(|hours| hours as f64))
            .collect();
        let share = attained.iter().flatten().count() as f64 / attained.len() as f64;
        let nowhere = Way::Pursue { leash_km: 0.0, break_off_kp: 9.0 };
        for way in [Way::Hold, Way::Ambush, nowhere] {
            let stay = tiny.stay(&tracks, &*way.policy());
            let of_members: Vec<Option<f64>> =
                stay.outcome.members.iter().map(|member| member.attained_after_h).collect();
            prop_assert_eq!(&of_members, &attained);
            prop_assert_eq!(stay.attainment.probability, share);
            prop_assert_eq!(stay.attainment.if_holding, share);
        }
    }

    /// No policy, and no path among all that go between the poles of the hours, does better than the
    /// bound; where an instant is enough, the bound is what a march straight to the pole attains.
    #[test]
    fn foresight_bounds_every_policy_and_every_path(tiny in tiny(5), way in ways()) {
        let tracks = tiny.tracks();
        let attainment = tiny.stay(&tracks, &*way.policy()).attainment;
        let members = tiny.members.len();
        let foreseen = (0..members).filter(|&member| tiny.foresight(&tracks, member)).count();
        let foreseen = foreseen as f64 / members as f64;
        prop_assert!(attainment.if_clairvoyant >= attainment.probability);
        prop_assert!(attainment.if_clairvoyant >= attainment.if_holding);
        prop_assert!(attainment.if_clairvoyant >= foreseen);
        if tiny.measure.for_h == 0.0 {
            prop_assert_eq!(attainment.if_clairvoyant, foreseen);
        }
    }

    /// What every policy keeps: it knows nothing beyond the hour, goes no farther than its pace, fuel and
    /// leash let it, and is back at the mean pole when it must leave.
    #[test]
    fn the_craft_knows_only_the_hour_and_comes_back(tiny in tiny(12), way in ways()) {
        let tracks = tiny.tracks();
        let tiny = Tiny { members: tiny.members[..1].to_vec(), ..tiny };
        let overheard = Overheard { policy: way.policy(), told: Mutex::default() };
        let (station, hours) = (tiny.station(&tracks, &overheard), tiny.hours());
        let stay = hours[0]..=hours[hours.len() - 1];
        station.live(0, &stay, &mut station.arrives(*stay.start()), *stay.end());
        let told = overheard.told.into_inner().unwrap();
        prop_assert_eq!(told.len(), hours.len());
        let farthest = match way {
            Way::Hold => 0.0,
            Way::Ambush => apart(tiny.haunt_km, [0.0; 2]),
            Way::Pursue { leash_km, .. } => leash_km.max(apart(tiny.haunt_km, [0.0; 2])),
        };
        let mut burnt_t = 0.0;
        for (known, &hour) in told.iter().zip(&tiny.hours()) {
            prop_assert_eq!(known.hour, hour as f64);
            prop_assert_eq!(known.kp_thirds, tracks.kp_thirds(0, hour));
            let read = tracks
                .offset_km(0, hour)
                .filter(|&pole| apart(pole, known.craft_km) <= tiny.reading_range_km);
            prop_assert_eq!(known.reading_km, read);
            prop_assert!(apart(known.craft_km, [0.0; 2]) <= farthest + 1e-9);
        }
        for pair in told.windows(2) {
            let hour = pair[0].hour as usize;
            let gone = apart(pair[0].craft_km, pair[1].craft_km);
            prop_assert!(gone <= tiny.reach_km[hour] + 1e-9);
            if gone > 0.0 {
                burnt_t += gone / tiny.reach_km[hour] * tiny.chase_t_per_h[hour];
            }
        }
        prop_assert!(burnt_t <= tiny.chase_fuel_t + 1e-9, "{burnt_t}");
        let last = told.last().unwrap();
        prop_assert!(apart(last.craft_km, [0.0; 2]) < 1e-6, "{:?}", last.craft_km);
    }

    /// With pace, sight and leash to spare the pursuit stands each hour where the pole was an hour
    /// before, so that it comes as close as the pole's shortest hourly way.
    #[test]
    fn an_unhindered_pursuit_guarantees_the_shortest_hourly_way(tiny in tiny(10)) {
        let hours = tiny.members[0].len();
        let members: Vec<Vec<Hour>> = tiny
            .members
            .iter()
            .map(|row| row.iter().map(|(field, _)| (field.map(|nt| nt.clamp(-300.0, 300.0)), None)).collect())
            .collect();
        let tiny = Tiny {
            members,
            reach_km: vec![200.0; hours],
            chase_t_per_h: vec![0.0; hours],
            reading_range_km: 200.0,
            ..tiny
        };
        let tracks = tiny.tracks();
        let way = Way::Pursue { leash_km: 200.0, break_off_kp: 9.0 };
        let stay = tiny.stay(&tracks, &*way.policy());
        let hours = tiny.hours();
        for (member, outcome) in stay.outcome.members.iter().enumerate() {
            let pole = |hour: usize| tracks.offset_km(member, hour).expect("no storm takes it away");
            // At the last hour the craft is back at the mean pole.
            let guaranteed = hours[..hours.len() - 1]
                .windows(2)
                .map(|pair| apart(pole(pair[0]), pole(pair[1])))
                .fold(f64::INFINITY, f64::min);
            prop_assert!(outcome.closest_km <= guaranteed + 1e-9);
        }
    }
}
