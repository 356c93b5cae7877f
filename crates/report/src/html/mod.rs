//! `report.html`: one page, no network, no script.

mod along;
mod basis;
mod chances;
mod chart;
mod last_leg;
mod markup;
mod plot;
mod result;
mod turning;

use dipward_plugin::{BuildContext, Error, Faults, OutputFile, Report, Spec, Writer, WriterPoint};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use self::chart::{ChartFrame, ChartLayer, ChartPage};
pub(crate) use self::{
    markup::{Cell, Markup},
    plot::{Axis, Chart, Level, Series, swatch},
};
use crate::{
    map::{ROUTES, default_routes, pieces},
    shown::shown,
};

/// Keys of the kind `report_html`.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReportHtmlSpec {
    /// How many approaches the map and the plots show at most, 1 to 5. The ranking shows all.
    #[serde(default = "default_routes")]
    #[schemars(range(min = 1, max = 5))]
    pub routes: u8,
}

/// Writes `report.html`: caution, summary, map, ranking, fuel and risk along the routes, attainment, the
/// pole, turn-back, rejections, assumptions, layers and provenance.
///
/// The page fetches nothing and runs nothing, and its bytes depend on the report alone.
#[derive(Debug, Clone, Copy)]
pub struct ReportHtml {
    routes: u8,
}

impl Default for ReportHtml {
    fn default() -> Self {
        Self { routes: ROUTES }
    }
}

impl Spec for ReportHtmlSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "report_html";
    const SUMMARY: &'static str = "one page with map, ranking, plots and provenance, report.html";
    const EXAMPLE: &'static str = "{kind: report_html, routes: 4}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(ReportHtml { routes: self.routes }))
    }
}

impl Writer for ReportHtml {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        let shown = shown(&report.ranking, &report.map.grid, self.routes.into());
        let pieces = pieces(report, &shown)?;
        let page = page_of(&report.ranking.scenario, |page| {
            result::opening(page, report);
            result::summary(page, report);
            result::map(page, report, pieces);
            result::ranking(page, report, &shown);
            last_leg::section(page, report);
            if !shown.is_empty() {
                along::section(page, report, &shown);
            }
            chances::section(page, report, &shown);
            basis::pole(page, report);
            turning::section(page, &shown);
            basis::rejected(page, report);
            basis::assumptions(page, report);
            basis::layers(page, report);
            basis::provenance(page, report);
        });
        let bytes = page.into_bytes();
        Ok(vec![OutputFile { name: "report.html".to_owned(), bytes }])
    }
}

/// A page in one file, which fetches nothing and runs nothing.
pub(crate) fn page_of(title: &str, main: impl FnOnce(&mut Markup)) -> String {
    let mut page = Markup::default();
    page.own("<!DOCTYPE html>\n<html lang=\"en\">\n");
    page.within("head", |page| {
        page.own(HEAD);
        page.element("title", title);
        page.within("style", |page| page.own(include_str!("style.css")));
    });
    page.within("body", |page| page.within("main", main));
    page.own("</html>\n");
    page.into_string()
}

/// The policy forbids every fetch and every script, in case that something slips through.
const HEAD: &str = "\n<meta charset=\"utf-8\">\n\
    <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
    <meta http-equiv=\"Content-Security-Policy\" \
    content=\"default-src 'none'; style-src 'unsafe-inline'\">\n";
