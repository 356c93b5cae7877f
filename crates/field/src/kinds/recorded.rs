use std::{collections::BTreeSet, path::PathBuf};

use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{
    Assumption, BuildContext, Control, Disturbance, DisturbancePoint, DisturbanceRequest, Error,
    ExternalField, Fault, Faults, Provenance, Spec,
};
use jiff::{Timestamp, tz::Offset};
use rand::{Rng, RngExt};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{
    Kp, KpHistory,
    kp_bootstrap::utc_date,
    observatory::{FILLED_GAP_H, Stretches, Wanted, read_station_files},
    streams::{Draw, stream},
};

const DAY_H: f64 = 24.0;

/// Disturbance as a station recorded it in past years, in real stretches of the same season.
///
/// Each stretch keeps local solar time, and the direction of the vector about the Sun's azimuth, as it
/// goes from the station to the pole; its size is not changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RecordedSpec {
    /// Your own copy of the station's hours or minutes, plain or gzip, in any order: WDC hourly
    /// records, IAGA-2002, or CSV of perturbations (`time_utc,north_nt,east_nt`).
    #[schemars(length(min = 1))]
    pub files: Vec<PathBuf>,
    /// Where the station stands.
    pub station: StationPlace,
    /// How far from the same day of another year a stretch may begin.
    #[serde(default = "season_window_days")]
    #[schemars(range(min = 0, max = 182))]
    pub season_window_days: u16,
    /// Length of a stretch; shorter ones keep less of a storm and its aftermath together.
    #[serde(default = "block_days")]
    #[schemars(range(min = 1, max = 365))]
    pub block_days: u16,
}

/// Where a station stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StationPlace {
    /// Geodetic latitude, north positive.
    #[schemars(range(min = -90.0, max = 90.0))]
    pub latitude_deg: f64,
    /// Longitude, east positive.
    #[schemars(range(min = -180.0, max = 360.0))]
    pub longitude_deg: f64,
}

const fn season_window_days() -> u16 {
    45
}

const fn block_days() -> u16 {
    20
}

impl Spec for RecordedSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "recorded";
    const SUMMARY: &'static str =
        "disturbance as a station recorded it in past years, real stretches of the same season";
    const EXAMPLE: &'static str = "{kind: recorded, files: [my-station.csv.gz], station: \
                                   {latitude_deg: -66.7, longitude_deg: 140.0}, block_days: 10}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        let StationPlace { latitude_deg, longitude_deg } = self.station;
        if latitude_deg * context.hemisphere().sign() <= 0.0 {
            return Err(Fault::at(
                "/station/latitude_deg",
                format!("the station, at {latitude_deg}, is not in the hemisphere of the pole"),
            )
            .help("take a station of the same polar cap: the seasons of the other are half a year off")
            .into());
        }
        let mut faults = Faults::default();
        let mut files = Vec::new();
        for (at, path) in self.files.iter().enumerate() {
            match context.read(path) {
                Ok(bytes) => files.push((path.to_string_lossy().into_owned(), bytes)),
                Err(error) => faults.push(Fault::at(format!("/files/{at}"), error.to_string())),
            }
        }
        let files = faults.into_result(files)?;
        let place = position(latitude_deg, longitude_deg);
        let record = read_station_files(&files, Some(place))
            .map_err(|error| Faults::from(Fault::at("/files", error.to_string())))?;
        let stretches = Stretches::of(record);
        let window_h = context.window_hours();
        let recorded = Recorded { spec: self, stretches, window_h, years: BTreeSet::new() };
        recorded.over_the_window(context).map(|recorded| Box::new(recorded) as Box<dyn Disturbance>)
    }
}

/// A record to replay.
#[derive(Debug)]
struct Recorded {
    spec: RecordedSpec,
    stretches: Stretches,
    window_h: f64,
    /// The years that have whole stretches.
    years: BTreeSet<i16>,
}

impl Recorded {
    /// Holds the record to the window: whatever day and hour a stretch must begin at, there is one.
    fn over_the_window(mut self, context: &BuildContext) -> Result<Self, Faults> {
        let year = |instant: Timestamp| Offset::UTC.to_datetime(instant).year();
        // An hour more covers the begins between two whole hours that a finer record has.
        let between_h = if self.stretches.record().cadence_h < 1.0 { 1.0 } else { 0.0 };
        let mut years = BTreeSet::new();
        let days = (self.window_h / DAY_H).max(0.0) as u32;
        for begin_h in (0..=days).map(|day| DAY_H * f64::from(day)) {
            let begin = context.clock().instant(begin_h);
            for later_h in -12..=12 {
                let mut wanted = self.wanted(begin, begin_h, self.window_h, f64::from(later_h));
                wanted.length_h += between_h;
                if self.stretches.whole_begins(wanted).next().is_none() {
                    return Err(self.no_stretch(wanted));
                }
                if later_h == 0 {
                    years.extend(self.stretches.whole_begins(wanted).map(year));
                }
            }
        }
        self.years = years;
        Ok(self)
    }

    /// What a stretch that begins at an hour must be like; none need reach beyond the last hour.
    fn wanted(&self, begin: Timestamp, begin_h: f64, last_h: f64, later_h: f64) -> Wanted {
        Wanted {
            begin,
            length_h: (f64::from(self.spec.block_days) * DAY_H).min((last_h - begin_h).max(0.0)),
            later_h,
            window_days: self.spec.season_window_days,
        }
    }

    /// The fault of a record without a whole stretch, and what it has.
    fn no_stretch(&self, wanted: Wanted) -> Faults {
        let record = self.stretches.record();
        let last = record.perturbation_nt.len().saturating_sub(1);
        let (from, to) = (utc_date(record.start), utc_date(record.instant(last)));
        let longest = self.stretches.begins(wanted).max_by(|a, b| a.1.total_cmp(&b.1));
        let has = match longest {
            Some((begin, hours)) => format!(
                "the longest whole one of that season is {:.1} days from {}",
                hours / DAY_H,
                utc_date(begin)
            ),
            None => "it has no hour of that season".into(),
        };
        Fault::at(
            "/files",
            format!(
                "the record of {} ({from} to {to}, {} intervals recorded) has no whole stretch of {:.1} \
                 days that begins within {} days of {} of any year: {has}",
                record.name,
                record.recorded(),
                wanted.length_h / DAY_H,
                wanted.window_days,
                utc_date(wanted.begin).strftime("%-d %B")
            ),
        )
        .help("give more files, a smaller block_days or a wider season_window_days")
        .into()
    }

    /// Draws one of the whole stretches: where the real one begins.
    fn draw(&self, wanted: Wanted, rng: &mut impl Rng) -> Result<Timestamp, Error> {
        // One number a stretch, whatever there is to choose from.
        let drawn: u64 = rng.random();
        let count = self.stretches.whole_begins(wanted).count();
        let pick = (u128::from(drawn) * count as u128) >> 64;
        self.stretches.whole_begins(wanted).nth(pick as usize).ok_or_else(|| {
            Error::Outside(format!(
                "the record of {} has no whole stretch of {:.1} days that begins within {} days of {}",
                self.stretches.record().name,
                wanted.length_h / DAY_H,
                wanted.window_days,
                wanted.begin
            ))
        })
    }
}

impl Disturbance for Recorded {
    fn provenance(&self) -> Provenance {
        let files: Vec<String> =
            self.spec.files.iter().map(|file| file.to_string_lossy().into_owned()).collect();
        Provenance {
            name: format!("perturbation recorded at {}, replayed", self.stretches.record().name),
            source: files.join(", "),
            licence: Some(
                "the user's own copy; hours of the World Data Centre for Geomagnetism, Edinburgh, are \
                 for scientific use: acknowledge the centre and the station's institute"
                    .into(),
            ),
        }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        control.check()?;
        let (Some(&first_h), Some(&last_h)) = (request.hours.first(), request.hours.last()) else {
            return Ok(());
        };
        if !(first_h.is_finite() && last_h.is_finite()) {
            return Err(Error::Outside(format!("no hours run from {first_h} to {last_h}")));
        }
        let mut rng = stream(request.seed, member, Draw::Stretches);
        let block = self.spec.block_days.max(1);
        // The first stretch is cut at random, so that the joints fall anywhere.
        let mut length_h = DAY_H * f64::from(rng.random_range(1..=block));
        // From the start of the window on, so that any hours of it are asked of the same stretches.
        let mut begin_h = if first_h < 0.0 { (first_h / DAY_H).floor() * DAY_H } else { 0.0 };
        let mut places = request.hours.iter().zip(request.mean_pole).zip(out).peekable();
        while let Some(&((_, pole), _)) = places.peek() {
            let end_h = begin_h + length_h;
            if end_h <= first_h {
                let _: u64 = rng.random();
            } else {
                let later_h = later_h(self.stretches.place().x(), pole.x());
                let begin = request.clock.instant(begin_h);
                let mut wanted = self.wanted(begin, begin_h, last_h.max(self.window_h), later_h);
                wanted.length_h = wanted.length_h.min(length_h);
                let real = self.draw(wanted, &mut rng)?;
                let shift_ms = real.as_millisecond() - begin.as_millisecond();
                while let Some(((&hour, pole), out)) = places.next_if(|next| *next.0.0 < end_h) {
                    let instant = request.clock.instant(hour);
                    *out = self.field(instant, shift_ms, pole.x(), request.hemisphere)?;
                }
            }
            begin_h = end_h;
            length_h = DAY_H * f64::from(block);
        }
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let record = self.stretches.record();
        let Self { spec: RecordedSpec { season_window_days, block_days, .. }, years, .. } = self;
        let (name, place) = (&record.name, record.place);
        let (first, last) = (years.first(), years.last());
        let (first, last) = (first.copied().unwrap_or(0), last.copied().unwrap_or(0));
        let mut told = vec![
            format!(
                "the disturbance at the pole will be like that recorded at {name} ({:.2}, {:.2}) within \
                 {season_window_days} days of the same season of {} years from {first} to {last}, in real \
                 stretches of up to {block_days} days",
                place.y(),
                place.x(),
                years.len()
            ),
            "what was recorded is carried to the pole at its size, by local solar time (to the nearest \
             recorded interval) and with its direction about the Sun kept: pole and station are taken to \
             lie under the same currents"
                .into(),
        ];
        if record.cadence_h > 0.5 {
            told.push(
                "the record holds means over an hour: a true instant strays farther, and between the \
                 hours the field is taken to run straight"
                    .into(),
            );
        }
        if self.stretches.filled() > 0 {
            told.push(format!(
                "gaps of up to {FILLED_GAP_H} h are filled straight, {} of {} intervals",
                self.stretches.filled(),
                record.perturbation_nt.len()
            ));
        }
        told.extend(record.remarks.iter().map(|remark| format!("record of {name}: {remark}")));
        told.into_iter().map(|text| Assumption::new("pole.disturbance", text)).collect()
    }
}

impl Recorded {
    /// The field at an instant of the voyage by what was recorded at the real instant.
    fn field(
        &self,
        instant: Timestamp,
        shift_ms: i64,
        pole_longitude_deg: f64,
        hemisphere: Hemisphere,
    ) -> Result<ExternalField, Error> {
        let real = Timestamp::from_millisecond(instant.as_millisecond().saturating_add(shift_ms))
            .map_err(|error| Error::Outside(error.to_string()))?;
        // A draw holds its whole stretch.
        let [north, east] = self.stretches.at(real).ok_or_else(|| {
            Error::Outside(format!(
                "the record of {} holds nothing at {real}",
                self.stretches.record().name
            ))
        })?;
        let shift_h = shift_ms.rem_euclid(86_400_000) as f64 / 3_600_000.0;
        let ahead_h = later_h(self.stretches.place().x(), pole_longitude_deg) - shift_h;
        // The Sun goes round clockwise in the north, counterclockwise in the south.
        let (sine, cosine) = (hemisphere.sign() * 15.0 * ahead_h).to_radians().sin_cos();
        Ok(ExternalField {
            north_nt: north * cosine - east * sine,
            east_nt: north * sine + east * cosine,
            kp_thirds: KpHistory::embedded().at(real).map(Kp::thirds),
        })
    }
}

/// How much later by the clock than at the pole the same local solar time comes at the station, hours
/// from -12 to 12.
fn later_h(station_longitude_deg: f64, pole_longitude_deg: f64) -> f64 {
    ((pole_longitude_deg - station_longitude_deg) / 15.0 + 12.0).rem_euclid(24.0) - 12.0
}

#[cfg(test)]
mod tests {
    use std::fs;

    use dipward_geodesy::Position;
    use dipward_plugin::Clock;
    use jiff::ToSpan;
    use proptest::prelude::*;

    use super::*;

    /// Azimuth of a vector 90 degrees counterclockwise of the Sun, by local mean time, radians.
    fn azimuth(instant: Timestamp, longitude_deg: f64, hemisphere: Hemisphere) -> f64 {
        let utc_h = instant.as_millisecond().rem_euclid(86_400_000) as f64 / 3_600_000.0;
        let local_h = utc_h + longitude_deg / 15.0;
        let sun_deg = match hemisphere {
            Hemisphere::North => 15.0 * local_h,
            Hemisphere::South => 180.0 - 15.0 * local_h,
        };
        (sun_deg - 90.0).to_radians()
    }

    /// Three invented years of hours of a vector that keeps to the Sun, its length the day of the year.
    fn table(longitude_deg: f64, hemisphere: Hemisphere) -> String {
        let mut text = String::from("time_utc,north_nt,east_nt\n");
        let start: Timestamp = "2001-01-01T00:00Z".parse().unwrap();
        for hour in 0..3 * 8760 {
            let begin = start.checked_add(hour.hours()).unwrap();
            let middle = begin.checked_add(30.minutes()).unwrap();
            let length = f64::from(Offset::UTC.to_datetime(begin).day_of_year());
            let (east, north) = azimuth(middle, longitude_deg, hemisphere).sin_cos();
            text += &format!("{begin},{:.3},{:.3}\n", length * north, length * east);
        }
        text
    }

    fn context(folder: &std::path::Path, hemisphere: Hemisphere, days: f64) -> BuildContext {
        let clock = Clock::new("2027-01-20T00:00Z".parse().unwrap());
        BuildContext::new(folder, hemisphere, clock, 24.0 * days)
    }

    fn spec(latitude_deg: f64, longitude_deg: f64) -> RecordedSpec {
        RecordedSpec {
            files: vec!["t.csv".into()],
            station: StationPlace { latitude_deg, longitude_deg },
            season_window_days: 10,
            block_days: 7,
        }
    }

    fn member(
        built: &dyn Disturbance,
        context: &BuildContext,
        hours: &[f64],
        pole: Position,
        seed: u64,
        number: u32,
    ) -> Vec<ExternalField> {
        let mean_pole = vec![pole; hours.len()];
        let request = DisturbanceRequest {
            clock: context.clock(),
            hours,
            mean_pole: &mean_pole,
            hemisphere: context.hemisphere(),
            seed,
        };
        let mut out = vec![ExternalField::default(); hours.len()];
        built.member(&request, number, &Control::default(), &mut out).unwrap();
        out
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]
        #[test]
        fn the_direction_about_the_sun_is_kept(
            station_deg in -180.0..180.0_f64,
            pole_deg in -180.0..180.0_f64,
            south in any::<bool>(),
            seed in any::<u64>(),
        ) {
            let hemisphere = if south { Hemisphere::South } else { Hemisphere::North };
            let folder = tempfile::tempdir().unwrap();
            fs::write(folder.path().join("t.csv"), table(station_deg, hemisphere)).unwrap();
            let context = context(folder.path(), hemisphere, 30.0);
            let built = spec(70.0 * hemisphere.sign(), station_deg).build(&context).unwrap();
            let hours: Vec<f64> = (0..=720).map(f64::from).collect();
            let pole = position(80.0 * hemisphere.sign(), pole_deg);
            let all = member(&*built, &context, &hours, pole, seed, 3);
            for (&hour, field) in hours.iter().zip(&all) {
                let instant = context.clock().instant(hour);
                let length = field.north_nt.hypot(field.east_nt);
                let (east, north) = azimuth(instant, pole_deg, hemisphere).sin_cos();
                prop_assert!((field.north_nt - length * north).abs() < 0.01, "{field:?}");
                prop_assert!((field.east_nt - length * east).abs() < 0.01, "{field:?}");
                // Of the season: within ten days of the day, and a week into a stretch.
                let day = f64::from(Offset::UTC.to_datetime(instant).day_of_year());
                prop_assert!((length - day).abs() < 19.0, "{length} on {day}");
                prop_assert!(field.kp_thirds.is_some());
            }
            // Any hours are asked of the same stretches.
            let finer: Vec<f64> = (200..600).map(|half| f64::from(half) / 2.0).collect();
            let part = member(&*built, &context, &finer, pole, seed, 3);
            for (hour, field) in finer.iter().zip(part).filter(|(hour, _)| hour.fract() == 0.0) {
                prop_assert_eq!(field, all[*hour as usize]);
            }
        }
    }

    #[test]
    fn members_and_seeds_draw_stretches_of_their_own() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("t.csv"), table(140.0, Hemisphere::South)).unwrap();
        let context = context(folder.path(), Hemisphere::South, 30.0);
        let built = spec(-70.0, 140.0).build(&context).unwrap();
        let hours: Vec<f64> = (0..=720).map(f64::from).collect();
        let of =
            |seed, number| member(&*built, &context, &hours, position(-80.0, 135.0), seed, number);
        assert_eq!(of(1, 2), of(1, 2));
        assert_ne!(of(1, 2), of(1, 3));
        assert_ne!(of(1, 2), of(2, 2));
        let told = built.assumptions();
        assert!(told[0].text.contains("of 3 years from 2001 to 2003"), "{}", told[0].text);
    }

    #[test]
    fn what_does_not_fit_is_told_at_its_key() {
        let folder = tempfile::tempdir().unwrap();
        let whole = table(140.0, Hemisphere::South);
        let fault = |table: &str, spec: RecordedSpec, days: f64| {
            fs::write(folder.path().join("t.csv"), table).unwrap();
            let faults = spec.build(&context(folder.path(), Hemisphere::South, days)).unwrap_err();
            let fault = faults.as_slice()[0].clone();
            (fault.pointer().to_owned(), fault.message().to_owned())
        };
        let (pointer, told) = fault(&whole, spec(70.0, 140.0), 30.0);
        assert_eq!(pointer, "/station/latitude_deg");
        assert!(told.contains("hemisphere"), "{told}");
        let absent = RecordedSpec { files: vec!["t.csv".into(), "u".into()], ..spec(-70.0, 140.0) };
        assert_eq!(fault(&whole, absent, 30.0).0, "/files/1");
        let winter: String = whole
            .lines()
            .filter(|line| line.starts_with("time") || line.contains("-06-"))
            .map(|line| line.to_owned() + "\n")
            .collect();
        let (pointer, told) = fault(&winter, spec(-70.0, 140.0), 30.0);
        assert_eq!(pointer, "/files");
        assert!(told.contains("7.0 days that begins within 10 days of 20 January"), "{told}");
        assert!(told.contains("no hour of that season"), "{told}");
        // A gap of four hours every Sunday or so: no stretch of a week is whole.
        let holes: String = whole
            .lines()
            .enumerate()
            .filter(|(at, _)| *at == 0 || at % 150 > 3)
            .map(|(_, line)| line.to_owned() + "\n")
            .collect();
        let (_, told) = fault(&holes, spec(-70.0, 140.0), 30.0);
        assert!(told.contains("is 5.9 days from"), "{told}");
        // But a voyage of five days finds one, and gaps of three hours are filled.
        fs::write(folder.path().join("t.csv"), &holes).unwrap();
        assert!(spec(-70.0, 140.0).build(&context(folder.path(), Hemisphere::South, 5.0)).is_ok());
        let holes = whole.lines().enumerate().filter(|(at, _)| *at == 0 || at % 150 > 2);
        let holes: String = holes.map(|(_, line)| line.to_owned() + "\n").collect();
        fs::write(folder.path().join("t.csv"), &holes).unwrap();
        assert!(spec(-70.0, 140.0).build(&context(folder.path(), Hemisphere::South, 30.0)).is_ok());
    }
}
