//! Where text goes on the map: beside its mark, off other text, and off the routes where it can be.

use geo::{Coord, Rect, coord};
use svg::node::element::Text;

use crate::paint::{haloed, text_width};

/// How much a text matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Weight {
    /// The name of a place: bold, and never left out.
    Name,
    /// Left out where it would cover other text.
    Note,
}

/// Text and marks placed so far.
#[derive(Debug, Clone)]
pub(crate) struct Labels {
    frame: Rect<f64>,
    taken: Vec<Rect<f64>>,
    lines: Vec<Coord<f64>>,
}

impl Labels {
    /// Nothing placed yet in this frame.
    pub(crate) fn new(frame: Rect<f64>) -> Self {
        Self { frame, taken: Vec::new(), lines: Vec::new() }
    }

    /// Keeps text off a rectangle.
    pub(crate) fn keep_off(&mut self, centre: Coord<f64>, half: f64) {
        let corner = coord! { x: half, y: half };
        self.taken.push(Rect::new(centre - corner, centre + corner));
    }

    /// Text would rather not lie over this line.
    pub(crate) fn avoid(&mut self, line: &[Coord<f64>]) {
        self.lines.extend(line);
    }

    /// Text beside a mark, at the first of sixteen places that covers least.
    ///
    /// # Returns
    ///
    /// Nothing where every place would cover other text or leave the frame, unless it is a name.
    pub(crate) fn beside(
        &mut self,
        content: &str,
        mark: Coord<f64>,
        gap: f64,
        size: f64,
        weight: Weight,
    ) -> Option<Text> {
        let bold = weight == Weight::Name;
        let width = text_width(content, size) * if bold { 1.15 } else { 1.0 };
        let mut best: Option<(usize, Rect<f64>, Coord<f64>, &str)> = None;
        for distance in [gap, gap * 2.2] {
            for (right, down) in [
                (1.0, 0.0),
                (-1.0, 0.0),
                (0.7, -0.7),
                (-0.7, -0.7),
                (0.7, 0.7),
                (-0.7, 0.7),
                (0.0, -1.0),
                (0.0, 1.0),
            ] {
                let (anchor, left) = if right > 0.0 {
                    ("start", 0.0)
                } else if right < 0.0 {
                    ("end", -width)
                } else {
                    ("middle", -width / 2.0)
                };
                // The baseline lies so that the text's middle is level with the direction.
                let middle = down * (distance + size * 0.4);
                let at = mark + coord! { x: right * distance, y: middle + size * 0.35 };
                let corner = at + coord! { x: left, y: -size * 0.85 };
                let area = Rect::new(corner, corner + coord! { x: width, y: size * 1.1 });
                let cost = self.cost(area);
                if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                    best = Some((cost, area, at, anchor));
                }
            }
        }
        let (cost, area, at, anchor) = best?;
        if cost >= COVERS_TEXT && !bold {
            return None;
        }
        self.taken.push(area);
        let text = haloed(content, at, size, anchor);
        Some(if bold { text.set("font-weight", "bold") } else { text })
    }

    fn cost(&self, area: Rect<f64>) -> usize {
        let covers = self.taken.iter().filter(|other| overlap(&area, other)).count();
        let crossed = self.lines.iter().filter(|point| holds(&area, **point)).count();
        let within = holds(&self.frame, area.min()) && holds(&self.frame, area.max());
        crossed.min(COVERS_TEXT / 2)
            + covers * COVERS_TEXT
            + if within { 0 } else { COVERS_TEXT * 4 }
    }
}

/// The cost of lying over other text.
const COVERS_TEXT: usize = 100;

fn overlap(a: &Rect<f64>, b: &Rect<f64>) -> bool {
    a.min().x < b.max().x && b.min().x < a.max().x && a.min().y < b.max().y && b.min().y < a.max().y
}

fn holds(rect: &Rect<f64>, point: Coord<f64>) -> bool {
    (rect.min().x..=rect.max().x).contains(&point.x)
        && (rect.min().y..=rect.max().y).contains(&point.y)
}
