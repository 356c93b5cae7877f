//! Areas made ready for a picture: cut to the frame, thinned, written as a path.

use geo::{Coord, LineString, Rect, Simplify, coord};

use crate::paint::path_data;

/// How far a thinned line may stray, picture units.
const STRAY: f64 = 0.35;
/// Rings smaller than this on both sides are not seen.
const LEAST: f64 = 0.8;
/// How far beyond the frame areas are kept, so that the outline along the cut is out of sight.
const BEYOND: f64 = 6.0;

/// The path data of an area with all its rings, to be filled by the even-odd rule.
pub(crate) fn area_path(
    rings: impl IntoIterator<Item = Vec<Coord<f64>>>,
    frame: Rect<f64>,
) -> String {
    let wide = Rect::new(
        frame.min() - coord! { x: BEYOND, y: BEYOND },
        frame.max() + coord! { x: BEYOND, y: BEYOND },
    );
    rings
        .into_iter()
        .filter_map(|ring| cut_to(ring, wide))
        .map(|ring| LineString::new(ring).simplify(STRAY))
        .filter(|ring| ring.0.len() > 3)
        .map(|ring| path_data(ring.0.iter().skip(1), true))
        .collect()
}

/// The path data of a line, thinned.
pub(crate) fn line_path(line: Vec<Coord<f64>>) -> String {
    path_data(&LineString::new(line).simplify(STRAY).0, false)
}

/// The part of a closed ring within a rectangle, closed; nothing where too little is left to be seen.
///
/// Source: I. E. Sutherland and G. W. Hodgman, Reentrant polygon clipping, Communications of the ACM
/// 17, 32-42 (1974). Parts that hang together only outside stay joined along the rectangle's sides,
/// which lie out of sight.
fn cut_to(mut ring: Vec<Coord<f64>>, rect: Rect<f64>) -> Option<Vec<Coord<f64>>> {
    if ring.iter().any(|point| !(point.x.is_finite() && point.y.is_finite())) {
        return None;
    }
    let (low, high) = (rect.min(), rect.max());
    let depths: [&dyn Fn(Coord<f64>) -> f64; 4] =
        [&|point| point.x - low.x, &|point| high.x - point.x, &|point| point.y - low.y, &|point| {
            high.y - point.y
        }];
    for depth in depths {
        if ring.iter().all(|&point| depth(point) >= 0.0) {
            continue;
        }
        let mut kept: Vec<Coord<f64>> = Vec::with_capacity(ring.len());
        for pair in ring.windows(2) {
            let &[from, to] = pair else { continue };
            let (depth_from, depth_to) = (depth(from), depth(to));
            if depth_from >= 0.0 {
                kept.push(from);
            }
            if (depth_from >= 0.0) != (depth_to >= 0.0) {
                kept.push(from + (to - from) * (depth_from / (depth_from - depth_to)));
            }
        }
        kept.extend(kept.first().copied());
        ring = kept;
    }
    let span = |of: fn(&Coord<f64>) -> f64| {
        let low = ring.iter().map(of).fold(f64::INFINITY, f64::min);
        let high = ring.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        high - low
    };
    (ring.len() > 3 && (span(|point| point.x) > LEAST || span(|point| point.y) > LEAST))
        .then_some(ring)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(low: f64, high: f64) -> Vec<Coord<f64>> {
        [(low, low), (high, low), (high, high), (low, high), (low, low)]
            .map(|(x, y)| coord! { x: x, y: y })
            .to_vec()
    }

    fn rect(low: f64, high: f64) -> Rect<f64> {
        Rect::new(coord! { x: low, y: low }, coord! { x: high, y: high })
    }

    #[test]
    fn rings_are_cut_dropped_or_kept() {
        let inside = square(2.0, 4.0);
        assert_eq!(cut_to(inside.clone(), rect(0.0, 10.0)), Some(inside));
        assert_eq!(cut_to(square(20.0, 40.0), rect(0.0, 10.0)), None);
        assert_eq!(cut_to(square(2.0, 2.5), rect(0.0, 10.0)), None);
        let cut = cut_to(square(-50.0, 5.0), rect(0.0, 10.0)).unwrap();
        assert!(cut.iter().all(|point| (0.0..=5.0).contains(&point.x)));
        assert_eq!(cut.first(), cut.last());
        let around = cut_to(square(-50.0, 50.0), rect(0.0, 10.0)).unwrap();
        assert_eq!(around.len(), 5);
        assert_eq!(cut_to(vec![coord! { x: f64::NAN, y: 0.0 }; 5], rect(0.0, 10.0)), None);
    }

    #[test]
    fn a_path_begins_at_a_corner_and_is_closed() {
        assert_eq!(area_path([square(2.0, 4.0)], rect(0.0, 10.0)), "M4 2l0 2-2 0 0-2z");
        assert_eq!(area_path([Vec::new()], rect(0.0, 10.0)), "");
    }
}
