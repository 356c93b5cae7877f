use std::fmt::Debug;

use crate::Approach;

/// Which way a figure of merit improves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Greater is better.
    Greater,
    /// Less is better.
    Less,
}

/// One figure of merit of an approach. YAML slot `ranking[]`.
pub trait Criterion: Debug + Send + Sync {
    /// The name, in `snake_case` with its unit ("fuel_margin_t").
    fn name(&self) -> String;

    /// The unit's symbol; "1" for shares.
    fn unit(&self) -> String;

    /// Which way is better.
    fn direction(&self) -> Direction;

    /// The figure. Must be finite.
    fn merit(&self, approach: &Approach) -> f64;

    /// A difference that does not count: an approach within this of the best of those left, by the criteria
    /// before, is kept.
    fn indifference(&self) -> f64 {
        0.0
    }

    /// The weight where criteria are weighed against one another: the worth of one unit.
    fn weight(&self) -> f64;
}
