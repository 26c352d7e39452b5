//! What pages say of books and counts, and what forms' fields say.

use std::fmt::Display;
use std::str::FromStr;

use jiff::civil::Date;
use maud::{Markup, html};

use super::trouble::Trouble;
use crate::collection::Edit;
use crate::workflow::words::{Piece, Tone};

pub(super) use crate::workflow::words::{count, departure_in_words, issue_in_words, named};

/// A line of [`crate::workflow::words`]: what stands out does so by weight and colour.
pub(super) fn line(line: &[Piece]) -> Markup {
    html! {
        @for piece in line {
            @match piece.tone {
                None => { (piece.text) }
                Some(tone) => { strong class=[class(tone)] { (piece.text) } }
            }
        }
    }
}

fn class(tone: Tone) -> Option<&'static str> {
    match tone {
        Tone::Good => Some("good"),
        Tone::Doubt => Some("doubt"),
        Tone::Bad => Some("bad"),
        Tone::Strong => None,
    }
}

/// A field's value; nothing typed is none.
pub(super) fn given<T: FromStr<Err: Display>>(field: &str, text: &str) -> Result<Option<T>, Trouble> {
    match text.trim() {
        "" => Ok(None),
        text => text.parse().map(Some).map_err(|error| Trouble::data(format!("{field}: {error}"))),
    }
}

/// A field's whole number.
pub(super) fn number<T: FromStr>(field: &str, text: &str) -> Result<Option<T>, Trouble> {
    match text.trim() {
        "" => Ok(None),
        text => {
            text.parse().map(Some).map_err(|_| Trouble::data(format!("{field}: '{text}' is no whole number that fits")))
        }
    }
}

/// A field's day.
pub(super) fn day(field: &str, text: &str) -> Result<Option<Date>, Trouble> {
    match text.trim() {
        "" => Ok(None),
        text => text
            .parse()
            .map(Some)
            .map_err(|_| Trouble::data(format!("{field}: '{text}' is no day; write it as 2026-03-04"))),
    }
}

/// What a field changes that showed `known`: nothing if it still says so.
pub(super) fn edited<T: PartialEq>(known: Option<&T>, typed: Option<T>) -> Edit<T> {
    match typed {
        None if known.is_none() => Edit::Keep,
        None => Edit::Clear,
        Some(typed) if known == Some(&typed) => Edit::Keep,
        Some(typed) => Edit::To(typed),
    }
}

/// A text field under its label.
pub(super) fn field(label: &str, name: &str, value: &str, hint: &str) -> Markup {
    html! {
        label { (label) @if !hint.is_empty() { " " span.dim { (hint) } } input name=(name) value=(value) autocomplete="off"; }
    }
}

/// A day's field under its label.
pub(super) fn day_field(label: &str, name: &str, value: Option<Date>) -> Markup {
    html! { label { (label) input type="date" name=(name) value=(value.map(|day| day.to_string()).unwrap_or_default()); } }
}

/// A choice of words under its label; the first choice is none if `none` says what that means.
pub(super) fn choice<'a>(
    label: &str,
    name: &str,
    chosen: Option<&str>,
    none: Option<&str>,
    words: impl IntoIterator<Item = &'a str>,
) -> Markup {
    html! {
        label { (label) select name=(name) {
            @if let Some(none) = none { option value="" selected[chosen.is_none()] { (none) } }
            @for word in words { option value=(word) selected[chosen == Some(word)] { (word) } }
        } }
    }
}

/// Links to the parts of a list before and behind the one that is shown; `address` is asked for one that skips so many.
pub(super) fn pager(
    what: &str,
    skip: usize,
    shown: usize,
    all: usize,
    part: usize,
    address: impl Fn(usize) -> String,
) -> Markup {
    // An address may say anything.
    let skip = skip.min(all);
    html! {
        @if all > shown {
            nav.pager aria-label=(format!("Parts of the list of {what}")) {
                @if skip > 0 { a href=(address(skip.saturating_sub(part))) rel="prev" { "Before" } }
                span { @if shown > 0 { (skip + 1) "–" (skip + shown) " of " } (all) " " (what) }
                @if skip + shown < all { a href=(address(skip + shown)) rel="next" { "Further" } }
            }
        }
    }
}

/// A query's value, so that an address holds nothing else.
pub(super) fn in_query(value: &str) -> String {
    form_urlencoded::byte_serialize(value.as_bytes()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_that_still_says_what_it_showed_changes_nothing() {
        assert_eq!(edited(Some(&1), Some(1)), Edit::Keep);
        assert_eq!(edited(Some(&1), Some(2)), Edit::To(2));
        assert_eq!(edited(Some(&1), None), Edit::Clear);
        assert_eq!(edited::<i32>(None, None), Edit::Keep);
        assert_eq!(edited(None, Some(2)), Edit::To(2));
    }
}
