//! From the grid's plane to the picture.

use dipward_geodesy::{Grid, Position};
use geo::{Coord, Rect, coord};

/// The visible window of the grid's plane and where it lies in the picture, x right and y down.
///
/// The plane may be turned by quarters, so that north is more or less up; by quarters because the
/// grid's sides then stay level and the whole grid can be shown.
#[derive(Debug, Clone)]
pub(crate) struct View<'a> {
    grid: &'a Grid,
    quarters: u8,
    /// Lower left corner of the window in the turned plane, metres.
    low: Coord<f64>,
    per_metre: f64,
    frame: Rect<f64>,
}

/// How many quarters clockwise bring true north at a place nearest to up. None beside a geographic
/// pole, where north is everywhere.
pub(crate) fn quarters_to_north_up(grid: &Grid, centre: Coord<f64>) -> u8 {
    let place = grid.position(centre);
    if place.y().abs() > 87.0 {
        return 0;
    }
    let north_deg = grid.projection().convergence_deg(place);
    (-north_deg / 90.0).round().rem_euclid(4.0) as u8
}

/// A point of the plane turned clockwise.
pub(crate) fn turned(point: Coord<f64>, quarters: u8) -> Coord<f64> {
    match quarters % 4 {
        0 => point,
        1 => coord! { x: point.y, y: -point.x },
        2 => coord! { x: -point.x, y: -point.y },
        _ => coord! { x: -point.y, y: point.x },
    }
}

/// A rectangle of the plane turned clockwise.
pub(crate) fn turned_rect(rect: Rect<f64>, quarters: u8) -> Rect<f64> {
    Rect::new(turned(rect.min(), quarters), turned(rect.max(), quarters))
}

impl<'a> View<'a> {
    /// A view of a window of the plane, as large as fits into `most` at `corner`.
    ///
    /// `window` is in the turned plane.
    pub(crate) fn new(
        grid: &'a Grid,
        quarters: u8,
        window: Rect<f64>,
        corner: Coord<f64>,
        most: Coord<f64>,
    ) -> Self {
        let per_metre = (most.x / window.width()).min(most.y / window.height());
        let size = coord! { x: window.width() * per_metre, y: window.height() * per_metre };
        Self {
            grid,
            quarters,
            low: window.min(),
            per_metre,
            frame: Rect::new(corner, corner + size),
        }
    }

    pub(crate) fn grid(&self) -> &'a Grid {
        self.grid
    }

    /// The sides of the picture of the window.
    pub(crate) fn frame(&self) -> Rect<f64> {
        self.frame
    }

    /// Picture units for a metre of the plane.
    pub(crate) fn per_metre(&self) -> f64 {
        self.per_metre
    }

    /// Where a point of the plane lies in the picture.
    pub(crate) fn pixel(&self, point: Coord<f64>) -> Coord<f64> {
        let turned = turned(point, self.quarters);
        coord! {
            x: self.frame.min().x + (turned.x - self.low.x) * self.per_metre,
            y: self.frame.max().y - (turned.y - self.low.y) * self.per_metre,
        }
    }

    /// Where a position lies in the picture; nothing for what the plane cannot hold.
    pub(crate) fn place(&self, position: Position) -> Option<Coord<f64>> {
        let pixel = self.pixel(self.grid.coord(position));
        (pixel.x.is_finite() && pixel.y.is_finite()).then_some(pixel)
    }

    /// The point of the plane that lies at a point of the picture.
    pub(crate) fn point_at(&self, pixel: Coord<f64>) -> Coord<f64> {
        let point = coord! {
            x: self.low.x + (pixel.x - self.frame.min().x) / self.per_metre,
            y: self.low.y + (self.frame.max().y - pixel.y) / self.per_metre,
        };
        turned(point, (4 - self.quarters % 4) % 4)
    }

    /// The window in the plane as it is, not turned.
    pub(crate) fn window(&self) -> Rect<f64> {
        Rect::new(self.point_at(self.frame.min()), self.point_at(self.frame.max()))
    }

    /// Whether a point of the picture lies within the frame.
    pub(crate) fn shows(&self, pixel: Coord<f64>) -> bool {
        let (low, high) = (self.frame.min(), self.frame.max());
        (low.x..=high.x).contains(&pixel.x) && (low.y..=high.y).contains(&pixel.y)
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic, position};

    use super::*;

    fn grid() -> Grid {
        let polar =
            PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
        Grid::covering(polar, &[position(-43.0, 147.0), position(-66.0, 135.0)], 20.0, 200.0)
            .unwrap()
    }

    #[test]
    fn north_is_up_in_the_picture() {
        let grid = grid();
        let bounds = grid.bounds();
        let quarters = quarters_to_north_up(&grid, bounds.center());
        let view = View::new(
            &grid,
            quarters,
            turned_rect(bounds, quarters),
            coord! { x: 10.0, y: 20.0 },
            coord! { x: 400.0, y: 400.0 },
        );
        let south = view.place(position(-60.0, 141.0)).unwrap();
        let north = view.place(position(-50.0, 141.0)).unwrap();
        assert!(south.y - north.y > (south.x - north.x).abs());
    }

    #[test]
    fn pixels_go_back_to_their_points_for_every_turn() {
        let grid = grid();
        for quarters in 0..4 {
            let window = turned_rect(grid.bounds(), quarters);
            let corner = coord! { x: 3.0, y: 4.0 };
            let view = View::new(&grid, quarters, window, corner, coord! { x: 300.0, y: 200.0 });
            let point = grid.bounds().center() + coord! { x: 1e5, y: -2e5 };
            let back = view.point_at(view.pixel(point));
            assert!((back.x - point.x).abs() < 1e-3 && (back.y - point.y).abs() < 1e-3);
            assert!(view.shows(view.pixel(point)));
        }
    }
}
