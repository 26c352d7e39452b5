//! Do I own this?

use std::collections::{BTreeSet, HashMap};

use serde::Serialize;

use super::WorkflowError;
use super::titles::titles_like;
use crate::code::{AddOn, AddOnState, Gtin, PrefixKind, Typed, parse_typed, prefix_kind};
use crate::collection::{Departed, IssueId, IssueNumber, Owned, Title, TitleId, Want, search_key};
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
    /// How many issues of the title are owned, if the whole title was asked for and they were counted.
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
    Ok(have_part(store, query, Part { skip: 0, most: usize::MAX, counted: true })?.0)
}

/// A part of the titles that fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// So many before it.
    pub skip: usize,
    /// So many in it.
    pub most: usize,
    /// Whether issues and copies of whole titles are counted, which costs the more the longer their runs are; else only
    /// whether anything is owned is told.
    pub counted: bool,
}

/// As [`have`], with a part of the titles; and how many there are.
///
/// # Errors
/// As [`have`].
pub fn have_part(store: &Store, query: &str, asked: Part) -> Result<(HaveAnswer, usize), WorkflowError> {
    let typed = parse_typed(query);
    store.read(|store| {
        let part = |mut answer: HaveAnswer| -> Result<_, StoreError> {
            let all = answer.titles.len();
            answer.titles = answer.titles.into_iter().skip(asked.skip).take(asked.most).collect();
            if asked.counted {
                count(store, &mut answer.titles)?;
            }
            Ok((answer, all))
        };
        match typed {
            Ok(Typed::Code { gtin, add_on, .. }) => Ok(part(by_code(store, query, gtin, add_on)?)?),
            // Digits alone are a mistyped code rather than a title, unless there is a title of that name.
            Err(source) if looks_like_code(query) => match by_name(store, query)? {
                Some(answer) if !answer.titles.is_empty() => Ok(part(answer)?),
                _ => Err(WorkflowError::NoCode { text: query.trim().to_owned(), source }),
            },
            _ => {
                let answer = by_name(store, query)?;
                Ok(part(answer.ok_or_else(|| WorkflowError::NothingAsked(query.trim().to_owned()))?)?)
            }
        }
    })
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
            titles.extend(about(store, vec![(title, wanted)])?);
        }
    } else {
        // Printings recorded with these very digits come first: a person may have said that the digits mean another
        // issue than they say.
        for (title, issue, cover, printing) in add_on.map_or(Ok(Vec::new()), |a| store.issues_of_code(gtin, a))? {
            let wanted = Wanted { issue: Some(issue), cover: Some(cover), printing: Some(printing) };
            let answers = about(store, vec![(store.title(title)?, wanted)])?;
            titles.extend(answers.into_iter().filter(|answer| !titles.contains(answer)).collect::<Vec<_>>());
        }
        for title in store.titles_of_code(gtin)? {
            if titles.iter().any(|known: &HaveTitle| known.title.id == title.id) {
                continue;
            }
            let Some(wanted) = wanted(store, &title, add_on)? else { continue };
            titles.extend(about(store, vec![(title, wanted)])?);
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
    let (mut waiting, mut more) = (Vec::new(), false);
    // A title may end in a number itself: one whose whole name was typed is meant as such.
    let named = store.titles_named(&search_key(query))?;
    let mut asked: Vec<(Title, Wanted)> = named.into_iter().map(|title| (title, Wanted::default())).collect();
    for (name, issue, is_number) in splits(query) {
        let mut found = if is_number {
            let found = titles_like(store, name)?;
            more |= found.more;
            found.titles
        } else {
            store.titles_named(&search_key(name))?
        };
        found.retain(|title| asked.iter().all(|(known, _)| known.id != title.id));
        waiting.extend(waiting_issue(store, &found, &issue)?);
        // An issue that is no number ('Annual 1') counts only if it is known: it may be a word of the title.
        if !is_number {
            let known = store.issues_numbered(&ids(&found), &IssueNumber::new(&issue))?;
            found.retain(|title| known.iter().any(|(of, _)| *of == title.id));
        }
        let wanted = Wanted { issue: Some(issue), ..Wanted::default() };
        asked.extend(found.into_iter().map(|title| (title, wanted.clone())));
    }
    if asked.is_empty() {
        let found = titles_like(store, query)?;
        more |= found.more;
        asked.extend(found.titles.into_iter().map(|title| (title, Wanted::default())));
    }
    let mut titles = about(store, asked)?;
    titles.sort_by_key(|title| std::cmp::Reverse(title.answer));
    Ok(Some(HaveAnswer { more_titles: more, ..answer(query, None, None, titles, waiting) }))
}

fn ids(titles: &[Title]) -> Vec<TitleId> {
    titles.iter().map(|title| title.id).collect()
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

/// Items that wait and would become this issue of one of the titles.
fn waiting_issue(store: &Store, titles: &[Title], issue: &str) -> Result<Vec<ItemId>, StoreError> {
    let mut found = Vec::new();
    for (of, item) in store.open_of_titles(&ids(titles))? {
        let Some(title) = titles.iter().find(|title| title.id == of) else { continue };
        let add_on = store.item(item)?.code.and_then(|code| code.add_on.read());
        let Some(wanted) = wanted(store, title, add_on)? else { continue };
        if wanted.issue.is_some_and(|number| IssueNumber::new(&number) == IssueNumber::new(issue)) {
            found.push(item);
        }
    }
    found.sort_unstable();
    Ok(found)
}

/// The answer for each title, in this order. How much of whole titles is owned is left to [`count`]. Titles that are asked for
/// the same issue are looked up together.
fn about(store: &Store, asked: Vec<(Title, Wanted)>) -> Result<Vec<HaveTitle>, StoreError> {
    let mut issues: HashMap<(TitleId, &str), IssueId> = HashMap::new();
    let numbers: BTreeSet<&str> = asked.iter().filter_map(|(_, wanted)| wanted.issue.as_deref()).collect();
    for number in numbers {
        let of_number = asked.iter().filter(|(_, wanted)| wanted.issue.as_deref() == Some(number));
        let titles: Vec<TitleId> = of_number.map(|(title, _)| title.id).collect();
        let known = store.issues_numbered(&titles, &IssueNumber::new(number))?;
        issues.extend(known.into_iter().map(|(title, issue)| ((title, number), issue)));
    }
    let known: Vec<IssueId> = issues.values().copied().collect();
    let (mut owned, mut gone) = (HashMap::new(), HashMap::new());
    if !known.is_empty() {
        for (issue, printing) in store.owned_of_issues(&known)? {
            owned.entry(issue).or_insert_with(Vec::new).push(printing);
        }
        for (issue, copy) in store.departed_of_issues(&known)? {
            gone.entry(issue).or_insert_with(Vec::new).push(copy);
        }
    }
    let whole = asked.iter().filter(|(_, wanted)| wanted.issue.is_none()).map(|(title, _)| title.id);
    let whole: Vec<TitleId> = whole.collect();
    let titles_owned = if whole.is_empty() { Vec::new() } else { store.titles_owned(&whole)? };
    let mut answers = Vec::with_capacity(asked.len());
    for (title, wanted) in &asked {
        let issue = wanted.issue.as_deref().and_then(|number| issues.get(&(title.id, number)));
        let owned = issue.and_then(|issue| owned.get(issue)).cloned().unwrap_or_default();
        let same_cover = |o: &&Owned| wanted.cover.as_ref().is_none_or(|cover| o.cover == *cover);
        let same = |o: &&Owned| same_cover(o) && wanted.printing.is_none_or(|printing| o.printing == printing);
        let copies = owned.iter().filter(same).map(|o| o.copies).sum();
        let answer = match () {
            () if copies > 0 || wanted.issue.is_none() && titles_owned.contains(&title.id) => Have::Owned,
            () if owned.iter().any(|o| same_cover(&o)) => Have::AnotherPrinting,
            () if !owned.is_empty() => Have::AnotherCover,
            () => Have::NotOwned,
        };
        answers.push(HaveTitle {
            title: title.clone(),
            issue: wanted.issue.clone(),
            cover: wanted.cover.clone(),
            printing: wanted.printing,
            answer,
            gone: issue.and_then(|issue| gone.get(issue)).cloned().unwrap_or_default(),
            issues: None,
            wanted: issue.filter(|_| owned.is_empty()).map_or(Ok(None), |issue| store.want(*issue))?,
            owned,
            copies,
        });
    }
    Ok(answers)
}

/// Counts the issues and copies of those that are asked for as whole titles.
fn count(store: &Store, titles: &mut [HaveTitle]) -> Result<(), StoreError> {
    for title in titles.iter_mut().filter(|title| title.issue.is_none()) {
        let (issues, copies) = if title.answer == Have::Owned { store.owned_of_title(title.title.id)? } else { (0, 0) };
        (title.issues, title.copies) = (Some(issues), copies);
    }
    Ok(())
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
