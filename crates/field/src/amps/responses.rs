//! The response of the ground field along the mean pole's path, made once for all members.

use std::sync::{Arc, Mutex, PoisonError};

use dipward_geodesy::Position;
use dipward_plugin::{Clock, Control, DisturbanceRequest, Error, MainField, Site};

use crate::{
    GaussModel,
    amps::{
        far_field::FarField,
        field_line::Stand,
        ground::{GroundField, Response},
        magnetic_place::MagneticPlace,
        vector::{norm, plus},
    },
};

/// How far the pole may drift before field lines are traced anew, and for how long.
const FARTHEST_KM: f64 = 40.0;
const LONGEST_YEARS: f64 = 0.5;

/// The model, the main field that its coordinates follow, and the last request's responses.
///
/// They depend on the request alone, so that it does not matter which member finds them made.
#[derive(Debug)]
pub(crate) struct Responses {
    ground: GroundField,
    main: GaussModel,
    last: Mutex<Option<Arc<Path>>>,
}

/// The responses along one path.
#[derive(Debug)]
struct Path {
    clock: Clock,
    hours: Vec<f64>,
    mean_pole: Vec<Position>,
    responses: Vec<Response>,
}

impl Path {
    fn is_of(&self, request: &DisturbanceRequest<'_>) -> bool {
        self.clock == request.clock
            && self.hours == request.hours
            && self.mean_pole == request.mean_pole
    }
}

impl Responses {
    pub(crate) fn new(ground: GroundField, main: GaussModel) -> Self {
        Self { ground, main, last: Mutex::new(None) }
    }

    /// Passes the response at each hour of the request, in order.
    pub(crate) fn along<T>(
        &self,
        request: &DisturbanceRequest<'_>,
        control: &Control,
        f: impl FnOnce(&[Response]) -> T,
    ) -> Result<T, Error> {
        let path = {
            // The lock is held while they are made: the other members need them just as much. A
            // panic elsewhere cannot leave the place half filled.
            let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
            match last.as_ref().filter(|path| path.is_of(request)) {
                Some(path) => Arc::clone(path),
                None => Arc::clone(last.insert(Arc::new(self.make(request, control)?))),
            }
        };
        Ok(f(&path.responses))
    }

    fn make(&self, request: &DisturbanceRequest<'_>, control: &Control) -> Result<Path, Error> {
        let DisturbanceRequest { clock, hours, mean_pole, .. } = *request;
        let mut traced: Option<(f64, MagneticPlace)> = None;
        let mut responses = Vec::with_capacity(hours.len());
        for (&hour, pole) in hours.iter().zip(mean_pole) {
            let site = Site { latitude_deg: pole.y(), longitude_deg: pole.x(), height_km: 0.0 };
            let stand = Stand::of(&site);
            let year = clock.decimal_year(hour);
            let near = traced.filter(|(then, place)| {
                let away_km =
                    norm(plus(stand.place, -1.0, place.stand.place)) * FarField::RADIUS_KM;
                away_km <= FARTHEST_KM && (year - then).abs() <= LONGEST_YEARS
            });
            let (then, place) = match near {
                Some(near) => near,
                None => {
                    control.check()?;
                    (year, MagneticPlace::of(&self.main, self.epoch(year), &site)?)
                }
            };
            traced = Some((then, place));
            responses.push(self.ground.response_at(&place, &stand, clock.instant(hour)));
        }
        Ok(Path { clock, hours: hours.to_vec(), mean_pole: mean_pole.to_vec(), responses })
    }

    /// The main field's own years end where its lines carried on would begin to lead astray; the
    /// field lines of its last year are the better guess.
    fn epoch(&self, decimal_year: f64) -> f64 {
        let years = self.main.years();
        decimal_year.clamp(*years.start(), *years.end())
    }
}
