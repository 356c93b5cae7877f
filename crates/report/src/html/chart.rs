//! `chart.html`: every quantity of a chart at a time, where each comes from and how old it is.

use dipward_geodesy::{Grid, Position};
use dipward_plugin::{Outline, OutputFile, Quantity};
use jiff::Timestamp;

use super::{markup::Cell, markup::Markup, page_of, result::drawing};
use crate::{
    figures::{NONE, fixed, instant, instant_in_words},
    map::{Backdrop, ColourScale, Kind, value_with_unit},
};

/// What all maps of a chart have in common.
#[derive(Debug, Clone)]
pub struct ChartFrame {
    /// What the scenario is called.
    pub title: String,
    /// The caution shown first.
    pub caution: String,
    /// When.
    pub at: Timestamp,
    /// The grid of all columns.
    pub grid: Grid,
    /// Outlines of land and shelf, in the grid's metres.
    pub outlines: Vec<Outline>,
    /// Whether each cell is land or ice shelf.
    pub land: Vec<bool>,
    /// Ports by name.
    pub places: Vec<(String, Position)>,
    /// The mean dip pole then.
    pub pole: Position,
    /// The layers, in the order of precedence.
    pub layers: Vec<ChartLayer>,
}

/// A layer of a chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartLayer {
    /// Its name.
    pub name: String,
    /// Where its data come from.
    pub source: String,
    /// The first and last instant of its data; nothing for one that does not change.
    pub instants: Option<(Timestamp, Timestamp)>,
    /// Hours since the instant that it shows; nothing for one without instants.
    pub age_h: Option<f64>,
    /// What it takes for granted.
    pub assumptions: Vec<String>,
}

/// The page in the making: quantities are drawn as they are added, so that no more than one need be
/// in memory at a time.
#[derive(Debug)]
pub struct ChartPage<'a> {
    frame: &'a ChartFrame,
    maps: Markup,
    drawn: usize,
    /// Quantities of one value, in words.
    same: Vec<String>,
    /// Quantities by where their cells come from.
    origins: Vec<(Runs, Vec<&'static str>)>,
}

/// A column as runs of equal values.
type Runs = Vec<(usize, Option<u16>)>;

impl<'a> ChartPage<'a> {
    /// A page without maps.
    #[must_use]
    pub fn new(frame: &'a ChartFrame) -> Self {
        Self { frame, maps: Markup::default(), drawn: 0, same: Vec::new(), origins: Vec::new() }
    }

    /// Adds a quantity.
    ///
    /// # Arguments
    ///
    /// `values` and `layers` have an entry a cell: the value, not a number where no layer covers the
    /// cell, and the place of the layer that it comes from in [`ChartFrame::layers`].
    pub fn add(&mut self, quantity: Quantity, values: &[f32], layers: &[Option<u16>]) {
        let runs: Runs = layers.chunk_by(|a, b| a == b).map(|run| (run.len(), run[0])).collect();
        match self.origins.iter_mut().find(|(own, _)| *own == runs) {
            Some((_, names)) => names.push(quantity.name()),
            None => self.origins.push((runs, vec![quantity.name()])),
        }
        let title = heading(quantity);
        let mut known = values.iter().copied().filter(|value| !value.is_nan());
        match known.next() {
            None => self.same.push(format!("{}: no layer covers a cell", quantity.name())),
            Some(first) if known.all(|value| value == first) => self.same.push(format!(
                "{}: {} wherever it is known",
                quantity.name(),
                value_with_unit(quantity, first)
            )),
            Some(_) => {
                let Some(scale) = ColourScale::of(quantity, values) else { return };
                let prefix = format!("map{}", self.drawn);
                self.drawn += 1;
                let piece = self.backdrop().amounts(values, &scale, &prefix);
                self.maps.within("figure", |page| {
                    page.element("figcaption", &title);
                    page.drawing(&drawing(piece, quantity.name()));
                });
            }
        }
    }

    /// The page, `chart.html`.
    #[must_use]
    pub fn finish(mut self) -> OutputFile {
        let maps = std::mem::take(&mut self.maps);
        let frame = self.frame;
        let title = format!("Chart: {}", frame.title);
        let page = page_of(&title, |page| {
            page.element("h1", &title);
            page.caution(&frame.caution);
            page.element(
                "p",
                &format!(
                    "On {} UTC, on a polar stereographic grid of {} by {} cells of {} km. For \
                     each cell the first layer that covers it counts. Unknown is not open water.",
                    instant_in_words(frame.at),
                    frame.grid.columns(),
                    frame.grid.rows(),
                    fixed(frame.grid.cell_m() / 1000.0, 1),
                ),
            );
            page.element("h2", "Quantities");
            page.within("div class=\"maps\"", |page| page.append(maps));
            if !self.same.is_empty() {
                page.element("h3", "The same everywhere");
                page.within("ul", |page| {
                    for words in &self.same {
                        page.element("li", words);
                    }
                });
            }
            page.element("h2", "Where they come from, and how old they are");
            page.within("div class=\"maps\"", |page| self.origins(page));
            page.element("h2", "Layers");
            layers(page, frame);
        });
        OutputFile { name: "chart.html".to_owned(), bytes: page.into_bytes() }
    }

    fn backdrop(&self) -> Backdrop<'a> {
        Backdrop {
            grid: &self.frame.grid,
            outlines: &self.frame.outlines,
            land: &self.frame.land,
            places: &self.frame.places,
            pole: self.frame.pole,
        }
    }

    /// For each group of quantities of the same origin: the map of layers, and that of ages.
    fn origins(&self, page: &mut Markup) {
        for (group, (runs, names)) in self.origins.iter().enumerate() {
            let column: Vec<Option<u16>> =
                runs.iter().flat_map(|(len, layer)| std::iter::repeat_n(*layer, *len)).collect();
            let mut present: Vec<u16> = runs.iter().filter_map(|(_, layer)| *layer).collect();
            present.sort_unstable();
            present.dedup();
            if present.is_empty() {
                continue;
            }
            let names = in_words(names);
            let layer_of = |cell: usize| column.get(cell).copied().flatten();
            let tints = ColourScale::ramp(present.len());
            let kinds = present.iter().zip(tints).map(|(layer, tint)| Kind {
                words: self.layer(*layer).map_or_else(String::new, |layer| layer.name.clone()),
                tint,
            });
            let of = |cell: usize| present.iter().position(|own| Some(*own) == layer_of(cell));
            self.origin(page, &format!("Layer of {names}"), kinds.collect(), &of, group, "layer");

            let age = |layer: u16| self.layer(layer).and_then(|layer| layer.age_h);
            let mut ages: Vec<f64> = present.iter().filter_map(|layer| age(*layer)).collect();
            ages.sort_by(f64::total_cmp);
            ages.dedup();
            if ages.is_empty() {
                continue;
            }
            let timeless = present.iter().any(|layer| age(*layer).is_none());
            let tints = ColourScale::ramp(ages.len() + usize::from(timeless));
            let words = timeless
                .then(|| "does not change".to_owned())
                .into_iter()
                .chain(ages.iter().map(|age_h| age_in_words(*age_h)));
            let kinds = words.zip(tints).map(|(words, tint)| Kind { words, tint }).collect();
            let of = |cell: usize| match age(layer_of(cell)?) {
                None => Some(0),
                Some(own) => ages
                    .iter()
                    .position(|age_h| *age_h == own)
                    .map(|place| place + usize::from(timeless)),
            };
            self.origin(page, &format!("Age of {names}"), kinds, &of, group, "age");
        }
    }

    fn origin(
        &self,
        page: &mut Markup,
        title: &str,
        kinds: Vec<Kind>,
        of: &dyn Fn(usize) -> Option<usize>,
        group: usize,
        what: &str,
    ) {
        let piece = self.backdrop().kinds(kinds, of, &format!("{what}{group}"));
        page.within("figure", |page| {
            page.element("figcaption", title);
            page.drawing(&drawing(piece, what));
        });
    }

    fn layer(&self, layer: u16) -> Option<&ChartLayer> {
        self.frame.layers.get(usize::from(layer))
    }
}

fn heading(quantity: Quantity) -> String {
    let name = quantity.name().replace('_', " ");
    match quantity.unit() {
        "1" => name,
        unit => format!("{name}, {unit}"),
    }
}

/// The first of some names, and how many more there are.
fn in_words(names: &[&str]) -> String {
    let shown = if names.len() > 3 { 2 } else { names.len() };
    let words: Vec<String> = names.iter().take(shown).map(|name| name.replace('_', " ")).collect();
    match names.len() - shown {
        0 => words.join(", "),
        more => format!("{} and {more} more", words.join(", ")),
    }
}

fn age_in_words(age_h: f64) -> String {
    if age_h < 0.0 {
        format!("of {} h later", fixed(-age_h, 1))
    } else {
        format!("{} h old", fixed(age_h, 1))
    }
}

fn layers(page: &mut Markup, frame: &ChartFrame) {
    let rows: Vec<Vec<Cell>> = frame
        .layers
        .iter()
        .map(|layer| {
            let (from, to) = match layer.instants {
                Some((from, to)) => (instant(from), instant(to)),
                None => (NONE.to_owned(), NONE.to_owned()),
            };
            vec![
                Cell::Words(layer.name.clone()),
                Cell::Words(from),
                Cell::Words(to),
                Cell::Number(layer.age_h.map_or_else(|| NONE.to_owned(), |age_h| fixed(age_h, 1))),
                Cell::Words(layer.source.clone()),
                Cell::Words(layer.assumptions.join("; ")),
            ]
        })
        .collect();
    page.table(
        &["Layer", "Data from, UTC", "to, UTC", "Age, h", "Source", "Taken for granted"],
        &rows,
    );
}
