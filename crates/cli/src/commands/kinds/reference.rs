//! The reference page of the kinds, in Markdown.

use std::fmt::Write;

use dipward_plugin::{Kind, Registry, SLOTS};

use super::key_table::{Row, rows};

/// The page: every slot, every kind, every key.
pub(super) fn reference(registry: &Registry) -> String {
    let mut page = String::from(
        "# Kinds\n\nWhat a scenario may name, slot by slot. This page is written by \
         `dipward kinds --markdown`; the texts stand beside the code.\n",
    );
    for slot in SLOTS {
        add(&mut page, format_args!("\n- [`{slot}`](#{})", anchor(slot)));
        for (index, kind) in registry.kinds_of(slot).enumerate() {
            let between = if index == 0 { ": " } else { ", " };
            add(&mut page, format_args!("{between}`{}`", kind.name));
        }
    }
    page.push('\n');
    for slot in SLOTS {
        add(&mut page, format_args!("\n## `{slot}`\n"));
        for kind in registry.kinds_of(slot) {
            add_kind(&mut page, kind);
        }
    }
    page
}

fn add_kind(page: &mut String, kind: &Kind) {
    add(page, format_args!("\n### `{}`\n\n{}\n", kind.name, sentence(kind.summary)));
    let rows = rows(&kind.schema);
    if rows.is_empty() {
        page.push_str("\nIt has no keys of its own.\n");
    } else {
        page.push_str("\n| key | type | default | range | what it is |\n|---|---|---|---|---|\n");
        for row in &rows {
            add_row(page, row);
        }
    }
    add(page, format_args!("\n```yaml\n{}\n```\n", kind.example.trim()));
}

fn add_row(page: &mut String, row: &Row) {
    let default = match row.default.as_deref() {
        None => "required".to_owned(),
        Some("null") => "none".to_owned(),
        Some("") => String::new(),
        Some(value) => format!("`{value}`"),
    };
    let Row { name, type_name, range, description, .. } = row;
    let cells = [&format!("`{name}`"), type_name, &default, range, description].map(|s| cell(s));
    add(page, format_args!("| {} |\n", cells.join(" | ")));
}

/// A text that stays within its cell.
fn cell(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|")
}

/// A summary as a sentence.
fn sentence(summary: &str) -> String {
    let mut letters = summary.trim().chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    let text: String = first.chain(letters).collect();
    if text.ends_with('.') { text } else { text + "." }
}

/// The anchor that common renderers give to a heading.
fn anchor(heading: &str) -> String {
    let kept = heading.chars().filter(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | ' '));
    kept.flat_map(char::to_lowercase).map(|c| if c == ' ' { '-' } else { c }).collect()
}

fn add(page: &mut String, text: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = page.write_fmt(text);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_and_sentences_keep_their_form() {
        assert_eq!(cell("a | b\n c"), "a \\| b c");
        assert_eq!(sentence("the coast"), "The coast.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(anchor("chart.layers[]"), "chartlayers");
    }
}
