//! The fix from readings to result.

use dipward_geodesy::Hemisphere;
use dipward_plugin::{Clock, ComponentSigma, Error, MainField};

use super::{
    belief::Belief,
    bias::{COMMON, State},
    draws::draw,
    next_reading::{best_next, usual_noise_nt},
    observation::Site,
    pole_fix::{JacobianSource, PoleFix, Residual},
    poles::{Poles, estimate},
    reading::Reading,
    settings::FixSettings,
    tail::weight,
};
use crate::{
    DipPole, Kp, dip_pole,
    learnt::{LearntResponse, Refit},
    tangent::TangentPlane,
};

/// More readings than this are refused: work grows with their number's cube.
const MOST_READINGS: usize = 250;
/// Sigmas are at least this large, so that a part of the state that is held to be known has an
/// inverse too.
const LEAST_NT: f64 = 1e-3;
const LEAST_NT_PER_KM: f64 = 1e-6;

/// Finds the pole by readings, with a model's pole as what is believed beforehand.
///
/// Gauss-Newton steps from the model and, where readings have a bearing and a dip or more, from what
/// the middle one of them says by itself; the more probable end is the fix. Each step is exact in
/// the model's field, however curved.
///
/// What is told of a pole is the middle of where a thousand states, drawn from all that may be after
/// the readings, put it, and the ellipse of their own spread about it that holds 95 in 100 of them. So
/// it holds the true pole as often where a bearing close to the pole leaves a wedge open and no
/// ellipse: `docs/pole.md` has the shares, which a test computes. The draws are the same ones for the
/// same readings.
///
/// # Errors
///
/// [`Error::Outside`] for no reading or more than 250, or a time outside the model's years;
/// [`Error::Unsolved`] where no pole is found.
///
/// # Complexity
///
/// The cube of the number of readings: half a second for 100.
pub fn fix_pole(
    model: &dyn MainField,
    hemisphere: Hemisphere,
    readings: &[Reading],
    settings: &FixSettings,
) -> Result<PoleFix, Error> {
    let Some((last_index, last)) = readings.iter().enumerate().max_by_key(|(_, one)| one.time)
    else {
        return Err(Error::Outside("a fix needs at least one reading".into()));
    };
    if readings.len() > MOST_READINGS {
        return Err(Error::Outside(format!(
            "a fix takes at most {MOST_READINGS} readings, not {}",
            readings.len()
        )));
    }
    let year = Clock::decimal_year_of(last.time);
    let prior = dip_pole(model, hemisphere, year, last.height_km)?;
    fix_about(model, &prior, readings, last_index, settings)
}

/// The same where the model's pole at the time of the last reading is known already.
pub(super) fn fix_about(
    model: &dyn MainField,
    prior: &DipPole,
    readings: &[Reading],
    last_index: usize,
    settings: &FixSettings,
) -> Result<PoleFix, Error> {
    let hemisphere = prior.hemisphere;
    let unsolved = || Error::Unsolved("the readings do not make a fix".into());
    let last = readings.get(last_index).ok_or_else(unsolved)?;
    let plane = TangentPlane::at(prior.position, last.height_km).isotropic();
    let sites: Vec<Site<'_>> = readings
        .iter()
        .map(|reading| Site::of(model, &plane, reading))
        .collect::<Result<_, _>>()?;
    let bias = match settings.prior_sigma_km {
        Some(sigma_km) => {
            let one_nt = prior.ellipse(ComponentSigma::isotropic(1.0));
            ComponentSigma::isotropic(sigma_km / one_nt.rms_km())
        }
        None => prior.sigma.total(),
    };
    let bias = ComponentSigma {
        north_nt: bias.north_nt.max(LEAST_NT),
        east_nt: bias.east_nt.max(LEAST_NT),
    };
    let gradient = settings
        .gradient_nt_per_km
        .unwrap_or(prior.sigma.crust.rms_nt() / settings.crust_length_km.max(1.0))
        .max(LEAST_NT_PER_KM);
    let common_sigma =
        [bias.north_nt, bias.east_nt, settings.down_nt.max(LEAST_NT), gradient, gradient, gradient];
    let steepest = prior.steepness_nt_per_km()[0];
    let (place, year) = (prior.position, prior.decimal_year);
    let response = LearntResponse::at(place.y(), place.x(), year, Refit::All)?;
    let disturbance_sigma: Vec<f64> =
        sites.iter().map(|site| disturbance_sigma(site, &response, steepest, settings)).collect();
    let belief =
        Belief::new(&sites, common_sigma, &disturbance_sigma, settings).ok_or_else(unsolved)?;
    let posterior = starts(&belief, &sites)
        .into_iter()
        .filter_map(|start| belief.climb(&sites, start))
        .min_by(|a, b| a.loss.total_cmp(&b.loss))
        .ok_or_else(unsolved)?;

    let draws = draw(&belief, &sites, &posterior);
    let state = &posterior.state;
    let poles = Poles { model, plane, height_km: last.height_km, state, draws: &draws };
    let mean = poles.most_probable(last)?.ok_or_else(unsolved)?;
    let all = |with_currents: bool| {
        let each = readings
            .iter()
            .enumerate()
            .map(|(index, reading)| poles.at(reading, with_currents.then_some(index)));
        each.collect::<Result<Vec<_>, Error>>()
    };
    let (mean_poles, instantaneous_poles) = (all(false)?, all(true)?);
    let posterior_sigma = |part: usize| posterior.covariance(part, part).max(0.0).sqrt();
    let jacobian_sigma_nt_per_km = [3, 4, 5].map(posterior_sigma);
    let from_readings = jacobian_sigma_nt_per_km.iter().all(|sigma| *sigma <= 0.5 * gradient);
    let residuals = sites
        .iter()
        .enumerate()
        .flat_map(|(index, site)| {
            site.compare(&posterior.state, index).map(move |one| Residual {
                reading: index,
                element: one.element,
                difference: one.element.difference(one.measured.value, one.expected),
                normalised: one.normalised,
                weight: weight(one.normalised),
            })
        })
        .collect();
    let next_reading = best_next(
        &posterior.common_covariance(),
        mean.offset_km,
        mean.jacobian_nt_per_km,
        &plane,
        sites.get(last_index).map_or([0.0; 2], |site| site.offset_km),
        usual_noise_nt(&sites, &posterior.state, &disturbance_sigma),
        settings.reach_km,
    );
    let mut assumptions: Vec<String> =
        model.assumptions().into_iter().map(|assumption| assumption.text).collect();
    assumptions.extend(settings.assumptions());
    Ok(PoleFix {
        hemisphere,
        model: model.provenance().name,
        model_pole: estimate(last, prior.position, prior.ellipse(bias).holding(0.95)),
        mean_pole: mean_poles.get(last_index).copied().flatten().ok_or_else(unsolved)?,
        mean_poles,
        instantaneous_poles,
        jacobian_nt_per_km: mean.local_jacobian_nt_per_km,
        jacobian_sigma_nt_per_km,
        jacobian_from: if from_readings { JacobianSource::Readings } else { JacobianSource::Model },
        residuals,
        next_reading,
        assumptions,
    })
}

/// One sigma of what the currents add at a reading, and of what an error of place does.
fn disturbance_sigma(
    site: &Site<'_>,
    response: &LearntResponse,
    steepest_nt_per_km: f64,
    settings: &FixSettings,
) -> f64 {
    let reading = site.reading;
    let currents = if reading.base_nt.is_some() {
        settings.base_residual_nt
    } else {
        settings.disturbance_nt.unwrap_or_else(|| match reading.kp {
            Some(kp) => response.moments(Kp::nearest(kp), reading.time).sigma_nt(),
            None => response.usual_moments(reading.time).sigma_nt(),
        })
    };
    currents.hypot(reading.position_sigma_km * steepest_nt_per_km).max(LEAST_NT)
}

/// States to begin from.
fn starts(belief: &Belief, sites: &[Site<'_>]) -> Vec<State> {
    let first = State(belief.mean.clone());
    let mut lacking: Vec<[f64; 2]> = sites.iter().filter_map(Site::lacking_nt).collect();
    let mut all = vec![first.clone()];
    if !lacking.is_empty() {
        let middle = lacking.len() / 2;
        let mut second = first;
        for part in 0..2 {
            lacking.sort_by(|a, b| a[part].total_cmp(&b[part]));
            if let (Some(into), Some(found)) = (second.0.get_mut(part), lacking.get(middle)) {
                *into = found[part];
            }
        }
        // Near the pole the currents decide to which side a needle points: one more start gives them
        // the whole of what each reading differs by.
        let mut third = second.clone();
        for (index, site) in sites.iter().enumerate() {
            if let Some(found) = site.lacking_nt() {
                let common = second.horizontal_nt(site.offset_km);
                for part in 0..2 {
                    if let Some(into) = third.0.get_mut(COMMON + 2 * index + part) {
                        *into = found[part] - common[part];
                    }
                }
            }
        }
        all.extend([second, third]);
    }
    all
}
