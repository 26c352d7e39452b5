//! A form's fields by name, as they were typed: what can't be used is shown again, never lost.

use std::fmt::Display;
use std::str::FromStr;

/// Names and values in the order sent.
#[derive(Debug, Clone, Default)]
pub(super) struct Sent(pub(super) Vec<(String, String)>);

/// A field that can't be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) field: String,
    pub(super) problem: String,
}

impl Fault {
    pub(super) fn new(field: &str, problem: impl Display) -> Self {
        Self { field: field.to_owned(), problem: problem.to_string() }
    }
}

impl Sent {
    /// A field as typed; empty if it was not sent.
    pub(super) fn get(&self, name: &str) -> &str {
        self.0.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.trim())
    }

    /// Every value of a field that may be sent several times.
    pub(super) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |(field, _)| field == name).map(|(_, value)| value.trim())
    }

    /// What was typed, or nothing.
    pub(super) fn text(&self, name: &str) -> Option<String> {
        Some(self.get(name)).filter(|text| !text.is_empty()).map(str::to_owned)
    }

    /// What was typed, as a value; nothing is none.
    pub(super) fn parsed<T: FromStr>(&self, name: &str, what: &str) -> Result<Option<T>, Fault> {
        match self.get(name) {
            "" => Ok(None),
            text => text.parse().map(Some).map_err(|_| Fault::new(name, format!("'{text}' is no {what}"))),
        }
    }

    /// What was typed, where something must be.
    pub(super) fn required(&self, name: &str, wanted: &str) -> Result<String, Fault> {
        self.text(name).ok_or_else(|| Fault::new(name, format!("{wanted} is missing")))
    }
}
