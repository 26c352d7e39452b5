//! Which title a row is about: one that is known, or a new one.

use std::collections::HashMap;

use crate::code::{Gtin, PrefixKind, prefix_kind};
use crate::collection::{NewTitle, Title, TitleChange, TitleId, search_key};
use crate::list::{Entry, Field};
use crate::store::{StoreError, Writer};

/// What tells titles apart, as far as a row says it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Named {
    name: String,
    publisher: Option<String>,
    volume: Option<String>,
    year: Option<i16>,
    code: Option<Gtin>,
}

/// The titles that rows were about so far.
pub(super) struct Titles<'a> {
    writer: &'a Writer<'a>,
    found: HashMap<Named, TitleId>,
    known: HashMap<TitleId, Title>,
}

/// A row's title, or why it can't be told.
pub(super) enum Found {
    /// One that is known.
    Known(Title),
    /// One that the row made known.
    New(Title),
    /// Several may be meant, or it is unclear whether one is; in words, with the remedy.
    Unclear(Field, String),
}

/// How well a title fits a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fit {
    /// Something that both say is different.
    No,
    /// Nothing that both say is the same, and one of them says what the other does not.
    Unclear,
    /// The row says neither volume nor year; or the title says neither, and nothing speaks against it.
    Open,
    /// Volume, year or code are the same.
    Sure,
}

impl<'a> Titles<'a> {
    pub(super) fn new(writer: &'a Writer<'a>) -> Self {
        Self { writer, found: HashMap::new(), known: HashMap::new() }
    }

    pub(super) fn of(&mut self, entry: &Entry) -> Result<Found, StoreError> {
        // A book's own number says nothing of its title, and its volume is the issue of it.
        let is_book = entry.code.is_some_and(is_book);
        let named = Named {
            name: search_key(&entry.title),
            publisher: entry.publisher.as_deref().map(search_key).filter(|key| !key.is_empty()),
            volume: entry.volume.as_deref().map(search_key).filter(|key| !key.is_empty() && !is_book),
            year: entry.year,
            code: entry.code.filter(|_| !is_book),
        };
        if let Some(title) = self.found.get(&named).and_then(|id| self.known.get(id)) {
            return Ok(Found::Known(title.clone()));
        }
        let (mut fitting, mut unclear) = (Vec::new(), None);
        for title in self.writer.titles_named(&named.name)? {
            match self.fit(&title, &named)? {
                Fit::No => {}
                Fit::Unclear => unclear = Some(title),
                fit => fitting.push((fit, title)),
            }
        }
        if fitting.iter().any(|(fit, _)| *fit == Fit::Sure) {
            fitting.retain(|(fit, _)| *fit == Fit::Sure);
        }
        let found = match (fitting.len(), unclear) {
            (1, _) => Found::Known(fitting.swap_remove(0).1),
            (0, None) => {
                let id = self.writer.insert_title(&NewTitle {
                    publisher: entry.publisher.clone(),
                    name: entry.title.clone(),
                    volume: entry.volume.clone().filter(|_| !is_book).unwrap_or_default(),
                    year: entry.year,
                    layout: entry.layout,
                    issue_base: 0,
                })?;
                Found::New(self.writer.title(id)?)
            }
            (0, Some(title)) => {
                let problem = format!(
                    "'{}' may be title {id} of the collection or another volume; 'title set {id}' with --year or --volume tells",
                    title.name,
                    id = title.id
                );
                return Ok(Found::Unclear(Field::Title, problem));
            }
            (several, _) => {
                let problem = format!("{several} titles are called '{}'; give the volume or the year", entry.title);
                return Ok(Found::Unclear(Field::Title, problem));
            }
        };
        if let Found::Known(title) | Found::New(title) = &found {
            self.found.insert(named, title.id);
            self.known.insert(title.id, title.clone());
        }
        Ok(found)
    }

    fn fit(&self, title: &Title, named: &Named) -> Result<Fit, StoreError> {
        let publisher = title.publisher.as_deref().map(search_key);
        let volume = Some(search_key(&title.volume)).filter(|key| !key.is_empty());
        let differ = |a: &Option<String>, b: &Option<String>| a.is_some() && b.is_some() && a != b;
        if differ(&publisher, &named.publisher)
            || differ(&volume, &named.volume)
            || (title.year.is_some() && named.year.is_some() && title.year != named.year)
        {
            return Ok(Fit::No);
        }
        let codes = self.writer.codes_of_title(title.id)?;
        let shares_code = named.code.is_some_and(|code| codes.contains(&code));
        let same = (volume.is_some() && volume == named.volume) || (title.year.is_some() && title.year == named.year);
        let title_is_open = volume.is_none() && title.year.is_none();
        let row_is_open = named.volume.is_none() && named.year.is_none();
        Ok(match () {
            () if same || shares_code => Fit::Sure,
            () if row_is_open => Fit::Open,
            // Another code may be another volume's.
            () if title_is_open && (codes.is_empty() || named.code.is_none()) => Fit::Open,
            () => Fit::Unclear,
        })
    }

    /// Changes a title, and what is remembered of it.
    pub(super) fn change(&mut self, id: TitleId, change: &TitleChange) -> Result<Title, StoreError> {
        self.writer.update_title(id, change)?;
        let title = self.writer.title(id)?;
        self.known.insert(id, title.clone());
        Ok(title)
    }
}

/// Whether a code is a book's own number, not a title's.
pub(super) fn is_book(code: Gtin) -> bool {
    prefix_kind(code) == PrefixKind::Isbn
}
