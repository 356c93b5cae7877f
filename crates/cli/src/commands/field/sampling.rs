//! The field at the points of a batch, epoch by epoch.

use dipward_plugin::{Control, Error, FieldSample, FieldVector, MainField, Site};
use rayon::prelude::*;

use super::columns::Point;
use crate::{commands::main_field::refusal, exit::Failure};

/// Points of one epoch that are sampled in one call: a model makes its coefficients once a call.
const SHARE: usize = 512;

/// What stands in the way of sampling, and at which line.
#[derive(Debug, PartialEq)]
pub(super) struct Wrong {
    line: Option<u64>,
    error: Error,
}

impl Wrong {
    pub(super) fn failure(self, name: &str) -> Failure {
        match self {
            Self { line: Some(line), error } => {
                Failure::request(format_args!("{name}:{line}: {error}"))
            }
            Self { line: None, error } => error.into(),
        }
    }
}

/// The field at all points, in their order.
///
/// # Errors
///
/// The first point, in the order of the lines, that the model does not answer for.
pub(super) fn sample(
    model: &dyn MainField,
    points: &[Point],
    control: &Control,
) -> Result<Vec<FieldVector>, Wrong> {
    let refused = |point: &Point| {
        let message = refusal(model, point.decimal_year)?;
        Some(Wrong { line: Some(point.line), error: Error::Outside(message) })
    };
    if let Some(wrong) = points.iter().find_map(refused) {
        return Err(wrong);
    }
    let mut order: Vec<usize> = (0..points.len()).collect();
    // The sort is stable: points of one epoch keep the order of their lines.
    order.sort_by(|&a, &b| points[a].decimal_year.total_cmp(&points[b].decimal_year));
    let shares: Vec<&[usize]> = order
        .chunk_by(|&a, &b| points[a].decimal_year == points[b].decimal_year)
        .flat_map(|epoch| epoch.chunks(SHARE))
        .collect();
    let sampled: Result<Vec<Vec<FieldSample>>, Error> = shares
        .par_iter()
        .map(|share| {
            control.check()?;
            let sites: Vec<Site> = share.iter().map(|&index| points[index].site).collect();
            let mut out = vec![FieldSample::default(); sites.len()];
            let year = share.first().map_or(f64::NAN, |&index| points[index].decimal_year);
            model.sample(year, &sites, &mut out)?;
            Ok(out)
        })
        .collect();
    let sampled = sampled.map_err(|error| first_wrong(model, points, error))?;
    let mut vectors = vec![FieldVector::default(); points.len()];
    for (share, samples) in shares.iter().zip(&sampled) {
        for (&index, sample) in share.iter().zip(samples) {
            vectors[index] = sample.vector;
        }
    }
    Ok(vectors)
}

/// Finds the point at fault by asking for one after the other.
fn first_wrong(model: &dyn MainField, points: &[Point], error: Error) -> Wrong {
    if !matches!(error, Error::Outside(_)) {
        return Wrong { line: None, error };
    }
    let mut out = [FieldSample::default()];
    points
        .iter()
        .find_map(|point| {
            let asked = model.sample(point.decimal_year, &[point.site], &mut out);
            asked.err().map(|error| Wrong { line: Some(point.line), error })
        })
        .unwrap_or(Wrong { line: None, error })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(latitude_deg: f64, height_km: f64, decimal_year: f64, line: u64) -> Point {
        Point { site: Site { latitude_deg, longitude_deg: 0.0, height_km }, decimal_year, line }
    }

    #[test]
    fn mixed_epochs_give_what_each_point_gives_alone() {
        let model = dipward_field::igrf14().unwrap();
        let points: Vec<Point> = (0..2000_u32)
            .map(|n| {
                let year = 1990.0 + f64::from(n % 7);
                point(f64::from(n % 181) - 90.0, f64::from(n % 5), year, u64::from(n))
            })
            .collect();
        let together = sample(&model, &points, &Control::default()).unwrap();
        for (point, vector) in points.iter().zip(&together).step_by(97) {
            let mut alone = [FieldSample::default()];
            model.sample(point.decimal_year, &[point.site], &mut alone).unwrap();
            let [alone] = alone.map(|sample| sample.vector);
            assert!((alone.north_nt - vector.north_nt).abs() < 1e-6);
            assert!((alone.down_nt - vector.down_nt).abs() < 1e-6);
        }
    }

    #[test]
    fn the_first_line_at_fault_is_named() {
        let model = dipward_field::igrf14().unwrap();
        let ask = |points: &[Point]| sample(&model, points, &Control::default()).unwrap_err();
        let deep = [point(1.0, 0.0, 2000.0, 2), point(2.0, -3000.0, 2001.0, 3)];
        assert_eq!(ask(&deep).line, Some(3));
        let late = [point(1.0, 0.0, 2000.0, 2), point(2.0, 0.0, 2031.0, 3)];
        let wrong = ask(&late);
        assert_eq!(wrong.line, Some(3));
        assert!(wrong.failure("p.csv").text().contains("p.csv:3: IGRF-14"));
    }
}
