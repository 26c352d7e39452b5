//! What the catalogue knows of titles, issues and printings beyond what tells them apart, owned or not.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::{Money, Title};
use crate::code::{AddOn, Gtin};

/// What bag and board a book takes, or that it is a bound book (common practice: the names of bags and boards; bound books
/// take none).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SizeClass {
    /// Comics of today.
    Current,
    /// Comics of the 1950s to 1970s, a little wider.
    Silver,
    /// Comics of the 1930s to 1950s, wider still.
    Golden,
    /// Magazines.
    Magazine,
    /// Large, flat editions.
    Treasury,
    /// Small, thick editions.
    Digest,
    /// A collected edition in a soft cover.
    Paperback,
    /// A collected edition in a hard cover.
    Hardcover,
}

/// Why text is no size class.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no size; current, silver, golden, magazine, treasury, digest, paperback and hardcover are")]
pub struct SizeError(String);

impl SizeClass {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Current,
        Self::Silver,
        Self::Golden,
        Self::Magazine,
        Self::Treasury,
        Self::Digest,
        Self::Paperback,
        Self::Hardcover,
    ];

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Current => "current",
            Self::Silver => "silver",
            Self::Golden => "golden",
            Self::Magazine => "magazine",
            Self::Treasury => "treasury",
            Self::Digest => "digest",
            Self::Paperback => "paperback",
            Self::Hardcover => "hardcover",
        }
    }
}

impl fmt::Display for SizeClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for SizeClass {
    type Err = SizeError;

    fn from_str(text: &str) -> Result<Self, SizeError> {
        let named = |size: &Self| size.word().eq_ignore_ascii_case(text.trim());
        Self::ALL.into_iter().find(named).ok_or_else(|| SizeError(text.trim().to_owned()))
    }
}

/// The date on a cover: a year, a month of it, or a day of it. In order of time, the vaguer first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CoverDate {
    year: i16,
    month: Option<i8>,
    day: Option<i8>,
}

/// Why text is no cover date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no cover date; write it as 2026, 2026-05 or 2026-05-20")]
pub struct CoverDateError(String);

impl CoverDate {
    /// From its parts; `None` if there is no such date, or a day without a month.
    #[must_use]
    pub fn new(year: i16, month: Option<i8>, day: Option<i8>) -> Option<Self> {
        let is_date = month.is_some() || day.is_none();
        // A year of four digits, because that is how it is written and sorted.
        let exists = (1000..=9999).contains(&year) && Date::new(year, month.unwrap_or(1), day.unwrap_or(1)).is_ok();
        (is_date && exists).then_some(Self { year, month, day })
    }

    /// Its year.
    #[must_use]
    pub fn year(self) -> i16 {
        self.year
    }
}

impl From<Date> for CoverDate {
    fn from(date: Date) -> Self {
        Self { year: date.year(), month: Some(date.month()), day: Some(date.day()) }
    }
}

impl FromStr for CoverDate {
    type Err = CoverDateError;

    fn from_str(text: &str) -> Result<Self, CoverDateError> {
        let wrong = || CoverDateError(text.trim().to_owned());
        let mut parts = text.trim().split('-');
        let mut part = |length: usize| match parts.next() {
            None => Ok(None),
            Some(digits) if digits.len() == length && digits.bytes().all(|c| c.is_ascii_digit()) => {
                digits.parse::<i16>().map(Some).map_err(|_| wrong())
            }
            Some(_) => Err(wrong()),
        };
        let (year, month, day) = (part(4)?.ok_or_else(wrong)?, part(2)?, part(2)?);
        let small = |number: Option<i16>| number.and_then(|number| i8::try_from(number).ok());
        if parts.next().is_some() {
            return Err(wrong());
        }
        Self::new(year, small(month), small(day)).ok_or_else(wrong)
    }
}

impl fmt::Display for CoverDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}", self.year)?;
        [self.month, self.day].into_iter().flatten().try_for_each(|part| write!(f, "-{part:02}"))
    }
}

impl Serialize for CoverDate {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// What is known of a whole title; its issues are like that where nothing else is known of them.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct TitleFacts {
    /// The character or family that it is filed under.
    pub family: Option<String>,
    /// What bag and board its issues take.
    pub size: Option<SizeClass>,
    /// How many pages its issues have.
    pub pages: Option<u32>,
}

/// What is known of an issue, whatever its cover.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct IssueFacts {
    /// The date on its cover.
    pub cover_date: Option<CoverDate>,
    /// How many pages it has, cover not counted.
    pub pages: Option<u32>,
    /// What bag and board it takes.
    pub size: Option<SizeClass>,
    /// The character or family that it is filed under.
    pub family: Option<String>,
    /// What makes it a key issue, such as 'first appearance of …'.
    pub key: Option<String>,
}

impl IssueFacts {
    /// These, and what its title says where they are silent.
    #[must_use]
    pub fn or_of_title(self, title: &TitleFacts) -> Self {
        Self {
            pages: self.pages.or(title.pages),
            size: self.size.or(title.size),
            family: self.family.or_else(|| title.family.clone()),
            ..self
        }
    }
}

/// What is known of one cover and printing of an issue.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct PrintingFacts {
    /// The day on which it came out.
    pub on_sale: Option<Date>,
    /// The price on its cover.
    pub cover_price: Option<Money>,
}

/// A cover and printing that the catalogue knows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KnownPrinting {
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// Its main code, if known.
    pub code: Option<Gtin>,
    /// Its add-on, if it has one.
    pub add_on: Option<AddOn>,
    /// What else is known of it.
    #[serde(flatten)]
    pub facts: PrintingFacts,
    /// How many copies are recorded.
    pub copies: u32,
}

/// An issue that the catalogue knows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KnownIssue {
    /// Its title.
    pub title: Title,
    /// Its number; empty for a whole book.
    pub issue: String,
    /// What else is known of it, from its title where nothing is known of itself.
    #[serde(flatten)]
    pub facts: IssueFacts,
    /// Its covers and printings.
    pub printings: Vec<KnownPrinting>,
}

/// A change of one thing that may be unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Edit<T> {
    /// It stays as it is.
    #[default]
    Keep,
    /// It is unknown from now on.
    Clear,
    /// It is this from now on.
    To(T),
}

impl<T> Edit<T> {
    /// The same change of another type.
    pub fn map<U>(self, make: impl FnOnce(T) -> U) -> Edit<U> {
        match self {
            Self::Keep => Edit::Keep,
            Self::Clear => Edit::Clear,
            Self::To(value) => Edit::To(make(value)),
        }
    }

    /// Makes the change.
    pub fn apply(self, value: &mut Option<T>) {
        match self {
            Self::Keep => {}
            Self::Clear => *value = None,
            Self::To(new) => *value = Some(new),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cover_dates_are_as_exact_as_the_cover() {
        for text in ["2026", "2026-05", "2026-05-20", "2024-02-29"] {
            assert_eq!(text.parse::<CoverDate>().unwrap().to_string(), text);
        }
        for text in ["", "26", "2026-13", "2026-5", "2023-02-29", "2026-05-20-1", "May 2026", "-2026", "2026-", "0999"]
        {
            assert!(text.parse::<CoverDate>().is_err(), "{text}");
        }
        assert_eq!(CoverDate::new(2026, None, Some(3)), None);
        let mut dates = ["2026-05-20", "2026-05", "2026", "2025-12-31"].map(|text| text.parse::<CoverDate>().unwrap());
        dates.sort();
        assert_eq!(dates.map(|date| date.to_string()), ["2025-12-31", "2026", "2026-05", "2026-05-20"]);
    }

    #[test]
    fn what_an_issue_does_not_say_its_title_says() {
        let title = TitleFacts { family: Some("Tide".to_owned()), size: Some(SizeClass::Silver), pages: Some(32) };
        let issue = IssueFacts { pages: Some(48), ..IssueFacts::default() }.or_of_title(&title);
        assert_eq!(
            (issue.pages, issue.size, issue.family.as_deref()),
            (Some(48), Some(SizeClass::Silver), Some("Tide"))
        );
    }
}
