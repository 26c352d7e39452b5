//! Do I own this?

use std::cell::Cell;

use serde::Serialize;

use super::WorkflowError;
use super::titles::titles_like;
use crate::code::{AddOn, AddOnState, Correction, Gtin, PrefixKind, Typed, corrections, parse_typed, prefix_kind};
use crate::collection::{Departed, IssueNumber, Owned, Title, Want, search_key};
use crate::intake::{Item, ItemId};
use crate::meaning::Reading;
use crate::store::{QueueFilter, Store, StoreError};

/// The short answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Have {
    /// Nothing of the issue is owned.
    NotOwned,
    /// The issue is owned with other covers only.
    AnotherCover,
    /// The cover is owned in other printings only.
    AnotherPrinting,
    /// It is owned. Asked for an issue without a cover, any counts; asked for a title, any issue.
    Owned,
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HaveAnswer {
    /// What was asked.
    pub query: String,
    /// The main code, if a code was asked for.
    pub code: Option<Gtin>,
    /// Its add-on, if one was given.
    pub add_on: Option<AddOn>,
    /// The best of the titles' answers.
    pub answer: Have,
    /// Titles that fit, each with its own answer, what is owned first. Empty if no title is known.
    pub titles: Vec<HaveTitle>,
    /// Whether further titles fit and more of the name is needed to know about them.
    pub more_titles: bool,
    /// Items of the queue that are the same book.
    pub waiting: Vec<ItemId>,
}

/// The answer for one title.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HaveTitle {
    /// The title.
    pub title: Title,
    /// The issue asked for; `None` if the whole title was, empty for a whole book.
    pub issue: Option<String>,
    /// The cover asked for.
    pub cover: Option<String>,
    /// The printing asked for.
    pub printing: Option<u32>,
    /// The short answer.
    pub answer: Have,
    /// What is owned of the issue, all covers and printings.
    pub owned: Vec<Owned>,
    /// Copies of the issue that are owned no more, the last to leave first.
    pub gone: Vec<Departed>,
    /// How many issues of the title are owned, if the whole title was asked for.
    pub issues: Option<u32>,
    /// What may be paid for the issue, if it is wanted and nothing of it is owned.
    pub wanted: Option<Want>,
    /// How many copies: of the very printing, of the issue, or of the title, whichever was asked for.
    pub copies: u32,
}

/// What is asked about a title.
#[derive(Debug, Clone, Default)]
struct Wanted {
    issue: Option<String>,
    cover: Option<String>,
    printing: Option<u32>,
}

/// Answers from a code (12 or 13 digits, 17 or 18 with its add-on), or from a title and issue typed loosely.
///
/// # Errors
/// If nothing is asked, the code fails its check, or the collection can't be read.
pub fn have(store: &Store, query: &str) -> Result<HaveAnswer, WorkflowError> {
    let typed = parse_typed(query);
    store.read(|store| match typed {
        Ok(Typed::Code { gtin, add_on, .. }) => Ok(by_code(store, query, gtin, add_on)?),
        // Digits alone are a mistyped code rather than a title, unless there is a title of that name.
        Err(source) if looks_like_code(query) => match by_name(store, query)? {
            Some(answer) if !answer.titles.is_empty() => Ok(answer),
            _ => Err(WorkflowError::NoCode { text: query.trim().to_owned(), source }),
        },
        _ => by_name(store, query)?.ok_or_else(|| WorkflowError::NothingAsked(query.trim().to_owned())),
    })
}

/// The likeliest codes behind digits that are none, with what the collection knows first.
///
/// # Errors
/// If the collection can't be read.
pub fn likely_codes(store: &Store, typed: &str) -> Result<Vec<Correction>, WorkflowError> {
    let failure = Cell::new(None);
    let proposals = corrections(typed, |gtin| {
        let known = store.titles_of_code(gtin).and_then(|titles| Ok(!titles.is_empty() || store.book(gtin)?.is_some()));
        known.unwrap_or_else(|error| {
            failure.set(Some(error));
            false
        })
    });
    failure.into_inner().map_or(Ok(proposals), |error| Err(error.into()))
}

fn looks_like_code(query: &str) -> bool {
    let digits = query.chars().filter(char::is_ascii_digit).count();
    digits >= 8 && query.chars().all(|c| c.is_ascii_digit() || c.is_whitespace() || matches!(c, '-' | '+'))
}

pub(super) fn by_code(store: &Store, query: &str, gtin: Gtin, add_on: Option<AddOn>) -> Result<HaveAnswer, StoreError> {
    let mut titles = Vec::new();
    if prefix_kind(gtin) == PrefixKind::Isbn {
        if let Some((title, issue)) = store.book(gtin)? {
            let wanted = Wanted { issue: Some(issue), cover: Some("1".to_owned()), printing: Some(1) };
            titles.push(about(store, title, &wanted)?);
        }
    } else {
        // Printings recorded with these very digits come first: a person may have said that the digits mean another
        // issue than they say.
        for (title, issue, cover, printing) in add_on.map_or(Ok(Vec::new()), |a| store.issues_of_code(gtin, a))? {
            let wanted = Wanted { issue: Some(issue), cover: Some(cover), printing: Some(printing) };
            let answer = about(store, store.title(title)?, &wanted)?;
            if !titles.contains(&answer) {
                titles.push(answer);
            }
        }
        for title in store.titles_of_code(gtin)? {
            if titles.iter().any(|known: &HaveTitle| known.title.id == title.id) {
                continue;
            }
            let Some(wanted) = wanted(store, &title, add_on)? else { continue };
            titles.push(about(store, title, &wanted)?);
        }
    }
    let waiting = store.items(QueueFilter::Code(gtin))?;
    let waiting = waiting.iter().filter(|item| add_on.is_none() || same_add_on(item, add_on)).map(|i| i.id).collect();
    Ok(answer(query, Some(gtin), add_on, titles, waiting))
}

/// What an add-on says under a title; `None` if it says nothing without a person.
fn wanted(store: &Store, title: &Title, add_on: Option<AddOn>) -> Result<Option<Wanted>, StoreError> {
    match (add_on, title.layout) {
        (None, _) => Ok(Some(Wanted::default())),
        (Some(AddOn::Five(digits)), Some(layout)) => {
            let reading = Reading::new(digits, layout);
            let number = crate::resolve::likely_number(reading, title.issue_base, store.highest_number(title.id)?);
            Ok(Some(Wanted {
                issue: Some(number.to_string()),
                cover: Some(reading.cover.max(1).to_string()),
                printing: Some(reading.printing.max(1).into()),
            }))
        }
        (Some(_), _) => Ok(None),
    }
}

fn same_add_on(item: &Item, add_on: Option<AddOn>) -> bool {
    // An add-on that was not read may be this one: better said once too often.
    item.code.is_some_and(|code| code.add_on == AddOnState::Unread || code.add_on.read() == add_on)
}

fn by_name(store: &Store, query: &str) -> Result<Option<HaveAnswer>, StoreError> {
    if search_key(query).is_empty() {
        return Ok(None);
    }
    let mut titles: Vec<HaveTitle> = Vec::new();
    let (mut waiting, mut more) = (Vec::new(), false);
    // A title may end in a number itself: one whose whole name was typed is meant as such.
    for title in store.titles_named(&search_key(query))? {
        titles.push(about(store, title, &Wanted::default())?);
    }
    for (name, issue, is_number) in splits(query) {
        let found = if is_number {
            let found = titles_like(store, name)?;
            more |= found.more;
            found.titles
        } else {
            store.titles_named(&search_key(name))?
        };
        for title in found {
            if titles.iter().any(|known| known.title.id == title.id) {
                continue;
            }
            let wanted = Wanted { issue: Some(issue.clone()), ..Wanted::default() };
            waiting.extend(waiting_issue(store, &title, &issue)?);
            let answer = about(store, title, &wanted)?;
            // An issue that is no number ('Annual 1') counts only if it is known: it may be a word of the title.
            if is_number || store.issue_id(answer.title.id, &IssueNumber::new(&issue))?.is_some() {
                titles.push(answer);
            }
        }
    }
    if titles.is_empty() {
        let found = titles_like(store, query)?;
        more |= found.more;
        for title in found.titles {
            titles.push(about(store, title, &Wanted::default())?);
        }
    }
    titles.sort_by_key(|title| std::cmp::Reverse(title.answer));
    Ok(Some(HaveAnswer { more_titles: more, ..answer(query, None, None, titles, waiting) }))
}

/// A text as name and issue, wherever it may be split; the last word, or what follows '#', is a number.
fn splits(query: &str) -> Vec<(&str, String, bool)> {
    let query = query.trim();
    let hash = query.rfind('#');
    let blanks = query.char_indices().rev().filter(|(_, c)| c.is_whitespace()).map(|(at, _)| at);
    let mut found = Vec::new();
    for at in hash.into_iter().chain(blanks.filter(|_| hash.is_none())) {
        let (name, issue) = query.split_at(at);
        let issue = IssueNumber::new(issue);
        let is_number = hash.is_some() || found.is_empty() && issue.is_numeric();
        if !issue.as_str().is_empty() && !search_key(name).is_empty() {
            found.push((name, issue.to_string(), is_number));
        }
    }
    found
}

/// Items that wait and would become this issue.
fn waiting_issue(store: &Store, title: &Title, issue: &str) -> Result<Vec<ItemId>, StoreError> {
    let mut found = Vec::new();
    for code in store.codes_of_title(title.id)? {
        for item in store.items(QueueFilter::Code(code))? {
            let add_on = item.code.and_then(|code| code.add_on.read());
            let Some(wanted) = wanted(store, title, add_on)? else { continue };
            if wanted.issue.is_some_and(|number| IssueNumber::new(&number) == IssueNumber::new(issue)) {
                found.push(item.id);
            }
        }
    }
    Ok(found)
}

fn about(store: &Store, title: Title, wanted: &Wanted) -> Result<HaveTitle, StoreError> {
    let Wanted { issue, cover, printing } = wanted.clone();
    let Some(number) = &issue else {
        let (issues, copies) = store.owned_of_title(title.id)?;
        let answer = if copies > 0 { Have::Owned } else { Have::NotOwned };
        return Ok(HaveTitle {
            title,
            issue,
            cover,
            printing,
            answer,
            owned: Vec::new(),
            gone: Vec::new(),
            issues: Some(issues),
            wanted: None,
            copies,
        });
    };
    let owned = store.owned(title.id, number)?;
    let same_cover = |o: &&Owned| cover.as_ref().is_none_or(|cover| o.cover == *cover);
    let same = |o: &&Owned| same_cover(o) && printing.is_none_or(|printing| o.printing == printing);
    let copies = owned.iter().filter(same).map(|o| o.copies).sum();
    let answer = match () {
        () if copies > 0 => Have::Owned,
        () if owned.iter().any(|o| same_cover(&o)) => Have::AnotherPrinting,
        () if !owned.is_empty() => Have::AnotherCover,
        () => Have::NotOwned,
    };
    let gone = store.departed(title.id, number)?;
    let known = store.issue_id(title.id, &IssueNumber::new(number))?.filter(|_| owned.is_empty());
    let wanted = known.map_or(Ok(None), |issue| store.want(issue))?;
    Ok(HaveTitle { title, issue, cover, printing, answer, owned, gone, issues: None, wanted, copies })
}

fn answer(
    query: &str,
    code: Option<Gtin>,
    add_on: Option<AddOn>,
    titles: Vec<HaveTitle>,
    waiting: Vec<ItemId>,
) -> HaveAnswer {
    let answer = titles.iter().map(|title| title.answer).max().unwrap_or(Have::NotOwned);
    HaveAnswer { query: query.trim().to_owned(), code, add_on, answer, titles, more_titles: false, waiting }
}
