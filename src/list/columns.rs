//! Which column of a list says what.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::collection::search_key;

macro_rules! fields {
    ($($(#[$doc:meta])* $kind:ident $word:literal,)*) => {
        /// What a column can say.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case")]
        pub enum Field {
            $($(#[$doc])* $kind,)*
        }

        impl Field {
            /// All of them.
            pub const ALL: [Self; [$($word),*].len()] = [$(Self::$kind),*];

            /// Its word.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$kind => $word,)* }
            }
        }
    };
}

fields! {
    /// The title's name.
    Title "title",
    /// The publisher's name.
    Publisher "publisher",
    /// The title's volume.
    Volume "volume",
    /// The year in which the title began.
    Year "year",
    /// How the title's five-digit add-ons are laid out.
    Layout "layout",
    /// The issue's number.
    Issue "issue",
    /// The cover.
    Cover "cover",
    /// The printing.
    Printing "printing",
    /// The code, with or without its add-on.
    Code "code",
    /// The add-on, if it stands in a column of its own.
    AddOn "add-on",
    /// The date on the cover.
    CoverDate "cover-date",
    /// The day on which it came out.
    OnSale "on-sale",
    /// The price on the cover.
    Price "price",
    /// The currency of the price.
    Currency "currency",
    /// How many pages.
    Pages "pages",
    /// The size class.
    Size "size",
    /// The character or family that it is filed under.
    Family "family",
    /// What makes it a key issue.
    Key "key",
}

/// Why a word is no field.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{text}' is no field; {} are", Field::ALL.map(Field::word).join(", "))]
pub struct FieldError {
    /// The word.
    text: String,
}

impl FromStr for Field {
    type Err = FieldError;

    fn from_str(text: &str) -> Result<Self, FieldError> {
        let text = text.trim();
        Self::ALL.into_iter().find(|field| field.word() == text).ok_or_else(|| FieldError { text: text.to_owned() })
    }
}

impl fmt::Display for Field {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// Why columns can't be found.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MappingError {
    /// A column that the list does not have.
    #[error("there is no column '{column}' for {field}; the list has {}", quoted(columns))]
    NoColumn {
        /// What it should say.
        field: Field,
        /// Its name.
        column: String,
        /// The columns that there are.
        columns: Vec<String>,
    },
    /// Nothing says which title a row is about.
    #[error("no column is called 'title'; say which one it is; the list has {}", quoted(.0))]
    NoTitle(Vec<String>),
}

fn quoted(columns: &[String]) -> String {
    columns.iter().map(|column| format!("'{column}'")).collect::<Vec<_>>().join(", ")
}

/// Where in a row each field stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Mapping {
    at: BTreeMap<Field, usize>,
}

impl Mapping {
    /// From what was said of columns (by name, or else by number from 1) and, for the rest, from names that are fields'
    /// own words: 'Cover date' is cover-date.
    ///
    /// # Errors
    /// If a column is not there, or none says the title.
    pub fn new(said: &BTreeMap<Field, String>, columns: &[String]) -> Result<Self, MappingError> {
        let named = |name: &str| columns.iter().position(|column| search_key(column) == search_key(name));
        let numbered = |name: &str| name.trim().parse::<usize>().ok()?.checked_sub(1).filter(|&at| at < columns.len());
        let mut at = BTreeMap::new();
        for (&field, column) in said {
            let found = named(column).or_else(|| numbered(column)).ok_or_else(|| MappingError::NoColumn {
                field,
                column: column.clone(),
                columns: columns.to_vec(),
            })?;
            at.insert(field, found);
        }
        for field in Field::ALL.into_iter().filter(|field| !said.contains_key(field)) {
            // A column that was said to be something else is not also what it is called.
            if let Some(found) = named(field.word()).filter(|found| !at.values().any(|taken| taken == found)) {
                at.insert(field, found);
            }
        }
        if at.contains_key(&Field::Title) { Ok(Self { at }) } else { Err(MappingError::NoTitle(columns.to_vec())) }
    }

    /// Where a field stands, if it does.
    #[must_use]
    pub fn column(&self, field: Field) -> Option<usize> {
        self.at.get(&field).copied()
    }

    /// The columns that say nothing that is kept.
    #[must_use]
    pub fn unused<'a>(&self, columns: &'a [String]) -> Vec<&'a str> {
        let used = |at: usize| self.at.values().any(|&used| used == at);
        let unused = columns.iter().enumerate().filter(|&(at, column)| !used(at) && !column.is_empty());
        unused.map(|(_, column)| column.as_str()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_owned()).collect()
    }

    #[test]
    fn columns_are_found_by_name_by_number_and_by_what_was_said() {
        let names = columns(&["Series", "ISSUE", "On_Sale", "Cover Price", "Shelf", "add on"]);
        let said = [(Field::Title, "series"), (Field::Price, "4")].map(|(field, name)| (field, name.to_owned()));
        let mapping = Mapping::new(&said.into(), &names).unwrap();
        let at = |field| mapping.column(field);
        assert_eq!((at(Field::Title), at(Field::Issue), at(Field::OnSale)), (Some(0), Some(1), Some(2)));
        assert_eq!((at(Field::Price), at(Field::AddOn), at(Field::Cover)), (Some(3), Some(5), None));
        assert_eq!(mapping.unused(&names), ["Shelf"]);
    }

    #[test]
    fn what_is_not_there_is_named() {
        let names = columns(&["Series", "Issue"]);
        let error = Mapping::new(&BTreeMap::new(), &names).unwrap_err().to_string();
        assert!(error.contains("'Series', 'Issue'"), "{error}");
        let said = BTreeMap::from([(Field::Title, "series".to_owned()), (Field::Price, "3".to_owned())]);
        assert!(matches!(Mapping::new(&said, &names), Err(MappingError::NoColumn { field: Field::Price, .. })));
        // What was said to be the title is no issue any more.
        let said = BTreeMap::from([(Field::Title, "issue".to_owned())]);
        assert_eq!(Mapping::new(&said, &names).unwrap().column(Field::Issue), None);
    }
}
