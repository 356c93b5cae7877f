//! Every dip pole of a model, from many starts.

use dipward_geodesy::{Hemisphere, Position, geodesic, position};
use dipward_plugin::{Error, FieldSample, MainField};

use crate::{
    DipPole,
    dip_pole::{Search, finish, jacobian},
    plane_matrix::determinant,
    tangent::TangentPlane,
};

/// Two searches that end nearer to each other than this have found one pole.
const ONE_POLE_KM: f64 = 0.01;
/// Starts over the whole Earth, about 1000 km apart.
const STARTS_OVERALL: u32 = 512;
/// More than any field of points has; a field that is vertical along lines has poles without end.
const MOST_POLES: usize = 500;
/// Starts about each pole found: a crust's field makes further poles some tens of km away.
const RINGS_KM: [f64; 4] = [15.0, 50.0, 120.0, 300.0];
const STARTS_A_RING: u32 = 12;

/// The principal dip pole of a hemisphere.
///
/// Of all poles where the field points down (north) or up (south) it is the one that most starts
/// over that half of the Earth lead to; saddles do not count.
///
/// # Arguments
///
/// * `hemisphere`: north for the pole where the field points down.
/// * `height_km`: above the ellipsoid.
///
/// # Errors
///
/// [`Error::Outside`] for a year or height that the model does not answer for; [`Error::Unsolved`]
/// where there is no such pole.
///
/// # Example
///
/// ```
/// use dipward_field::{dip_pole, igrf14};
/// use dipward_geodesy::Hemisphere;
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let pole = dip_pole(&igrf14()?, Hemisphere::South, 2025.0, 0.0)?;
/// assert!((pole.position.y() + 63.858).abs() < 1e-3);
/// assert!((pole.position.x() - 135.063).abs() < 1e-3);
/// # Ok(())
/// # }
/// ```
pub fn dip_pole(
    model: &dyn MainField,
    hemisphere: Hemisphere,
    decimal_year: f64,
    height_km: f64,
) -> Result<DipPole, Error> {
    let starts = spread(STARTS_OVERALL / 4)
        .filter(|start| start.y() * hemisphere.sign() > 0.0)
        .collect::<Vec<_>>();
    let proper = |root: &Root| {
        let plane = TangentPlane::at(root.position, height_km);
        root.sample.vector.down_nt * hemisphere.sign() > 0.0
            && determinant(jacobian(&root.sample, &plane)) > 0.0
    };
    // The last of equals is what `max_by_key` takes; the first is the wish, hence the reversal.
    let best = distinct(model, starts, decimal_year, height_km)?
        .into_iter()
        .rev()
        .filter(proper)
        .max_by_key(|root| root.hits);
    match best {
        Some(root) => finish(model, root.position, root.sample, decimal_year, height_km),
        None => Err(Error::Unsolved(format!(
            "{} has no {hemisphere} dip pole at {decimal_year:.3}",
            model.provenance().name
        ))),
    }
}

/// All points where the field is vertical, saddles included, the most northern first.
///
/// Found by Newton's method from 512 starts over the Earth, and then from rings about each pole
/// until no more appear; a pole of a very rough field may still be missed.
///
/// # Errors
///
/// [`Error::Outside`] for a year or height that the model does not answer for; [`Error::Unsolved`]
/// where there are hundreds, as in a field that is vertical along lines.
pub fn all_dip_poles(
    model: &dyn MainField,
    decimal_year: f64,
    height_km: f64,
) -> Result<Vec<DipPole>, Error> {
    let mut roots = Vec::new();
    let mut starts: Vec<Position> = spread(STARTS_OVERALL).collect();
    while !starts.is_empty() {
        let fresh: Vec<Root> = distinct(model, starts, decimal_year, height_km)?
            .into_iter()
            .filter(|one| !roots.iter().any(|other: &Root| other.is_near(one.position)))
            .collect();
        starts = fresh.iter().flat_map(|root| rings(root.position)).collect();
        roots.extend(fresh);
        if roots.len() > MOST_POLES {
            return Err(Error::Unsolved(format!(
                "the field of {} is vertical at more than {MOST_POLES} points",
                model.provenance().name
            )));
        }
    }
    roots.sort_by(|a, b| {
        (b.position.y(), b.position.x())
            .partial_cmp(&(a.position.y(), a.position.x()))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    roots
        .into_iter()
        .map(|root| finish(model, root.position, root.sample, decimal_year, height_km))
        .collect()
}

/// A pole that was found, and how many searches ended there.
struct Root {
    position: Position,
    sample: FieldSample,
    hits: u32,
}

impl Root {
    fn is_near(&self, other: Position) -> bool {
        // A degree of latitude is over 110 km: most pairs need no geodesic.
        (self.position.y() - other.y()).abs() * 110.0 < ONE_POLE_KM
            && geodesic::distance_km(self.position, other) < ONE_POLE_KM
    }
}

fn distinct(
    model: &dyn MainField,
    starts: Vec<Position>,
    decimal_year: f64,
    height_km: f64,
) -> Result<Vec<Root>, Error> {
    let mut search = Search::new(starts, height_km);
    search.run(model, decimal_year)?;
    let mut roots: Vec<Root> = Vec::new();
    for (position, sample) in search.found() {
        match roots.iter_mut().find(|root| root.is_near(position)) {
            Some(root) => root.hits += 1,
            None => roots.push(Root { position, sample, hits: 1 }),
        }
    }
    Ok(roots)
}

/// Positions spread evenly over the Earth along a spiral of the golden angle.
fn spread(count: u32) -> impl Iterator<Item = Position> {
    let golden_deg = 180.0 * (3.0 - 5.0_f64.sqrt());
    (0..count).map(move |at| {
        let height = 1.0 - (2.0 * f64::from(at) + 1.0) / f64::from(count);
        position(height.asin().to_degrees(), f64::from(at) * golden_deg)
    })
}

fn rings(centre: Position) -> impl Iterator<Item = Position> {
    RINGS_KM.into_iter().flat_map(move |km| {
        (0..STARTS_A_RING).map(move |at| {
            let course_deg = f64::from(at) * 360.0 / f64::from(STARTS_A_RING);
            geodesic::direct(centre, course_deg, km).position
        })
    })
}
