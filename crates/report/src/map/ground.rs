//! Water, ice, zones, land and shelf: what lies below the routes.

use dipward_plugin::{MapPicture, Quantity};
use geo::{Coord, LineString, MultiPolygon, coord};
use svg::node::element::{Definitions, Group, Line, Path, Pattern, Rectangle};

use super::{contour, raster::Raster, rings::area_path, view::View};
use crate::paint::tenth;

/// Water known to be free of ice, or a chart without ice.
pub(crate) const WATER: &str = "#f1f6fa";
/// Land above the sea.
pub(crate) const LAND: &str = "#e9e2d0";
/// Floating ice shelf.
pub(crate) const SHELF: &str = "#fbf9f2";
/// Outline of land and shelf.
pub(crate) const COAST: &str = "#6b6150";
const UNKNOWN: &str = "#ffffff";

/// Classes of total concentration as ice charts have them, in tenths, with the least share that
/// rounds into the class and its tint. The tints darken evenly, so that they part in print.
pub(crate) const CLASSES: [(&str, f32, &str); 4] = [
    ("1 to 3 tenths", 0.1, "#d5e0ea"),
    ("4 to 6 tenths", 0.35, "#b3c4d5"),
    ("7 to 8 tenths", 0.65, "#8fa5bc"),
    ("9 to 10 tenths", 0.85, "#6c87a3"),
];

/// A tinted or hatched area that the legend explains.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hatch {
    /// No ice information.
    Unknown,
    /// Operation subject to elevated risk.
    Elevated,
    /// Closed to the craft.
    Closed,
}

impl Hatch {
    pub(crate) const ALL: [Self; 3] = [Self::Unknown, Self::Elevated, Self::Closed];

    /// The fill that names this hatch's pattern in the piece with the given prefix.
    pub(crate) fn fill(self, prefix: &str) -> String {
        format!("url(#{})", self.id(prefix))
    }

    fn id(self, prefix: &str) -> String {
        let name = match self {
            Self::Unknown => "unknown",
            Self::Elevated => "elevated",
            Self::Closed => "closed",
        };
        format!("{prefix}-{name}")
    }

    fn pattern(self, prefix: &str) -> Pattern {
        let (side, turn) = match self {
            Self::Unknown => (7.0, 45),
            Self::Elevated => (8.0, -45),
            Self::Closed => (6.0, 45),
        };
        let rule = |x2: f64, y2: f64, colour: &str, width: f64| {
            Line::new()
                .set("x1", 0)
                .set("y1", 0)
                .set("x2", tenth(x2))
                .set("y2", tenth(y2))
                .set("stroke", colour)
                .set("stroke-width", width)
        };
        let pattern = Pattern::new()
            .set("id", self.id(prefix))
            .set("width", side)
            .set("height", side)
            .set("patternUnits", "userSpaceOnUse")
            .set("patternTransform", format!("rotate({turn})"));
        match self {
            Self::Unknown => pattern
                .add(Rectangle::new().set("width", side).set("height", side).set("fill", UNKNOWN))
                .add(rule(0.0, side, "#a3abb4", 1.2)),
            Self::Elevated => pattern.add(rule(0.0, side, "#7a2e00", 1.1)),
            Self::Closed => {
                pattern.add(rule(0.0, side, "#1b1f24", 1.2)).add(rule(side, 0.0, "#1b1f24", 1.2))
            }
        }
    }
}

/// The patterns of all hatches, for a piece with the given prefix.
pub(crate) fn patterns(prefix: &str) -> Definitions {
    Hatch::ALL
        .into_iter()
        .fold(Definitions::new(), |definitions, hatch| definitions.add(hatch.pattern(prefix)))
}

/// Everything below the routes. To be cut to the frame by the caller.
pub(crate) fn ground(map: &MapPicture, view: &View<'_>, prefix: &str) -> Group {
    let frame = view.frame();
    let mut group = Group::new().add(
        Rectangle::new()
            .set("x", tenth(frame.min().x))
            .set("y", tenth(frame.min().y))
            .set("width", tenth(frame.width()))
            .set("height", tenth(frame.height()))
            .set("fill", WATER),
    );
    // Two picture units a cell are as fine as a screen shows.
    let least_step_m = 2.0 / view.per_metre();
    let raster =
        |value: &dyn Fn(usize) -> f32| Raster::of(&map.grid, view.window(), least_step_m, value);
    let area = |raster: &Raster, level: f32| {
        let rings = contour::rings(raster, level);
        area_path(rings.into_iter().map(|ring| in_picture(ring, view)), frame)
    };

    if !map.ice_concentration.is_empty() {
        let ice = raster(&|cell| map.ice_concentration.get(cell).copied().unwrap_or(f32::NAN));
        let unknown = area(&ice.mask(f32::is_nan), 0.5);
        let ice = ice.filled();
        for (_, least, tint) in CLASSES {
            group = add_area(group, area(&ice, least), tint);
        }
        group = add_area(group, unknown, &Hatch::Unknown.fill(prefix));
    }
    for (cells, hatch) in [(&map.elevated, Hatch::Elevated), (&map.closed, Hatch::Closed)] {
        if cells.contains(&true) {
            let flag = |cell: usize| f32::from(u8::from(cells.get(cell).is_some_and(|&is| is)));
            group = add_area(group, area(&raster(&flag), 0.5), &hatch.fill(prefix));
        }
    }
    // Shelf first: where sets overlap, land is the surer word.
    for quantity in [Quantity::SHELF, Quantity::LAND] {
        for outline in map.outlines.iter().filter(|outline| outline.quantity == quantity) {
            let rings = rings_of(&outline.areas).map(|ring| in_picture(ring, view));
            let data = area_path(rings, frame);
            if data.is_empty() {
                continue;
            }
            let path = Path::new()
                .set("d", data)
                .set("fill-rule", "evenodd")
                .set("stroke", COAST)
                .set("stroke-width", 0.7)
                .set("stroke-linejoin", "round");
            group = group.add(if quantity == Quantity::LAND {
                path.set("fill", LAND)
            } else {
                path.set("fill", SHELF).set("stroke-dasharray", "3 2")
            });
        }
    }
    group
}

pub(super) fn add_area(group: Group, data: String, fill: &str) -> Group {
    if data.is_empty() {
        return group;
    }
    group.add(Path::new().set("d", data).set("fill", fill).set("fill-rule", "evenodd"))
}

pub(super) fn rings_of(areas: &MultiPolygon<f64>) -> impl Iterator<Item = Vec<Coord<f64>>> {
    let open = |ring: &LineString<f64>| ring.0.clone();
    areas
        .iter()
        .flat_map(move |area| {
            std::iter::once(open(area.exterior())).chain(area.interiors().iter().map(open))
        })
        .filter(|ring| ring.len() > 3)
}

pub(super) fn in_picture(ring: Vec<Coord<f64>>, view: &View<'_>) -> Vec<Coord<f64>> {
    ring.into_iter().map(|point| view.pixel(coord! { x: point.x, y: point.y })).collect()
}
