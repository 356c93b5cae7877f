//! `map.svg`: the voyage and the pole on the grid's own projection.
//!
//! ```text
//!   View     plane of the grid -> picture, turned by quarters so that north is up
//!   Raster   cells -> cropped, thinned cells -> contour::rings -> rings::area_path
//!   panel    ground, graticule, pole, routes and words of one map
//! ```

mod classes;
mod contour;
mod graticule;
mod ground;
mod labels;
mod legend;
mod panel;
mod pole;
mod quantity;
mod raster;
mod rings;
mod routes;
mod scale;
mod view;

use dipward_plugin::{BuildContext, Error, Faults, OutputFile, Report, Spec, Writer, WriterPoint};
use geo::coord;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use svg::{
    Document,
    node::element::{Group, Rectangle},
};

pub(crate) use classes::{ColourScale, value_with_unit};
pub(crate) use quantity::{Backdrop, Kind};

use crate::{
    figures::{date, place},
    paint::{FAINT_INK, FONTS, INK, Piece, tenth, text},
    shown::{Shown, shown},
};

/// How many approaches are shown unless the scenario says otherwise.
pub(crate) const ROUTES: u8 = 5;

/// Keys of the kind `map_svg`.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MapSvgSpec {
    /// How many approaches the map shows at most, 1 to 5.
    #[serde(default = "default_routes")]
    #[schemars(range(min = 1, max = 5))]
    pub routes: u8,
}

pub(crate) fn default_routes() -> u8 {
    ROUTES
}

/// Draws `map.svg`: coast, ice, zones, graticule, the best distinct routes, and beside it the pole with
/// its track, daily oval, clouds and ellipses.
#[derive(Debug, Clone, Copy)]
pub struct MapSvg {
    routes: u8,
}

impl Default for MapSvg {
    fn default() -> Self {
        Self { routes: ROUTES }
    }
}

impl Spec for MapSvgSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "map_svg";
    const SUMMARY: &'static str = "a map of the voyage and of the pole, map.svg";
    const EXAMPLE: &'static str = "{kind: map_svg, routes: 3}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(MapSvg { routes: self.routes }))
    }
}

impl Writer for MapSvg {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        let shown = shown(&report.ranking, &report.map.grid, self.routes.into());
        let pieces = pieces(report, &shown)?;
        let mut bytes = sheet(report, pieces).to_string().into_bytes();
        bytes.push(b'\n');
        Ok(vec![OutputFile { name: "map.svg".to_owned(), bytes }])
    }
}

/// The parts of the map, which a page may lay out as it likes.
#[derive(Debug)]
pub(crate) struct Pieces {
    pub(crate) voyage: Piece,
    pub(crate) pole: Option<Piece>,
    pub(crate) legend: Piece,
}

/// Draws the parts.
///
/// # Errors
///
/// [`Error::Unsolved`] where a column of the map has not the grid's length.
pub(crate) fn pieces(report: &Report, shown: &[Shown<'_>]) -> Result<Pieces, Error> {
    let map = &report.map;
    let cells = map.grid.len();
    let wrong = [
        ("ice_concentration", map.ice_concentration.len()),
        ("closed", map.closed.len()),
        ("elevated", map.elevated.len()),
    ]
    .into_iter()
    .find(|(_, length)| *length != cells && *length != 0);
    if let Some((name, length)) = wrong {
        return Err(Error::Unsolved(format!(
            "the map's column `{name}` has {length} cells and the grid {cells}"
        )));
    }
    Ok(Pieces {
        voyage: panel::voyage(report, shown),
        pole: panel::about_pole(report, shown),
        legend: legend::legend(report, shown),
    })
}

/// The whole picture: heading, the voyage on the left, the pole and the legend on the right.
fn sheet(report: &Report, pieces: Pieces) -> Document {
    const EDGE: f64 = 14.0;
    const HEAD: f64 = 54.0;
    const FOOT: f64 = 26.0;

    let summary = &report.ranking.pole;
    let left = pieces.voyage;
    let mut right: Vec<(f64, Piece)> = Vec::new();
    let mut right_height = 0.0;
    let pole = pieces.pole.map(|piece| panel::headed("About the pole", piece));
    for piece in pole.into_iter().chain([pieces.legend]) {
        let height = piece.height;
        right.push((right_height, piece));
        right_height += height + 8.0;
    }
    let right_width = right.iter().map(|(_, piece)| piece.width).fold(0.0, f64::max);
    let width = EDGE + left.width + right_width + EDGE;
    let height = HEAD + left.height.max(right_height) + FOOT;

    let at = |x: f64, y: f64, piece: Piece| {
        let moved = format!("translate({} {})", tenth(x), tenth(y));
        Group::new().set("transform", moved).add(piece.body)
    };
    let about = format!(
        "{} dip pole, {} on {}. Polar stereographic. Ice on {}.",
        capitalised(&summary.hemisphere.to_string()),
        place(summary.latitude_deg, summary.longitude_deg),
        date(summary.epoch),
        date(report.map.at),
    );
    let caution = "A planning aid, not a navigation system. Official charts, ice services and the \
                   master decide.";
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {} {}", tenth(width), tenth(height)))
        .set("width", tenth(width))
        .set("height", tenth(height))
        .set("font-family", FONTS)
        .set("role", "img")
        .add(svg::node::element::Title::new(crate::figures::clean(&report.ranking.scenario)))
        .add(Rectangle::new().set("width", "100%").set("height", "100%").set("fill", "#ffffff"))
        .add(
            text(&report.ranking.scenario, coord! { x: EDGE + 6.0, y: 26.0 }, 18.0, "start")
                .set("font-weight", "bold"),
        )
        .add(text(&about, coord! { x: EDGE + 6.0, y: 46.0 }, 12.5, "start").set("fill", FAINT_INK))
        .add(
            text(caution, coord! { x: EDGE + 6.0, y: height - 10.0 }, 12.0, "start")
                .set("fill", INK),
        );
    let right_x = EDGE + left.width;
    document = document.add(at(EDGE, HEAD, left));
    for (y, piece) in right {
        document = document.add(at(right_x, HEAD + y, piece));
    }
    document
}

fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}
