//! Reading the tables of a SQLite database, the container of GeoPackages.
//!
//! Rows of ordinary tables only, by walking their B-trees: no indices, no SQL. Pages that the write-ahead log
//! holds go before those of the file.
//!
//! ```text
//!   page 1   100 bytes of header, then the root of the table `sqlite_schema`
//!   interior [5, .. cells .., right child]   cell: child page, key
//!   leaf     [13, .. cells ..]               cell: length, key, record [, overflow page]
//!   record   length of header, a serial type a column, then the values
//! ```
//!
//! Source: SQLite, Database File Format, <https://www.sqlite.org/fileformat2.html>.

use serde_json::Value as Json;

use super::sqlite_log::{LoggedPages, is_unfinished};
use crate::format::not_what_was_wanted;

/// A value of a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Null,
    Integer(i64),
    Real(f64),
    Text(String),
    Blob(Vec<u8>),
}

impl Value {
    pub(super) fn text(&self) -> Option<&str> {
        match self {
            Self::Text(text) => Some(text),
            _ => None,
        }
    }

    pub(super) fn integer(&self) -> Option<i64> {
        match self {
            Self::Integer(number) => Some(*number),
            _ => None,
        }
    }

    pub(super) fn to_json(&self) -> Json {
        match self {
            Self::Null | Self::Blob(_) => Json::Null,
            Self::Integer(number) => Json::from(*number),
            Self::Real(number) => Json::from(*number),
            Self::Text(text) => Json::from(text.as_str()),
        }
    }
}

/// The files of a database; those that are not there are empty.
#[derive(Debug, Default)]
pub(super) struct DatabaseFiles {
    /// The database itself.
    pub(super) main: Vec<u8>,
    /// The write-ahead log (`-wal`).
    pub(super) log: Vec<u8>,
    /// The rollback journal (`-journal`).
    pub(super) journal: Vec<u8>,
}

/// A database in memory, as of its last commit.
#[derive(Debug)]
pub(super) struct Database<'a> {
    files: &'a DatabaseFiles,
    logged: LoggedPages,
    page_size: usize,
    /// How many pages it has.
    pages: u32,
    /// Bytes of a page that are the file's own.
    usable: usize,
    tables: Vec<Table>,
}

/// An ordinary table.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) name: String,
    pub(super) columns: Vec<String>,
    /// The column that stands for the row's key, and is empty in the records.
    key_column: Option<usize>,
    root: u32,
}

/// Most rows that a table may have: far beyond any chart, and an end to any ring of pages.
const MAX_ROWS: usize = 1_000_000;
const MAX_DEPTH: u32 = 20;

fn broken() -> String {
    "is a damaged database".to_owned()
}

impl<'a> Database<'a> {
    /// Opens a database and reads its list of tables.
    ///
    /// # Errors
    ///
    /// For a file that is no database, is damaged, or was left in the middle of a transaction.
    pub(super) fn open(files: &'a DatabaseFiles) -> Result<Self, String> {
        if is_unfinished(&files.journal) {
            return Err("has a journal beside it (`-journal`) of a transaction that was not finished: open \
                        it once with the program that wrote it"
                .to_owned());
        }
        let logged = LoggedPages::read(&files.log)?;
        let bytes = logged.page(1, &files.log).unwrap_or(&files.main);
        if !bytes.starts_with(b"SQLite format 3\0") {
            return Err(not_what_was_wanted(&files.main, "a SQLite database (GeoPackage)"));
        }
        let page_size = match be16(bytes, 16).ok_or_else(broken)? {
            1 => 65_536,
            size @ 512..=32_768 if size.is_power_of_two() => size as usize,
            _ => return Err(broken()),
        };
        if logged.page_size.is_some_and(|own| own != page_size) {
            return Err("has a write-ahead log beside it (`-wal`) of another database".to_owned());
        }
        if be32(bytes, 56).is_some_and(|encoding| encoding > 1) {
            return Err("keeps its text in UTF-16, which this reader does not take".to_owned());
        }
        let held = u32::try_from(files.main.len() / page_size).map_err(|_| broken())?;
        // The number in the header holds if the database was last changed by a program that keeps it.
        let stated = be32(bytes, 28).filter(|_| be32(bytes, 24) == be32(bytes, 92));
        let pages = logged.count.or(stated.filter(|count| *count > 0)).unwrap_or(held);
        if logged.count.is_none() && pages > held {
            return Err(format!("is cut short: it has {held} of {pages} pages"));
        }
        let usable = page_size - usize::from(*bytes.get(20).ok_or_else(broken)?);
        if usable < 480 {
            return Err(broken());
        }
        let mut database = Self { files, logged, page_size, pages, usable, tables: Vec::new() };
        let schema = database.rows_of(1)?;
        for (_, row) in schema {
            let [kind, name, _, root, sql] = row.as_slice() else { return Err(broken()) };
            let (Some("table"), Some(name), Some(root), Some(sql)) =
                (kind.text(), name.text(), root.integer(), sql.text())
            else {
                continue;
            };
            // Virtual tables have no root of their own.
            let Some(root) = u32::try_from(root).ok().filter(|root| *root > 0) else { continue };
            let (columns, key_column) = columns_of(sql);
            database.tables.push(Table { name: name.to_owned(), columns, key_column, root });
        }
        Ok(database)
    }

    /// A table by name, whatever the case of its letters.
    pub(super) fn table(&self, name: &str) -> Option<&Table> {
        self.tables.iter().find(|table| table.name.eq_ignore_ascii_case(name))
    }

    /// The rows of a table, in the order of their keys.
    pub(super) fn rows(&self, table: &Table) -> Result<Vec<Vec<Value>>, String> {
        let rows = self.rows_of(table.root)?;
        Ok(rows
            .into_iter()
            .map(|(key, mut row)| {
                // Columns that were added later are missing from older records.
                row.resize(table.columns.len(), Value::Null);
                if let Some(value) = table.key_column.and_then(|column| row.get_mut(column)) {
                    *value = Value::Integer(key);
                }
                row
            })
            .collect())
    }

    fn rows_of(&self, root: u32) -> Result<Vec<(i64, Vec<Value>)>, String> {
        let mut walk = Walk { rows: Vec::new(), left: self.pages, payload: 0 };
        self.walk(root, 0, &mut walk)?;
        Ok(walk.rows)
    }

    fn page(&self, number: u32) -> Result<&'a [u8], String> {
        if number > self.pages {
            return Err(broken());
        }
        if let Some(page) = self.logged.page(number, &self.files.log) {
            return Ok(page);
        }
        let start = (number as usize).checked_sub(1).ok_or_else(broken)? * self.page_size;
        let page = self.files.main.get(start..start + self.page_size);
        page.ok_or_else(|| "is cut short".to_owned())
    }

    fn walk(&self, number: u32, depth: u32, walk: &mut Walk) -> Result<(), String> {
        // A tree has no page twice.
        walk.left = walk.left.checked_sub(1).ok_or_else(broken)?;
        if depth > MAX_DEPTH {
            return Err(broken());
        }
        let page = self.page(number)?;
        // The first page begins with the file's header.
        let head = if number == 1 { 100 } else { 0 };
        let kind = *page.get(head).ok_or_else(broken)?;
        let cells = usize::from(be16(page, head + 3).ok_or_else(broken)?);
        let pointers = match kind {
            5 => head + 12,
            13 => head + 8,
            _ => return Err(broken()),
        };
        for cell in 0..cells {
            let at = usize::from(be16(page, pointers + 2 * cell).ok_or_else(broken)?);
            if kind == 5 {
                self.walk(be32(page, at).ok_or_else(broken)?, depth + 1, walk)?;
            } else {
                let row = self.leaf_cell(page, at, &mut walk.payload)?;
                if walk.rows.last().is_some_and(|(key, _)| *key >= row.0)
                    || walk.rows.len() >= MAX_ROWS
                {
                    return Err(broken());
                }
                walk.rows.push(row);
            }
        }
        if kind == 5 {
            self.walk(be32(page, head + 8).ok_or_else(broken)?, depth + 1, walk)?;
        }
        Ok(())
    }

    fn leaf_cell(
        &self,
        page: &[u8],
        at: usize,
        payload: &mut usize,
    ) -> Result<(i64, Vec<Value>), String> {
        let mut cell = page.get(at..).ok_or_else(broken)?;
        let length = usize::try_from(varint(&mut cell)?).map_err(|_| broken())?;
        let key = varint(&mut cell)? as i64;
        // All rows together fit in the pages.
        *payload = payload.saturating_add(length);
        if *payload > self.page_size.saturating_mul(self.pages as usize) {
            return Err(broken());
        }
        // How much of a long record stays on the page; the rest is on a chain of overflow pages.
        let most = self.usable.checked_sub(35).ok_or_else(broken)?;
        let here = if length <= most {
            length
        } else {
            let least = (self.usable - 12) * 32 / 255 - 23;
            let spilled = least + (length - least) % (self.usable - 4);
            if spilled <= most { spilled } else { least }
        };
        let mut record = cell.get(..here).ok_or_else(broken)?.to_vec();
        if here < length {
            let mut next = be32(cell, here).ok_or_else(broken)?;
            while record.len() < length {
                let page = self.page(next)?;
                next = be32(page, 0).ok_or_else(broken)?;
                let take = (length - record.len()).min(self.usable - 4);
                record.extend_from_slice(page.get(4..4 + take).ok_or_else(broken)?);
            }
        }
        Ok((key, values_of(&record)?))
    }
}

/// What a walk over a tree has found, and how much more it may.
struct Walk {
    rows: Vec<(i64, Vec<Value>)>,
    /// Pages that it may still visit.
    left: u32,
    /// Bytes of the rows so far.
    payload: usize,
}

fn values_of(record: &[u8]) -> Result<Vec<Value>, String> {
    let mut head = record;
    let length = usize::try_from(varint(&mut head)?).map_err(|_| broken())?;
    let taken = record.len() - head.len();
    let mut head = record.get(taken..length).ok_or_else(broken)?;
    let mut body = record.get(length..).ok_or_else(broken)?;
    let mut values = Vec::new();
    while !head.is_empty() {
        let kind = varint(&mut head)?;
        let mut take = |length: usize| -> Result<&[u8], String> {
            let (value, rest) = body.split_at_checked(length).ok_or_else(broken)?;
            body = rest;
            Ok(value)
        };
        values.push(match kind {
            0 => Value::Null,
            1..=4 => Value::Integer(signed(take(kind as usize)?)),
            5 => Value::Integer(signed(take(6)?)),
            6 => Value::Integer(signed(take(8)?)),
            7 => {
                let bytes = take(8)?.first_chunk().copied().ok_or_else(broken)?;
                Value::Real(f64::from_be_bytes(bytes))
            }
            8 => Value::Integer(0),
            9 => Value::Integer(1),
            10 | 11 => return Err(broken()),
            even if even % 2 == 0 => {
                Value::Blob(take(usize::try_from((even - 12) / 2).map_err(|_| broken())?)?.to_vec())
            }
            odd => {
                let bytes = take(usize::try_from((odd - 13) / 2).map_err(|_| broken())?)?;
                Value::Text(String::from_utf8_lossy(bytes).into_owned())
            }
        });
    }
    Ok(values)
}

/// A big-endian number of two's complement.
fn signed(bytes: &[u8]) -> i64 {
    let negative = bytes.first().is_some_and(|byte| *byte >= 0x80);
    bytes.iter().fold(if negative { -1 } else { 0 }, |sum, byte| (sum << 8) | i64::from(*byte))
}

/// Takes a number of one to nine bytes.
fn varint(bytes: &mut &[u8]) -> Result<u64, String> {
    let mut value = 0_u64;
    for count in 1..=9 {
        let (byte, rest) = bytes.split_first().ok_or_else(broken)?;
        *bytes = rest;
        if count == 9 {
            return Ok((value << 8) | u64::from(*byte));
        }
        value = (value << 7) | u64::from(byte & 0x7f);
        if byte & 0x80 == 0 {
            break;
        }
    }
    Ok(value)
}

fn be16(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|bytes| u16::from_be_bytes(*bytes))
}

fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|bytes| u32::from_be_bytes(*bytes))
}

/// The columns of a table from the statement that made it, and the one that is its key.
fn columns_of(sql: &str) -> (Vec<String>, Option<usize>) {
    let inside = sql.split_once('(').map_or("", |(_, rest)| rest);
    let inside = inside.rsplit_once(')').map_or(inside, |(inside, _)| inside);
    let mut columns = Vec::new();
    let mut key_column = None;
    for definition in split_outside(inside) {
        let definition = definition.trim();
        let (name, rest) = name_of(definition);
        let upper = rest.to_ascii_uppercase();
        let quoted = definition.starts_with(['"', '\'', '`', '[']);
        let constraint = ["CONSTRAINT", "PRIMARY", "UNIQUE", "CHECK", "FOREIGN"];
        if !quoted && constraint.iter().any(|word| name.eq_ignore_ascii_case(word)) {
            continue;
        }
        let kind = upper.split_whitespace().next().unwrap_or_default();
        if kind == "INTEGER" && upper.contains("PRIMARY KEY") {
            key_column = Some(columns.len());
        }
        columns.push(name);
    }
    (columns, key_column)
}

/// Splits at commas that stand in no brackets and no quotes.
fn split_outside(text: &str) -> Vec<&str> {
    let (mut depth, mut quote, mut start) = (0_u32, None, 0);
    let mut parts = Vec::new();
    for (at, sign) in text.char_indices() {
        match (quote, sign) {
            (Some(open), _) if sign == open => quote = None,
            (Some(_), _) => {}
            (None, '"' | '\'' | '`') => quote = Some(sign),
            (None, '[') => quote = Some(']'),
            (None, '(') => depth += 1,
            (None, ')') => depth = depth.saturating_sub(1),
            (None, ',') if depth == 0 => {
                parts.push(&text[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&text[start..]);
    parts
}

/// The name that a definition begins with, and the rest.
fn name_of(definition: &str) -> (String, &str) {
    let close = match definition.chars().next() {
        Some('[') => ']',
        Some(quote @ ('"' | '\'' | '`')) => quote,
        _ => {
            let end = definition.find(char::is_whitespace).unwrap_or(definition.len());
            let (name, rest) = definition.split_at(end);
            return (name.to_owned(), rest);
        }
    };
    let inner = &definition[1..];
    match inner.split_once(close) {
        Some((name, rest)) => (name.to_owned(), rest),
        None => (inner.to_owned(), ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_read_from_the_statement() {
        let (columns, key) = columns_of(
            r#"CREATE TABLE "a, b" ( "fid" INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, "geom" POLYGON, [odd, name] DECIMAL(10,2) DEFAULT (1), CT TEXT, CONSTRAINT x UNIQUE (CT))"#,
        );
        assert_eq!(columns, ["fid", "geom", "odd, name", "CT"]);
        assert_eq!(key, Some(0));
        let (_, key) = columns_of("CREATE TABLE t (name TEXT PRIMARY KEY, n INTEGER)");
        assert_eq!(key, None);
    }

    #[test]
    fn numbers_of_any_length_are_signed() {
        assert_eq!(signed(&[0xff]), -1);
        assert_eq!(signed(&[0xff, 0xf7]), -9);
        assert_eq!(signed(&[0x01, 0x00]), 256);
        let mut bytes = &[0x81, 0x00, 0x05][..];
        assert_eq!((varint(&mut bytes), varint(&mut bytes)), (Ok(128), Ok(5)));
        assert!(varint(&mut bytes).is_err());
    }
}
