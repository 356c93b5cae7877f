//! The two triangles of a cell, and what phi may be at their corners.

/// The least of phi in a cell.
pub(super) fn least_of(square: [f32; 4]) -> f32 {
    square.into_iter().fold(f32::INFINITY, f32::min)
}

/// The most of phi in a cell.
pub(super) fn most_of(square: [f32; 4]) -> f32 {
    square.into_iter().fold(0.0, f32::max)
}

/// The square of the greatest slope of the two triangles, halved along the diagonal that makes it the less.
pub(super) fn squared_slope(square: [f32; 4]) -> f32 {
    let (rising, falling) = squared_slopes(square);
    if falling < rising { falling } else { rising }
}

/// The square of the greatest slope of the two triangles along the diagonal a-d, and along b-c.
pub(super) fn squared_slopes([a, b, c, d]: [f32; 4]) -> (f32, f32) {
    // None is NaN, for which `max` would look.
    let greater = |x: f32, y: f32| if x < y { y } else { x };
    let square = |x: f32| x * x;
    let [low, high, left, right] = [b - a, d - c, c - a, d - b].map(square);
    (greater(low + right, left + high), greater(low + left, high + right))
}

/// The highest corner of a cell and the most that it may be for the slope to be no more than a price;
/// nothing where lowering it would not do.
pub(super) fn lowered(square: [f32; 4], price: f32) -> Option<(usize, f32)> {
    let top = (0..4).max_by(|&a, &b| square[a].total_cmp(&square[b]))?;
    // The corners beside it, and the one across.
    let (leg, other, across) = (square[top ^ 1], square[top ^ 2], square[top ^ 3]);
    let under_root = |value: f32| (value >= 0.0).then(|| value.sqrt());
    // Halved through the top: it ends a leg of both triangles.
    let through = under_root(price * price - (leg - across) * (leg - across))
        .zip(under_root(price * price - (other - across) * (other - across)))
        .map(|(a, b)| (leg + a).min(other + b));
    // Halved past it: it is the right angle of one triangle, and the other must do as it is.
    let beyond = (across - leg).hypot(across - other) <= price;
    let past = under_root(price * price / 2.0 - (leg - other) * (leg - other) / 4.0)
        .filter(|_| beyond)
        .map(|root| f32::midpoint(leg, other) + root);
    let value = match (through, past) {
        (Some(a), Some(b)) => a.max(b),
        (a, b) => a.or(b)?,
    };
    (value < square[top]).then_some((top, value))
}

/// A wedge of which one side may not be settled yet.
pub(super) fn wedge_of(leg: f32, diagonal: f32, wedge: &impl Fn(f32, f32) -> f32) -> f32 {
    if leg == f32::INFINITY || diagonal == f32::INFINITY {
        f32::INFINITY
    } else {
        wedge(leg, diagonal)
    }
}
