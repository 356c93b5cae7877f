//! The region that should hold the recorded vector.

/// An ellipse in the plane of the field's north and east components, nT: that of an ensemble's mean and
/// covariance, scaled to hold a share of the distribution that the members are drawn from.
///
/// An ellipse that is scaled to hold 95 % of the very members it is made of holds less of what comes next,
/// because each member drew the mean and the covariance to itself. So each member is measured by the
/// ellipse of all the others, and the scale is the order statistic ceil(share (n + 1)) of these measures,
/// which a fresh draw exceeds as rarely as it should: the region for 95 % of 239 members holds a fresh draw
/// 951 times in 1000, that of 39 members 957 times.
///
/// # Example
///
/// ```
/// use dipward_field::verification::Region;
///
/// let members: Vec<[f64; 2]> = (0..39).map(|i| f64::from(i)).map(|i| [i.sin(), i.cos()]).collect();
/// let [narrow, wide] = Region::holding(&members, [0.5, 0.95]);
/// assert!(wide.contains([0.1, 0.0]) && !narrow.contains([9.0, 0.0]));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    mean: [f64; 2],
    /// The inverse of the sum of squares and products about the mean: north-north, north-east, east-east.
    inverse: [f64; 3],
    /// The greatest value of the quadratic form of `inverse` inside.
    limit: f64,
}

impl Region {
    /// Regions about one ensemble that hold the shares, each above 0 and below 1.
    ///
    /// Members that lie on one line or on one point have no ellipse; the region is then the mean alone.
    /// Where so few members can say nothing of a share (n + 1 < 1 / (1 - share)), the region is the whole
    /// plane.
    #[must_use]
    pub fn holding<const SHARES: usize>(
        members: &[[f64; 2]],
        shares: [f64; SHARES],
    ) -> [Self; SHARES] {
        let count = members.len() as f64;
        let mean = [0, 1].map(|part: usize| {
            members.iter().map(|member| member[part]).sum::<f64>() / count.max(1.0)
        });
        let mut products = [0.0; 3];
        for member in members {
            let [north, east] = [member[0] - mean[0], member[1] - mean[1]];
            products[0] += north * north;
            products[1] += north * east;
            products[2] += east * east;
        }
        let [nn, ne, ee] = products;
        let determinant = nn * ee - ne * ne;
        // Of a flat ellipse the determinant is rounding alone.
        if determinant <= 1e-12 * (nn + ee) * (nn + ee) {
            return [Self { mean, inverse: [0.0; 3], limit: -1.0 }; SHARES];
        }
        let inverse = [ee / determinant, -ne / determinant, nn / determinant];
        let form = Self { mean, inverse, limit: 0.0 };
        let mut measures: Vec<f64> = members.iter().map(|member| form.measure(*member)).collect();
        measures.sort_unstable_by(f64::total_cmp);
        shares.map(|share| {
            // A share of exactly so many members must not become one more by rounding.
            let rank = (share * (count + 1.0) - 1e-9).ceil().max(1.0) as usize;
            let limit = measures.get(rank - 1).map_or(f64::INFINITY, |own| {
                // The form is x' S^-1 x with S over all n members. Without this one, S is
                // S - n/(n-1) u u' and the mean is further off by n/(n-1); by Sherman and Morrison the
                // squared Mahalanobis distance among n - 1 others is
                //   (n - 2) (n/(n-1))^2 d / (1 - d n/(n-1)),
                // and that of a fresh vector among all n is (n - 1) times its form.
                let wider = count / (count - 1.0);
                let without = (count - 2.0) * wider * wider * own / (1.0 - own * wider).max(0.0);
                without / (count - 1.0)
            });
            Self { limit, ..form }
        })
    }

    /// Whether a vector lies inside or on the edge.
    #[must_use]
    pub fn contains(&self, vector_nt: [f64; 2]) -> bool {
        if self.limit < 0.0 {
            return vector_nt == self.mean;
        }
        self.measure(vector_nt) <= self.limit
    }

    fn measure(&self, vector: [f64; 2]) -> f64 {
        let [north, east] = [vector[0] - self.mean[0], vector[1] - self.mean[1]];
        let [nn, ne, ee] = self.inverse;
        nn * north * north + 2.0 * ne * north * east + ee * east * east
    }
}

#[cfg(test)]
mod tests {
    use rand::Rng;
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
    use rand_distr::{Distribution, StandardNormal, StudentT};

    use super::*;

    fn gaussian(rng: &mut impl Rng) -> [f64; 2] {
        let [a, b]: [f64; 2] = [0, 1].map(|_| StandardNormal.sample(rng));
        [10.0 + 30.0 * a, -20.0 + 25.0 * a + 12.0 * b]
    }

    /// Shares of fresh draws inside the regions of 50 and 95 %.
    fn coverage(members: usize, mut draw: impl FnMut() -> [f64; 2]) -> [f64; 2] {
        let rounds = 30_000;
        let mut inside = [0_u32; 2];
        for _ in 0..rounds {
            let ensemble: Vec<[f64; 2]> = (0..members).map(|_| draw()).collect();
            let fresh = draw();
            for (count, region) in inside.iter_mut().zip(Region::holding(&ensemble, [0.5, 0.95])) {
                *count += u32::from(region.contains(fresh));
            }
        }
        inside.map(|count| f64::from(count) / f64::from(rounds))
    }

    #[test]
    fn fresh_draws_lie_inside_as_often_as_they_should() {
        // One sigma of the share of 30,000 draws: 0.0029 and 0.0013.
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        for (members, bias) in [(39, 0.007), (239, 0.001)] {
            let [half, most] = coverage(members, || gaussian(&mut rng));
            assert!((half - 0.5).abs() < 0.009 + bias, "{members}: {half}");
            assert!((most - 0.95 - bias).abs() < 0.004, "{members}: {most}");
        }
        let heavy = StudentT::new(4.0).unwrap();
        let [half, most] = coverage(239, || [0, 1].map(|_| heavy.sample(&mut rng)));
        assert!((half - 0.5).abs() < 0.009 && (most - 0.95).abs() < 0.005, "{half} {most}");
    }

    #[test]
    fn the_short_cut_is_the_ellipse_of_all_the_others() {
        // The oracle: leave each member out in earnest.
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let members: Vec<[f64; 2]> = (0..19).map(|_| gaussian(&mut rng)).collect();
        let distance = |of: [f64; 2], among: &[[f64; 2]]| {
            let count = among.len() as f64;
            let mean = [0, 1].map(|i: usize| among.iter().map(|x| x[i]).sum::<f64>() / count);
            let moment = |i: usize, j: usize| {
                among.iter().map(|x| (x[i] - mean[i]) * (x[j] - mean[j])).sum::<f64>()
                    / (count - 1.0)
            };
            let covariance = [[moment(0, 0), moment(0, 1)], [moment(1, 0), moment(1, 1)]];
            let off = [of[0] - mean[0], of[1] - mean[1]];
            let solved = crate::plane_matrix::solve(covariance, off).unwrap();
            off[0] * solved[0] + off[1] * solved[1]
        };
        let mut left_out: Vec<f64> = (0..members.len())
            .map(|own| {
                let mut others = members.clone();
                let member = others.remove(own);
                distance(member, &others)
            })
            .collect();
        left_out.sort_by(f64::total_cmp);
        let [region] = Region::holding(&members, [0.9]);
        let scale = left_out[17];
        for _ in 0..2000 {
            let fresh = gaussian(&mut rng);
            assert_eq!(region.contains(fresh), distance(fresh, &members) <= scale);
        }
    }

    #[test]
    fn members_without_a_spread_hold_their_mean_alone() {
        let [region] = Region::holding(&[[0.0; 2]; 20], [0.95]);
        assert!(region.contains([0.0; 2]) && !region.contains([1e-3, 0.0]));
        let line: Vec<[f64; 2]> = (0..20).map(|i| [f64::from(i), 2.0 * f64::from(i)]).collect();
        assert!(!Region::holding(&line, [0.95])[0].contains([1.0, 2.0]));
        let [region] = Region::holding(&[], [0.95]);
        assert!(!region.contains([1.0, 1.0]));
        // Five members say nothing of 95 %.
        let few: Vec<[f64; 2]> = (0..5).map(|i| [f64::from(i), f64::from(i * i)]).collect();
        assert!(Region::holding(&few, [0.95])[0].contains([1e6, 0.0]));
    }
}
