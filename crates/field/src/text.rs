//! Lines of numbers, with places for the faults.

use std::str::FromStr;

use crate::ReadError;

/// No coefficient of a planet's field is near this; it keeps every sum finite.
const GREATEST: f64 = 1e9;

/// The lines of a text that hold something, with their numbers; `#` begins a comment line.
#[derive(Debug)]
pub(crate) struct Lines<'a> {
    rest: std::iter::Enumerate<std::str::Lines<'a>>,
    text: &'a str,
}

impl<'a> Lines<'a> {
    pub(crate) fn new(bytes: &'a [u8]) -> Result<Self, ReadError> {
        let text = std::str::from_utf8(bytes).map_err(|error| {
            let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = before.iter().filter(|&&byte| byte == b'\n').count() + 1;
            ReadError::line(line, "this is not a text file")
        })?;
        Ok(Self { rest: text.lines().enumerate(), text })
    }

    /// The first comment line, without its mark.
    pub(crate) fn comment(&self) -> Option<String> {
        self.text.lines().find_map(|line| {
            let comment = line.trim().strip_prefix('#')?.trim();
            (!comment.is_empty()).then(|| comment.to_owned())
        })
    }

    /// The next line, which must be there.
    pub(crate) fn expect(&mut self, what: &str) -> Result<(usize, &'a str), ReadError> {
        self.next().ok_or_else(|| ReadError::Whole(format!("the file ends before {what}")))
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = (usize, &'a str);

    fn next(&mut self) -> Option<Self::Item> {
        self.rest
            .by_ref()
            .map(|(index, line)| (index + 1, line.trim()))
            .find(|(_, line)| !line.is_empty() && !line.starts_with('#'))
    }
}

/// A whole number.
pub(crate) fn whole<T: FromStr>(
    line: usize,
    field: Option<&str>,
    what: &str,
) -> Result<T, ReadError> {
    let field = field.ok_or_else(|| ReadError::line(line, format!("{what} is missing")))?;
    field.parse().map_err(|_| ReadError::line(line, format!("`{field}` is not {what}")))
}

/// A number of reasonable size.
pub(crate) fn number(line: usize, field: Option<&str>, what: &str) -> Result<f64, ReadError> {
    let value: f64 = whole(line, field, what)?;
    if value.abs() <= GREATEST {
        Ok(value)
    } else {
        Err(ReadError::line(line, format!("`{}` is not {what}", field.unwrap_or_default())))
    }
}
