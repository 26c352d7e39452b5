//! What the catalogue knows of issues, owned or not: shown, and completed or corrected by a person.

use jiff::Timestamp;
use jiff::civil::Date;

use super::WorkflowError;
use super::have::{HaveTitle, have};
use crate::collection::{CoverDate, Edit, IssueNumber, KnownIssue, Money, PrintingFacts, SizeClass, Title};
use crate::intake::RunId;
use crate::store::{NewPrinting, RunKind, Store, StoreError};

/// What to change about an issue, or one of its covers and printings.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct IssueChange {
    /// The date on its cover.
    pub cover_date: Edit<CoverDate>,
    /// How many pages it has.
    pub pages: Edit<u32>,
    /// What bag and board it takes.
    pub size: Edit<SizeClass>,
    /// The character or family that it is filed under.
    pub family: Edit<String>,
    /// What makes it a key issue.
    pub key: Edit<String>,
    /// Which cover the changes below are about; the code's, or else 1.
    pub cover: Option<String>,
    /// Which printing they are about; the code's, or else the first.
    pub printing: Option<u32>,
    /// The day on which it came out.
    pub on_sale: Edit<Date>,
    /// The price on its cover.
    pub cover_price: Edit<Money>,
}

/// The known issues that a code, a title and an issue, or a title stands for.
///
/// # Errors
/// If nothing is named, no title fits, or the collection can't be read.
pub fn catalogue_show(store: &Store, query: &str) -> Result<Vec<KnownIssue>, WorkflowError> {
    let titles = have(store, query)?.titles;
    if titles.is_empty() {
        return Err(WorkflowError::NoTitleFits(query.trim().to_owned()));
    }
    store.read(|store| {
        let mut known = Vec::new();
        for HaveTitle { title, issue, .. } in titles {
            let number = issue.as_deref().map(IssueNumber::new);
            known.extend(store.known_issues(&title, number.as_ref())?);
        }
        Ok(known)
    })
}

/// Changes what is known of an issue; one that was not known is known from now on.
///
/// # Errors
/// If the query names no single issue, or the collection fails.
pub fn catalogue_set(
    store: &Store,
    query: &str,
    change: &IssueChange,
    now: Timestamp,
) -> Result<(KnownIssue, Option<RunId>), WorkflowError> {
    let asked = have(store, query)?;
    let HaveTitle { title, issue, cover, printing, .. } = single_issue(store, query, asked.titles)?;
    let issue = issue.unwrap_or_default();
    let printing = NewPrinting {
        title: title.id,
        issue: issue.clone(),
        cover: change.cover.clone().or(cover).unwrap_or_else(|| "1".to_owned()),
        printing: change.printing.or(printing).unwrap_or(1),
        code: asked.code,
        add_on: asked.add_on,
    };
    let names_printing = change.cover.is_some() || change.printing.is_some();
    let mut run = None;
    store.write(&mut run, RunKind::Catalogue, now, |writer| {
        let id = writer.issue(title.id, &issue)?;
        let mut facts = writer.issue_facts(id)?;
        change.cover_date.apply(&mut facts.cover_date);
        change.pages.apply(&mut facts.pages);
        change.size.apply(&mut facts.size);
        change.family.clone().apply(&mut facts.family);
        change.key.clone().apply(&mut facts.key);
        writer.set_issue_facts(id, &facts)?;
        if names_printing || (change.on_sale, change.cover_price) != (Edit::Keep, Edit::Keep) {
            let id = writer.printing_like(&printing)?;
            let PrintingFacts { mut on_sale, mut cover_price } = writer.printing_facts(id)?;
            change.on_sale.apply(&mut on_sale);
            change.cover_price.apply(&mut cover_price);
            writer.set_printing_facts(id, &PrintingFacts { on_sale, cover_price })?;
        }
        Ok::<_, StoreError>(())
    })?;
    let known = store.known_issues(&title, Some(&IssueNumber::new(&issue)))?.pop();
    Ok((known.ok_or_else(|| WorkflowError::NoTitleFits(query.trim().to_owned()))?, run))
}

/// The one issue that is meant: of several titles' the one that is known, of a title that is one whole book that book.
fn single_issue(store: &Store, query: &str, titles: Vec<HaveTitle>) -> Result<HaveTitle, WorkflowError> {
    let query = || query.trim().to_owned();
    if titles.is_empty() {
        return Err(WorkflowError::NoTitleFits(query()));
    }
    let (mut known, mut possible) = (Vec::new(), Vec::new());
    for mut found in titles {
        if found.issue.is_none() && is_whole_book(store, &found.title)? {
            found.issue = Some(String::new());
        }
        let Some(issue) = &found.issue else { continue };
        let of = if store.issue_id(found.title.id, &IssueNumber::new(issue))?.is_some() {
            &mut known
        } else {
            &mut possible
        };
        of.push(found);
    }
    let mut fitting = if known.is_empty() { possible } else { known };
    match fitting.len() {
        0 => Err(WorkflowError::NoIssueNamed(query())),
        1 => Ok(fitting.swap_remove(0)),
        titles => Err(WorkflowError::SeveralTitles { query: query(), titles }),
    }
}

fn is_whole_book(store: &Store, title: &Title) -> Result<bool, StoreError> {
    Ok(matches!(store.known_issues(title, None)?.as_slice(), [only] if only.issue.is_empty()))
}
