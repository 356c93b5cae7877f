//! Faults of a scenario: what is wrong, where, and what would do.

use std::fmt;

/// One thing that is wrong with a scenario.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    pointer: String,
    on_key: bool,
    message: String,
    help: Option<String>,
}

impl Fault {
    /// A fault of the value at a JSON pointer (RFC 6901): `"/hull/beam_m"`, or `""` for the whole.
    /// In a plug-in the pointer starts at the plug-in's own mapping.
    #[must_use]
    pub fn at(pointer: impl Into<String>, message: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), on_key: false, message: message.into(), help: None }
    }

    /// A fault of the *key* at the pointer, as for a key that nobody knows.
    #[must_use]
    pub fn at_key(pointer: impl Into<String>, message: impl Into<String>) -> Self {
        Self { on_key: true, ..Self::at(pointer, message) }
    }

    /// Says what would do instead.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }

    /// The same fault seen from the mapping that holds `prefix`.
    #[must_use]
    pub fn within(mut self, prefix: &str) -> Self {
        self.pointer.insert_str(0, prefix);
        self
    }

    /// Where, as a JSON pointer.
    #[must_use]
    pub fn pointer(&self) -> &str {
        &self.pointer
    }

    /// Whether it is the key at the pointer rather than the value that is at fault.
    #[must_use]
    pub fn on_key(&self) -> bool {
        self.on_key
    }

    /// What is wrong.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.message
    }

    /// What would do, if that can be said.
    #[must_use]
    pub fn help_text(&self) -> Option<&str> {
        self.help.as_deref()
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.pointer.is_empty() {
            write!(f, "{}: ", self.pointer.trim_start_matches('/').replace('/', "."))?;
        }
        f.write_str(&self.message)?;
        self.help.as_ref().map_or(Ok(()), |help| write!(f, " ({help})"))
    }
}

/// All faults found so far. As an error it is never empty.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// Adds a fault.
    pub fn push(&mut self, fault: Fault) {
        self.0.push(fault);
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The faults, in the order found.
    #[must_use]
    pub fn as_slice(&self) -> &[Fault] {
        &self.0
    }

    /// `value` if there is no fault.
    ///
    /// # Errors
    ///
    /// The faults, if there are any.
    pub fn into_result<T>(self, value: T) -> Result<T, Self> {
        if self.0.is_empty() { Ok(value) } else { Err(self) }
    }

    /// The same faults seen from the mapping that holds `prefix`.
    #[must_use]
    pub fn within(self, prefix: &str) -> Self {
        Self(self.0.into_iter().map(|fault| fault.within(prefix)).collect())
    }
}

impl Extend<Fault> for Faults {
    fn extend<I: IntoIterator<Item = Fault>>(&mut self, faults: I) {
        self.0.extend(faults);
    }
}

impl IntoIterator for Faults {
    type Item = Fault;
    type IntoIter = std::vec::IntoIter<Fault>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self(vec![fault])
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            fault.fmt(f)?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}
