//! YAML read into a tree that keeps its places.
//!
//! A typed, streaming read through trait objects loses the place of a fault; the tree does not. The
//! tree is a [`serde_json::Value`] with, beside it, the place of every key and value by JSON pointer.

use std::{collections::HashMap, ops::Range};

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use saphyr_parser::{Event, Marker, Parser, ScalarStyle, Span};
use serde_json::{Map, Value};

use crate::{Fault, Faults};

/// Deeper nesting than any scenario has; a file beyond it is refused rather than followed.
const MAX_DEPTH: usize = 64;
/// More values than any scenario has, aliases expanded: an alias bomb stops here.
const MAX_VALUES: usize = 200_000;

/// A YAML document with the places of its keys and values.
#[derive(Debug, Clone, Default)]
pub struct Document {
    name: String,
    text: String,
    value: Value,
    places: HashMap<String, Place>,
}

#[derive(Debug, Clone, Default)]
struct Place {
    key: Option<Range<usize>>,
    value: Range<usize>,
}

impl Document {
    /// Reads one YAML 1.2 document (core schema).
    ///
    /// Numbers must be finite, keys must be strings and must not be repeated.
    ///
    /// # Errors
    ///
    /// The document as far as it was read, for [`Document::render`], and what is wrong with it.
    pub fn parse(name: &str, text: &str) -> Result<Self, Box<(Self, Faults)>> {
        let mut loader = Loader::new(name, text);
        loader.run();
        let Loader { document, faults, .. } = loader;
        if faults.is_empty() { Ok(document) } else { Err(Box::new((document, faults))) }
    }

    /// The document's name, as given.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The content.
    #[must_use]
    pub fn value(&self) -> &Value {
        &self.value
    }

    /// The line, from 1, of the value (or the key) at a pointer; of the nearest enclosing value where
    /// the pointer leads nowhere.
    #[must_use]
    pub fn line(&self, fault: &Fault) -> usize {
        let start = self.range(fault).start.min(self.text.len());
        self.text.as_bytes()[..start].iter().filter(|&&byte| byte == b'\n').count() + 1
    }

    /// Renders a fault with the lines around it.
    #[must_use]
    pub fn render(&self, fault: &Fault, coloured: bool) -> String {
        let span = self.range(fault);
        let snippet = Snippet::source(self.text.as_str())
            .path(self.name.as_str())
            .annotation(AnnotationKind::Primary.span(span));
        let mut group = Level::ERROR.primary_title(fault.message()).element(snippet);
        if let Some(help) = fault.help_text() {
            group = group.element(Level::HELP.message(help));
        }
        let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
        renderer.render(&[group])
    }

    fn range(&self, fault: &Fault) -> Range<usize> {
        let mut pointer = fault.pointer();
        let mut exact = true;
        loop {
            if let Some(place) = self.places.get(pointer) {
                let range = match &place.key {
                    // What is missing inside a mapping is shown at the mapping's key: the mapping
                    // itself may be a screen long.
                    Some(key) if fault.on_key() || !exact || self.spans_lines(&place.value) => key,
                    _ => &place.value,
                };
                let first_line = self.text[range.start..].lines().next().map_or(0, str::len);
                let end = range.end.min(range.start + first_line).max(range.start);
                return range.start..end;
            }
            exact = false;
            match pointer.rfind('/') {
                Some(parent) => pointer = &pointer[..parent],
                None => return 0..0,
            }
        }
    }

    fn spans_lines(&self, range: &Range<usize>) -> bool {
        self.text.get(range.clone()).is_some_and(|text| text.trim_end().contains('\n'))
    }
}

/// Appends one token to a JSON pointer (RFC 6901).
#[must_use]
pub fn pointer_to(parent: &str, token: &str) -> String {
    format!("{parent}/{}", token.replace('~', "~0").replace('/', "~1"))
}

enum Open {
    Mapping { map: Map<String, Value>, key: Option<(String, Range<usize>)> },
    Sequence(Vec<Value>),
}

struct Frame {
    open: Open,
    pointer: String,
    start: usize,
    anchor: usize,
}

struct Loader<'a> {
    text: &'a str,
    /// Byte offset of every character: the parser counts characters, a string is cut in bytes.
    offsets: Vec<usize>,
    document: Document,
    stack: Vec<Frame>,
    anchors: HashMap<usize, Value>,
    values: usize,
    faults: Faults,
}

impl<'a> Loader<'a> {
    fn new(name: &str, text: &'a str) -> Self {
        let offsets = text.char_indices().map(|(byte, _)| byte).chain([text.len()]).collect();
        Self {
            text,
            offsets,
            document: Document {
                name: name.to_owned(),
                text: text.to_owned(),
                ..Document::default()
            },
            stack: Vec::new(),
            anchors: HashMap::new(),
            values: 0,
            faults: Faults::default(),
        }
    }

    fn byte(&self, marker: Marker) -> usize {
        self.offsets.get(marker.index()).copied().unwrap_or(self.text.len())
    }

    fn bytes(&self, span: Span) -> Range<usize> {
        let start = self.byte(span.start);
        start..self.byte(span.end).max(start)
    }

    /// Records a fault at a place that may have no pointer of its own.
    fn fault_at(&mut self, range: Range<usize>, message: String, help: &str) {
        let pointer = format!("/\u{0}{}", self.faults.as_slice().len());
        self.document.places.insert(pointer.clone(), Place { key: None, value: range });
        self.faults.push(Fault::at(pointer, message).help(help));
    }

    fn run(&mut self) {
        let mut documents = 0;
        for item in Parser::new_from_str(self.text) {
            let (event, span) = match item {
                Ok(pair) => pair,
                Err(error) => {
                    let at = self.byte(*error.marker());
                    let message = format!("this is not YAML: {}", error.info());
                    self.fault_at(at..at, message, "check the indentation and the quotes here");
                    return;
                }
            };
            let range = self.bytes(span);
            match event {
                Event::DocumentStart(_) => {
                    documents += 1;
                    if documents > 1 {
                        let message = "a second document begins here".to_owned();
                        self.fault_at(range, message, "keep one scenario a file");
                        return;
                    }
                }
                Event::Scalar(text, style, anchor, tag) => {
                    if tag.is_some() {
                        let message = "tags are not used here".to_owned();
                        self.fault_at(range.clone(), message, "remove the tag");
                    }
                    self.scalar(&text, style, anchor, range);
                }
                Event::MappingStart(anchor, _) => {
                    let open = Open::Mapping { map: Map::new(), key: None };
                    self.open(open, anchor, range);
                }
                Event::SequenceStart(anchor, _) => {
                    self.open(Open::Sequence(Vec::new()), anchor, range);
                }
                Event::MappingEnd | Event::SequenceEnd => self.close(range),
                Event::Alias(anchor) => match self.anchors.get(&anchor).cloned() {
                    Some(value) => {
                        self.values += count(&value);
                        self.put(value, range);
                    }
                    None => {
                        let message = "this alias names no finished value".to_owned();
                        self.fault_at(range, message, "define the anchor before its use");
                        return;
                    }
                },
                Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
            }
            let at = self.byte(span.start);
            if self.stack.len() > MAX_DEPTH {
                let message = format!("values are nested more than {MAX_DEPTH} deep");
                self.fault_at(at..at, message, "flatten this part");
                return;
            }
            if self.values > MAX_VALUES {
                let message = format!("the file holds more than {MAX_VALUES} values");
                self.fault_at(at..at, message, "move bulk data to the files that layers read");
                return;
            }
        }
        if documents == 0 {
            self.fault_at(0..0, "the file is empty".to_owned(), "write a scenario");
        }
    }

    fn scalar(&mut self, text: &str, style: ScalarStyle, anchor: usize, range: Range<usize>) {
        if let Some(Frame { open: Open::Mapping { map, key: key @ None }, pointer, .. }) =
            self.stack.last_mut()
        {
            if map.contains_key(text) {
                let here = pointer_to(pointer, text);
                let first = self
                    .document
                    .places
                    .get(&here)
                    .and_then(|place| place.key.clone())
                    .map_or(1, |range| self.text[..range.start].lines().count().max(1));
                *key = Some((text.to_owned(), range.clone()));
                let message = format!("the key `{text}` stands here a second time");
                self.fault_at(range, message, &format!("it stands on line {first} already"));
                return;
            }
            *key = Some((text.to_owned(), range));
            return;
        }
        self.values += 1;
        let value = if style == ScalarStyle::Plain {
            match plain(text) {
                Some(value) => value,
                None => {
                    let message = format!("`{text}` is not a finite number");
                    self.fault_at(range.clone(), message, "give a number");
                    Value::Null
                }
            }
        } else {
            Value::String(text.to_owned())
        };
        if anchor > 0 {
            self.anchors.insert(anchor, value.clone());
        }
        self.put(value, range);
    }

    fn open(&mut self, open: Open, anchor: usize, range: Range<usize>) {
        self.values += 1;
        if matches!(self.stack.last(), Some(Frame { open: Open::Mapping { key: None, .. }, .. })) {
            let message = "a key must be a plain string".to_owned();
            self.fault_at(range.clone(), message, "give the key a name");
            if let Some(Frame { open: Open::Mapping { key, .. }, .. }) = self.stack.last_mut() {
                // The collection is taken as the value of a nameless key, so that reading goes on;
                // its own value, which follows, then reads as a key and is reported likewise.
                *key = Some((String::new(), range.clone()));
            }
        }
        let pointer = self.next_pointer();
        self.stack.push(Frame { open, pointer, start: range.start, anchor });
    }

    fn close(&mut self, range: Range<usize>) {
        let Some(level) = self.stack.pop() else { return };
        let value = match level.open {
            Open::Mapping { map, .. } => Value::Object(map),
            Open::Sequence(items) => Value::Array(items),
        };
        if level.anchor > 0 {
            self.anchors.insert(level.anchor, value.clone());
        }
        self.put(value, level.start..range.end.max(level.start));
    }

    fn next_pointer(&self) -> String {
        match self.stack.last() {
            None => String::new(),
            Some(Frame { open: Open::Sequence(items), pointer, .. }) => {
                pointer_to(pointer, &items.len().to_string())
            }
            Some(Frame { open: Open::Mapping { key, .. }, pointer, .. }) => {
                pointer_to(pointer, key.as_ref().map_or("", |(name, _)| name))
            }
        }
    }

    fn put(&mut self, value: Value, range: Range<usize>) {
        let pointer = self.next_pointer();
        let mut place = Place { key: None, value: range };
        match self.stack.last_mut() {
            None => self.document.value = value,
            Some(Frame { open: Open::Sequence(items), .. }) => items.push(value),
            Some(Frame { open: Open::Mapping { map, key }, .. }) => {
                if let Some((name, key_range)) = key.take() {
                    place.key = Some(key_range);
                    if map.contains_key(&name) {
                        return;
                    }
                    map.insert(name, value);
                }
            }
        }
        self.document.places.insert(pointer, place);
    }
}

fn count(value: &Value) -> usize {
    match value {
        Value::Array(items) => 1 + items.iter().map(count).sum::<usize>(),
        Value::Object(map) => 1 + map.values().map(count).sum::<usize>(),
        _ => 1,
    }
}

/// A plain scalar by the core schema of YAML 1.2 (section 10.3); `None` for infinities and NaN.
fn plain(text: &str) -> Option<Value> {
    match text {
        "" | "~" | "null" | "Null" | "NULL" => return Some(Value::Null),
        "true" | "True" | "TRUE" => return Some(Value::Bool(true)),
        "false" | "False" | "FALSE" => return Some(Value::Bool(false)),
        _ => {}
    }
    let unsigned = text.trim_start_matches(['+', '-']);
    if matches!(unsigned, ".inf" | ".Inf" | ".INF" | ".nan" | ".NaN" | ".NAN") {
        return None;
    }
    if let Some(digits) = text.strip_prefix("0x") {
        if let Ok(number) = u64::from_str_radix(digits, 16) {
            return Some(number.into());
        }
    } else if let Some(digits) = text.strip_prefix("0o") {
        if let Ok(number) = u64::from_str_radix(digits, 8) {
            return Some(number.into());
        }
    } else if text.len() - unsigned.len() <= 1 && looks_numeric(unsigned) {
        if let Ok(number) = text.trim_start_matches('+').parse::<i64>() {
            return Some(number.into());
        }
        if let Ok(number) = text.parse::<f64>() {
            return serde_json::Number::from_f64(number).map(Value::Number);
        }
    }
    Some(Value::String(text.to_owned()))
}

/// Rust's float parser also takes `inf` and `nan`, which are plain strings in YAML.
fn looks_numeric(unsigned: &str) -> bool {
    unsigned.starts_with(|first: char| first.is_ascii_digit() || first == '.')
        && unsigned
            .bytes()
            .all(|byte| matches!(byte, b'0'..=b'9' | b'.' | b'e' | b'E' | b'+' | b'-'))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::json;

    use super::*;

    fn faults_of(text: &str) -> Vec<String> {
        match Document::parse("test.yaml", text) {
            Ok(_) => Vec::new(),
            Err(failed) => {
                let (document, faults) = *failed;
                faults.as_slice().iter().map(|fault| document.render(fault, false)).collect()
            }
        }
    }

    #[test]
    fn scalars_follow_the_core_schema() {
        let text = "{a: 1, b: -2.5e3, c: yes, d: true, e: ~, f: '7', g: 0x1f, h: 2027-01-01T00:00Z, \
                    i: .5, j: inf}";
        let read = Document::parse("t", text).unwrap();
        let expected = json!({"a": 1, "b": -2500.0, "c": "yes", "d": true, "e": null, "f": "7",
            "g": 31, "h": "2027-01-01T00:00Z", "i": 0.5, "j": "inf"});
        assert_eq!(*read.value(), expected);
    }

    #[test]
    fn a_fault_is_shown_at_its_line() {
        let read = Document::parse("t.yaml", "a: 1\nb:\n  - {c: 2}\n  - {c: ü, d: 4}\n").unwrap();
        let fault = Fault::at("/b/1/d", "too small").help("give at least 5");
        assert_eq!(read.line(&fault), 4);
        let shown = read.render(&fault, false);
        assert!(shown.contains("t.yaml:4:15"), "{shown}");
        assert!(shown.contains("give at least 5"), "{shown}");
        assert_eq!(read.line(&Fault::at("/b/7/x", "missing")), 2);
    }

    #[test]
    fn repeated_keys_infinite_numbers_and_bombs_are_faults() {
        let shown = faults_of("a: 1\nb: .nan\na: 2\n");
        assert_eq!(shown.len(), 2, "{shown:#?}");
        assert!(shown[0].contains("not a finite number") && shown[0].contains(":2:"));
        assert!(shown[1].contains("second time") && shown[1].contains("line 1 already"));

        let mut bomb = String::from("a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n");
        for level in 1..12 {
            let below = vec![format!("*a{}", level - 1); 10].join(", ");
            bomb += &format!("a{level}: &a{level} [{below}]\n");
        }
        assert!(faults_of(&bomb)[0].contains("more than"));
        assert!(
            faults_of(&format!("{}{}", "[".repeat(100), "]".repeat(100)))[0].contains("nested")
        );
        assert_eq!(faults_of("").len(), 1);
        assert!(faults_of("a: 1\n---\nb: 2\n")[0].contains("second document"));
        assert!(faults_of("a: [1, 2\nb: 3")[0].contains("not YAML"));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn no_text_panics(text in "(?s)([-{}\\[\\]:,&*#!|>'\"%@` \n\tab0.~é]|key: |- ){0,60}") {
            for shown in faults_of(&text) {
                prop_assert!(!shown.is_empty());
            }
        }
    }
}
