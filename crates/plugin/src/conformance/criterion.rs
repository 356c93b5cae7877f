use super::{promise, specimen};
use crate::Criterion;

/// Holds a criterion to its contract: a name and a unit, a figure that is finite for any approach and
/// the same when asked again, and an indifference and a weight that are not negative.
///
/// # Errors
///
/// A sentence that says which promise the criterion breaks.
pub fn check_criterion(criterion: &dyn Criterion) -> Result<(), String> {
    let name = criterion.name();
    let snake =
        |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_';
    promise(!name.is_empty() && name.chars().all(snake), || {
        format!("the name is a key of the ranking, in `snake_case`, not `{name}`")
    })?;
    promise(!criterion.unit().is_empty(), || "a share's unit is \"1\"".to_owned())?;
    for (what, number) in
        [("indifference", criterion.indifference()), ("weight", criterion.weight())]
    {
        promise(number.is_finite() && number >= 0.0, || {
            format!("the {what} must be finite and not negative, not {number}")
        })?;
    }
    let mut bare = specimen::approach();
    bare.risk.minimum_rio = None;
    bare.attainment.probability = 0.0;
    bare.criteria.clear();
    bare.waypoints.clear();
    bare.home.clear();
    for approach in [specimen::approach(), bare] {
        let merit = criterion.merit(&approach);
        promise(merit.is_finite(), || format!("the figure is {merit} for {approach:?}"))?;
        promise(merit.to_bits() == criterion.merit(&approach).to_bits(), || {
            "the figure changes when it is asked for again".to_owned()
        })?;
    }
    Ok(())
}
