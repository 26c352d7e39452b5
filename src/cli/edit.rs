//! Things that may be unknown, as a person types them.

use std::str::FromStr;

use crate::collection::Edit;

/// What an option says; nothing is changed where it is not given.
pub(super) fn edit<T: Clone>(typed: &Option<Edit<T>>) -> Edit<T> {
    typed.clone().unwrap_or_default()
}

/// Reads a value for clap, or `none`.
pub(super) fn or_none<T: FromStr>(text: &str) -> Result<Edit<T>, T::Err> {
    match text.trim() {
        "" | "none" => Ok(Edit::Clear),
        text => text.parse().map(Edit::To),
    }
}
