//! HTML that cannot be broken by what a scenario says.

use svg::Document;

use crate::figures::clean;

/// A page in the making.
///
/// Tags are `&'static str`, so they come from this program's source; everything else enters through
/// [`Markup::text`], which escapes it, or as an SVG document, which escapes its own.
#[derive(Debug, Default)]
pub(crate) struct Markup(String);

impl Markup {
    /// Text as text.
    pub(crate) fn text(&mut self, text: &str) {
        for c in clean(text).chars() {
            match c {
                '&' => self.0.push_str("&amp;"),
                '<' => self.0.push_str("&lt;"),
                '>' => self.0.push_str("&gt;"),
                '"' => self.0.push_str("&quot;"),
                '\'' => self.0.push_str("&#39;"),
                c => self.0.push(c),
            }
        }
    }

    /// Markup of this program.
    pub(crate) fn own(&mut self, markup: &'static str) {
        self.0.push_str(markup);
    }

    /// An element with what `inner` puts into it. `tag` is a name, perhaps with attributes.
    pub(crate) fn within(&mut self, tag: &'static str, inner: impl FnOnce(&mut Self)) {
        self.0.push('<');
        self.0.push_str(tag);
        self.0.push('>');
        inner(self);
        self.0.push_str("</");
        self.0.push_str(tag.split(' ').next().unwrap_or(tag));
        self.0.push_str(">\n");
    }

    /// An element that holds text.
    pub(crate) fn element(&mut self, tag: &'static str, text: &str) {
        self.within(tag, |inner| inner.text(text));
    }

    /// What another page in the making has.
    pub(super) fn append(&mut self, other: Self) {
        self.0.push_str(&other.0);
    }

    /// A drawing in place.
    pub(crate) fn drawing(&mut self, drawing: &Document) {
        self.0.push_str(&drawing.to_string());
        self.0.push('\n');
    }

    /// A table with heading cells and rows. On narrow screens each row becomes a card whose cells are
    /// labelled by the headings.
    pub(crate) fn table(&mut self, headings: &[&'static str], rows: &[Vec<Cell>]) {
        self.table_in_groups(headings, &[(None, rows)]);
    }

    /// A table whose rows stand in groups, each perhaps under a heading of its own.
    pub(crate) fn table_in_groups(
        &mut self,
        headings: &[&'static str],
        groups: &[(Option<&str>, &[Vec<Cell>])],
    ) {
        // Few columns fit a narrow screen as they are.
        let tag = if headings.len() > 3 { "table class=\"rows\"" } else { "table" };
        self.within(tag, |table| {
            table.within("thead", |head| {
                head.within("tr", |row| {
                    for heading in headings {
                        row.element("th scope=\"col\"", heading);
                    }
                });
            });
            for (name, rows) in groups {
                table.within("tbody", |body| {
                    if let Some(name) = name {
                        body.within("tr class=\"group\"", |row| {
                            let columns = headings.len();
                            row.0.push_str(&format!(
                                "<th scope=\"rowgroup\" colspan=\"{columns}\">"
                            ));
                            row.text(name);
                            row.0.push_str("</th>\n");
                        });
                    }
                    for cells in *rows {
                        body.within("tr", |row| {
                            for (cell, heading) in cells.iter().zip(headings) {
                                row.cell(cell, heading);
                            }
                        });
                    }
                });
            }
        });
    }

    /// A table that stays a table on narrow screens; the first cell of a row is its heading where the
    /// columns have headings.
    pub(crate) fn grid(&mut self, tag: &'static str, headings: &[&str], rows: &[Vec<Cell>]) {
        self.within(tag, |table| {
            if !headings.is_empty() {
                table.within("thead", |head| {
                    head.within("tr", |row| {
                        headings
                            .iter()
                            .for_each(|heading| row.element("th scope=\"col\"", heading));
                    });
                });
            }
            table.within("tbody", |body| {
                for cells in rows {
                    body.within("tr", |row| cells.iter().for_each(|cell| row.grid_cell(cell)));
                }
            });
        });
    }

    fn grid_cell(&mut self, cell: &Cell) {
        match cell {
            Cell::Words(text) => self.element("th scope=\"row\"", text),
            Cell::Number(text) => self.element("td class=\"number\"", text),
            Cell::Classed(class, text) => {
                self.0.push_str("<td class=\"");
                self.0.push_str(class);
                self.0.push_str("\">");
                self.text(text);
                self.0.push_str("</td>\n");
            }
            Cell::Marked(drawing, text) => self.within("td", |cell| {
                cell.drawing(drawing);
                cell.text(text);
            }),
        }
    }

    /// The caution that every page opens with.
    pub(crate) fn caution(&mut self, caution: &str) {
        self.within("p class=\"caution\" role=\"note\"", |page| {
            page.element("strong", "Caution.");
            page.text(caution);
        });
    }

    fn cell(&mut self, cell: &Cell, heading: &'static str) {
        self.0.push_str(match cell {
            Cell::Number(_) => "<td class=\"number\" data-label=\"",
            _ => "<td data-label=\"",
        });
        self.text(heading);
        self.0.push_str("\"><span>");
        match cell {
            Cell::Number(text) | Cell::Words(text) | Cell::Classed(_, text) => self.text(text),
            Cell::Marked(drawing, text) => {
                self.drawing(drawing);
                self.text(text);
            }
        }
        self.0.push_str("</span></td>\n");
    }

    pub(crate) fn into_string(self) -> String {
        self.0
    }
}

/// A cell of a table.
#[derive(Debug)]
pub(crate) enum Cell {
    /// Flush right.
    Number(String),
    /// Flush left.
    Words(String),
    /// A mark before a word.
    Marked(Document, String),
    /// Of a class of its own.
    Classed(&'static str, String),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_stays_text() {
        let mut page = Markup::default();
        page.element("p class=\"x\"", "<script>&\"'\u{0}");
        assert_eq!(
            page.into_string(),
            "<p class=\"x\">&lt;script&gt;&amp;&quot;&#39;\u{fffd}</p>\n"
        );
    }
}
