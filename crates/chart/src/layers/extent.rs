//! Where and when a constant holds.

use dipward_geodesy::{Cell, Grid, Position, distance_km, position};
use dipward_plugin::{Fault, Faults};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::crs::MapProjection;
use crate::vector::{PlanePolygon, cells_by_centre};

/// A part of the Earth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Extent {
    /// Between two parallels and two meridians. A western side east of the eastern one means across
    /// the date line.
    Box {
        /// Southern and northern side.
        #[schemars(inner(range(min = -90.0, max = 90.0)))]
        latitude_deg: [f64; 2],
        /// Western and eastern side.
        #[schemars(inner(range(min = -360.0, max = 360.0)))]
        longitude_deg: [f64; 2],
    },
    /// Within a distance of a place, along the ellipsoid.
    Circle {
        /// Latitude of the centre.
        #[schemars(range(min = -90.0, max = 90.0))]
        latitude_deg: f64,
        /// Longitude of the centre.
        #[schemars(range(min = -360.0, max = 360.0))]
        longitude_deg: f64,
        /// Radius.
        #[schemars(range(max = 20_000.0), extend("exclusiveMinimum" = 0))]
        radius_km: f64,
    },
    /// Inside an outline whose sides are straight in longitude and latitude.
    Polygon {
        /// Latitude and longitude of each corner, at least three; the last side goes back to the
        /// first corner.
        #[schemars(length(min = 3))]
        corners: Vec<[f64; 2]>,
    },
}

impl Extent {
    /// What is wrong with the numbers.
    pub(super) fn check(&self, pointer: &str, faults: &mut Faults) {
        match self {
            Self::Box { latitude_deg: [south, north], longitude_deg } => {
                if south >= north {
                    faults.push(Fault::at(
                        format!("{pointer}/box/latitude_deg"),
                        format!(
                            "the southern side {south} is not south of the northern side {north}"
                        ),
                    ));
                }
                if longitude_deg[0] == longitude_deg[1] {
                    faults.push(
                        Fault::at(
                            format!("{pointer}/box/longitude_deg"),
                            "the western side is the eastern side",
                        )
                        .help("[-180, 180] goes round the Earth"),
                    );
                }
            }
            Self::Circle { .. } => {}
            Self::Polygon { corners } => {
                for (index, [latitude_deg, longitude_deg]) in corners.iter().enumerate() {
                    if latitude_deg.abs() > 90.0 || longitude_deg.abs() > 360.0 {
                        faults.push(
                            Fault::at(
                                format!("{pointer}/polygon/corners/{index}"),
                                "is no latitude and longitude in degrees",
                            )
                            .help("the latitude comes first"),
                        );
                    }
                }
            }
        }
    }

    /// The cells whose centres lie in the extent, increasing.
    pub(super) fn cells(&self, grid: &Grid) -> Vec<Cell> {
        match self {
            Self::Polygon { corners } => {
                let mut ring: Vec<[f64; 2]> =
                    corners.iter().map(|[latitude, longitude]| [*longitude, *latitude]).collect();
                ring.extend(ring.first().copied());
                let mut cells = Vec::new();
                let polygon = PlanePolygon::of_file(&vec![ring], &MapProjection::LonLat, grid);
                cells_by_centre(&polygon, grid, |run| cells.extend(run));
                cells
            }
            // A grid has at most Grid::MAX_CELLS cells, which u32 holds.
            _ => (0..grid.len() as Cell)
                .filter(|&cell| grid.centre(cell).is_some_and(|centre| self.holds(centre)))
                .collect(),
        }
    }

    /// Whether a place lies in a box or a circle.
    fn holds(&self, at: Position) -> bool {
        match self {
            Self::Box { latitude_deg: [south, north], longitude_deg: [west, east] } => {
                let around = (east - west).abs() >= 360.0;
                let eastward = (at.x() - west).rem_euclid(360.0);
                (south..=north).contains(&&at.y())
                    && (around || eastward <= (east - west).rem_euclid(360.0))
            }
            Self::Circle { latitude_deg, longitude_deg, radius_km } => {
                distance_km(position(*latitude_deg, *longitude_deg), at) <= *radius_km
            }
            Self::Polygon { .. } => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};
    use geo::coord;

    use super::*;

    fn grid() -> Grid {
        let polar =
            PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
        Grid::new(polar, coord! { x: -2e6, y: -2e6 }, 25_000.0, 161, 161).unwrap()
    }

    #[test]
    fn a_box_may_cross_the_date_line() {
        let extent = Extent::Box { latitude_deg: [-80.0, -75.0], longitude_deg: [170.0, -160.0] };
        let grid = grid();
        let cells = extent.cells(&grid);
        assert!(cells.len() > 300);
        for cell in cells {
            let centre = grid.centre(cell).unwrap();
            assert!((-80.0..=-75.0).contains(&centre.y()));
            assert!(centre.x() >= 170.0 || centre.x() <= -160.0);
        }
    }

    #[test]
    fn a_box_agrees_with_its_polygon_and_a_cap_with_its_circle() {
        let grid = grid();
        let of_box = Extent::Box { latitude_deg: [-80.0, -75.0], longitude_deg: [10.0, 50.0] };
        let corners = vec![[-80.0, 10.0], [-80.0, 50.0], [-75.0, 50.0], [-75.0, 10.0]];
        let of_polygon = Extent::Polygon { corners };
        // A cell whose centre lies within 0.02 cells of a side may go either way.
        let (a, b) = (of_box.cells(&grid), of_polygon.cells(&grid));
        assert!(a.len().abs_diff(b.len()) <= 2, "{} {}", a.len(), b.len());
        let cap = Extent::Box { latitude_deg: [-90.0, -85.0], longitude_deg: [-180.0, 180.0] };
        let radius_km = distance_km(position(-90.0, 0.0), position(-85.0, 0.0));
        let circle = Extent::Circle { latitude_deg: -90.0, longitude_deg: 0.0, radius_km };
        assert_eq!(cap.cells(&grid), circle.cells(&grid));
    }

    #[test]
    fn absurd_extents_are_faults() {
        for (extent, pointer) in [
            (
                Extent::Box { latitude_deg: [-60.0, -70.0], longitude_deg: [0.0, 10.0] },
                "/inside/box/latitude_deg",
            ),
            (
                Extent::Box { latitude_deg: [-70.0, -60.0], longitude_deg: [10.0, 10.0] },
                "/inside/box/longitude_deg",
            ),
            (
                Extent::Polygon { corners: vec![[0.0, 0.0], [140.0, -60.0], [1.0, 1.0]] },
                "/inside/polygon/corners/1",
            ),
        ] {
            let mut faults = Faults::default();
            extent.check("/inside", &mut faults);
            assert_eq!(faults.as_slice()[0].pointer(), pointer);
        }
    }
}
