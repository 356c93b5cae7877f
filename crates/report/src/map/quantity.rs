//! Maps of a chart: one quantity, or which layer it comes from.

use dipward_geodesy::{Grid, Position};
use dipward_plugin::{Outline, Quantity};
use geo::{Coord, coord};
use svg::node::element::{Group, Path, Rectangle};

use super::{
    classes::ColourScale,
    contour, graticule, ground,
    ground::{COAST, Hatch, LAND},
    labels::{Labels, Weight},
    legend::Rows,
    panel::{panel, port_mark},
    pole::cross,
    raster::Raster,
    rings::area_path,
    view::{View, quarters_to_north_up, turned_rect},
};
use crate::paint::{Piece, tenth};

/// The most room that a map takes within its margins.
const MOST: Coord<f64> = coord! { x: 330.0, y: 360.0 };

/// What all maps of a chart have in common.
#[derive(Debug)]
pub(crate) struct Backdrop<'a> {
    pub(crate) grid: &'a Grid,
    pub(crate) outlines: &'a [Outline],
    /// Whether a cell is land or ice shelf.
    pub(crate) land: &'a [bool],
    pub(crate) places: &'a [(String, Position)],
    pub(crate) pole: Position,
}

/// An area of one tint with its words for the legend.
pub(crate) struct Kind {
    pub(crate) words: String,
    pub(crate) tint: String,
}

impl Backdrop<'_> {
    /// The map of a quantity by classes, with its legend below.
    pub(crate) fn amounts(&self, values: &[f32], scale: &ColourScale, prefix: &str) -> Piece {
        let view = self.view();
        let raster = self.raster(&view, |cell| values.get(cell).copied().unwrap_or(f32::NAN));
        let filled = raster.clone().filled();
        let mut body = Group::new();
        for (index, class) in scale.classes.iter().enumerate() {
            let tint = class.tint.as_str();
            body = if index == 0 {
                body.add(whole_frame(&view, tint))
            } else {
                add_area(body, &filled, class.least, tint, &view)
            };
        }
        let kinds = scale
            .classes
            .iter()
            .map(|class| Kind { words: class.words.clone(), tint: class.tint.clone() });
        let unknown = |cell: usize| values.get(cell).is_none_or(|value| value.is_nan());
        self.finished(body, &view, kinds.collect(), &unknown, prefix)
    }

    /// The map of what each cell belongs to, with its legend below: `of` gives the kind of a cell.
    pub(crate) fn kinds(
        &self,
        kinds: Vec<Kind>,
        of: &dyn Fn(usize) -> Option<usize>,
        prefix: &str,
    ) -> Piece {
        let view = self.view();
        let mut body = Group::new();
        for (index, kind) in kinds.iter().enumerate() {
            let raster = self.raster(&view, |cell| f32::from(u8::from(of(cell) == Some(index))));
            body = add_area(body, &raster, 0.5, &kind.tint, &view);
        }
        self.finished(body, &view, kinds, &|cell| of(cell).is_none(), prefix)
    }

    /// Adds what no layer covers, the coast, the places and the legend.
    fn finished(
        &self,
        mut body: Group,
        view: &View<'_>,
        kinds: Vec<Kind>,
        unknown: &dyn Fn(usize) -> bool,
        prefix: &str,
    ) -> Piece {
        let is_land = |cell: usize| self.land.get(cell) == Some(&true);
        // Land of which a quantity says nothing is no gap.
        for (on_land, fill) in [(true, LAND.to_owned()), (false, Hatch::Unknown.fill(prefix))] {
            let flag = |cell: usize| f32::from(u8::from(unknown(cell) && is_land(cell) == on_land));
            body = add_area(body, &self.raster(view, flag), 0.5, &fill, view);
        }
        for outline in self.outlines.iter().filter(|outline| is_coast(outline.quantity)) {
            let rings = ground::rings_of(&outline.areas).map(|ring| ground::in_picture(ring, view));
            let data = area_path(rings, view.frame());
            if !data.is_empty() {
                body = body.add(
                    Path::new()
                        .set("d", data)
                        .set("fill", "none")
                        .set("stroke", COAST)
                        .set("stroke-width", 0.8)
                        .set("stroke-linejoin", "round"),
                );
            }
        }
        let places = self.places.iter().map(|(_, place)| *place);
        let marked: Vec<Position> = places.chain([self.pole]).collect();
        let map = panel(
            body,
            view,
            prefix,
            Group::new(),
            self.marks(view),
            self.grid.position(view.window().center()),
            &marked,
        );
        let mut rows = Rows::default();
        for kind in &kinds {
            rows.area(&kind.words, &kind.tint, None);
        }
        let cells = 0..self.grid.len();
        if cells.clone().any(|cell| unknown(cell) && !is_land(cell)) {
            rows.area("no layer covers it", &Hatch::Unknown.fill(prefix), None);
        }
        if cells.into_iter().any(|cell| unknown(cell) && is_land(cell)) {
            rows.area("land or shelf, no layer covers it", LAND, None);
        }
        let legend = rows.piece();
        let below =
            format!("translate({} {})", tenth(graticule::MARGIN.x), tenth(map.height + 4.0));
        Piece {
            width: map.width,
            height: map.height + legend.height + 8.0,
            body: Group::new().add(map.body).add(legend.body.set("transform", below)),
        }
    }

    /// Ports and the pole with their names.
    fn marks(&self, view: &View<'_>) -> Group {
        let mut labels = Labels::new(view.frame());
        let mut marks = Group::new();
        let pole = view.place(self.pole).filter(|at| view.shows(*at));
        if let Some(at) = pole {
            marks = marks.add(cross(at, 7.0));
            labels.keep_off(at, 8.0);
        }
        for (name, place) in self.places {
            let Some(at) = view.place(*place).filter(|at| view.shows(*at)) else { continue };
            marks = marks.add(port_mark(at, 3.0));
            labels.keep_off(at, 4.0);
            if let Some(name) = labels.beside(name, at, 7.0, 12.0, Weight::Name) {
                marks = marks.add(name);
            }
        }
        if let Some(name) =
            pole.and_then(|at| labels.beside("dip pole", at, 10.0, 12.0, Weight::Name))
        {
            marks = marks.add(name);
        }
        marks
    }

    fn view(&self) -> View<'_> {
        let quarters = quarters_to_north_up(self.grid, self.grid.bounds().center());
        View::new(
            self.grid,
            quarters,
            turned_rect(self.grid.bounds(), quarters),
            graticule::MARGIN,
            MOST,
        )
    }

    fn raster(&self, view: &View<'_>, value: impl Fn(usize) -> f32) -> Raster {
        // Two picture units a cell are as fine as a screen shows.
        Raster::of(self.grid, view.window(), 2.0 / view.per_metre(), value)
    }
}

fn is_coast(quantity: Quantity) -> bool {
    quantity == Quantity::LAND || quantity == Quantity::SHELF
}

fn whole_frame(view: &View<'_>, tint: &str) -> Rectangle {
    let frame = view.frame();
    Rectangle::new()
        .set("x", tenth(frame.min().x))
        .set("y", tenth(frame.min().y))
        .set("width", tenth(frame.width()))
        .set("height", tenth(frame.height()))
        .set("fill", tint)
}

fn add_area(group: Group, raster: &Raster, level: f32, fill: &str, view: &View<'_>) -> Group {
    let rings = contour::rings(raster, level);
    let rings = rings.into_iter().map(|ring| ground::in_picture(ring, view));
    ground::add_area(group, area_path(rings, view.frame()), fill)
}
