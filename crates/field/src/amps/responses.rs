//! The response of the ground field along a path, made once for all members.

use std::sync::Arc;

use dipward_plugin::{Control, DisturbanceRequest, Error};

use crate::{
    GaussModel,
    amps::ground::{GroundField, Response},
    path_answers::{MagneticTrail, PathAnswers},
};

/// The model, the main field that its coordinates follow, and the last request's responses.
#[derive(Debug)]
pub(crate) struct Responses {
    ground: GroundField,
    main: GaussModel,
    answers: PathAnswers<Response>,
}

impl Responses {
    pub(crate) fn new(ground: GroundField, main: GaussModel) -> Self {
        Self { ground, main, answers: PathAnswers::default() }
    }

    /// The main field that the magnetic coordinates follow.
    pub(crate) fn main(&self) -> &GaussModel {
        &self.main
    }

    /// The response at each hour of the request, in order.
    pub(crate) fn along(
        &self,
        request: &DisturbanceRequest<'_>,
        control: &Control,
    ) -> Result<Arc<[Response]>, Error> {
        self.answers.along(request, || {
            let mut trail = MagneticTrail::new(&self.main);
            let hours = request.hours.iter().zip(request.mean_pole);
            hours
                .map(|(&hour, pole)| {
                    let year = request.clock.decimal_year(hour);
                    let on_trail = trail.at(year, *pole, control)?;
                    let instant = request.clock.instant(hour);
                    Ok(self.ground.response_at(&on_trail.traced, &on_trail.stand, instant))
                })
                .collect()
        })
    }
}
