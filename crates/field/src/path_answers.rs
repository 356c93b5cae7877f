//! What depends on a request's places and hours alone, made once for all its members.

use std::sync::{Arc, Mutex, PoisonError};

use dipward_geodesy::Position;
use dipward_plugin::{Clock, Control, DisturbanceRequest, Error, MainField, Site};
use jiff::Timestamp;

use crate::{
    GaussModel,
    amps::{
        MagneticPlace,
        far_field::FarField,
        field_line::Stand,
        vector::{norm, plus},
    },
};

/// How far the pole may drift before field lines are traced anew, and for how long.
const FARTHEST_KM: f64 = 40.0;
const LONGEST_YEARS: f64 = 0.5;

/// The answers to the last request.
///
/// They depend on the request alone, so that it does not matter which member finds them made.
#[derive(Debug)]
pub(crate) struct PathAnswers<T>(Mutex<Option<Arc<Path<T>>>>);

#[derive(Debug)]
struct Path<T> {
    clock: Clock,
    hours: Vec<f64>,
    places: Vec<Position>,
    answers: Arc<[T]>,
}

impl<T> Default for PathAnswers<T> {
    fn default() -> Self {
        Self(Mutex::new(None))
    }
}

impl<T> PathAnswers<T> {
    /// The answer at each hour of the request, in order; `make` is called where the last request was
    /// another.
    pub(crate) fn along(
        &self,
        request: &DisturbanceRequest<'_>,
        make: impl FnOnce() -> Result<Vec<T>, Error>,
    ) -> Result<Arc<[T]>, Error> {
        let DisturbanceRequest { clock, hours, mean_pole, .. } = *request;
        let is_of = |path: &&Arc<Path<T>>| {
            path.clock == clock && path.hours == hours && path.places == mean_pole
        };
        // The lock is held while they are made: the other members need them just as much. A panic
        // elsewhere cannot leave the place half filled.
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(path) = last.as_ref().filter(is_of) {
            return Ok(Arc::clone(&path.answers));
        }
        let answers: Arc<[T]> = make()?.into();
        debug_assert_eq!(answers.len(), hours.len(), "an answer for each hour");
        let (hours, places) = (hours.to_vec(), mean_pole.to_vec());
        *last = Some(Arc::new(Path { clock, hours, places, answers: Arc::clone(&answers) }));
        Ok(answers)
    }
}

/// Magnetic coordinates along a path: field lines are traced anew where it has gone far.
#[derive(Debug)]
pub(crate) struct MagneticTrail<'a> {
    main: &'a GaussModel,
    traced: Option<(f64, MagneticPlace)>,
}

/// A place on the path and the one that was traced near it.
#[derive(Debug)]
pub(crate) struct OnTrail {
    pub(crate) traced: MagneticPlace,
    pub(crate) stand: Stand,
}

impl<'a> MagneticTrail<'a> {
    pub(crate) const fn new(main: &'a GaussModel) -> Self {
        Self { main, traced: None }
    }

    pub(crate) fn at(
        &mut self,
        decimal_year: f64,
        place: Position,
        control: &Control,
    ) -> Result<OnTrail, Error> {
        let site = Site { latitude_deg: place.y(), longitude_deg: place.x(), height_km: 0.0 };
        let stand = Stand::of(&site);
        let near = self.traced.filter(|(then, place)| {
            let away_km = norm(plus(stand.place, -1.0, place.stand.place)) * FarField::RADIUS_KM;
            away_km <= FARTHEST_KM && (decimal_year - then).abs() <= LONGEST_YEARS
        });
        let (then, traced) = match near {
            Some(near) => near,
            None => {
                control.check()?;
                // The main field's own years end where its lines carried on would begin to lead
                // astray; the field lines of its last year are the better guess.
                let years = self.main.years();
                let year = decimal_year.clamp(*years.start(), *years.end());
                (decimal_year, MagneticPlace::of(self.main, year, &site)?)
            }
        };
        self.traced = Some((then, traced));
        Ok(OnTrail { traced, stand })
    }
}

impl OnTrail {
    /// Quasi-dipole latitude, degrees, and magnetic local time, hours.
    pub(crate) fn magnetic_hour(&self, instant: Timestamp) -> (f64, f64) {
        let nearby = self.traced.nearby(self.stand.place);
        let sun = crate::amps::sun_direction(instant);
        (nearby.latitude_deg, self.traced.dipole.local_time_h(nearby.longitude_deg, sun))
    }
}
