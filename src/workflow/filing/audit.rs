//! A box gone through: what should stand in it, against the codes that were seen there.

use serde::Serialize;

use super::boxes::{BoxContent, box_show};
use crate::code::{AddOn, Code, Gtin};
use crate::collection::{IssueNumber, Title};
use crate::filing::NamedCopy;
use crate::store::Store;
use crate::workflow::{WorkflowError, have};

/// What going through a box found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Audit {
    /// The box's label.
    pub label: String,
    /// Copies that stand where they should.
    pub right: u32,
    /// Copies that should stand in it and were not seen.
    pub missing: Vec<MissingCopy>,
    /// Copies that were seen and belong elsewhere.
    pub misplaced: Vec<MisplacedCopy>,
    /// Codes of which no copy is owned.
    pub unknown: Vec<UnknownCode>,
}

/// A copy that was not seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MissingCopy {
    /// The copy.
    #[serde(flatten)]
    pub copy: NamedCopy,
    /// How far from the front it should stand.
    pub mm: u32,
    /// Whether a code is recorded that could have been seen.
    pub has_code: bool,
}

/// A copy that belongs elsewhere.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MisplacedCopy {
    /// The copy.
    #[serde(flatten)]
    pub copy: NamedCopy,
    /// The label of the box where it should stand; `None` if it is to be filed.
    pub belongs_to: Option<String>,
}

/// A code of which nothing is owned, or that is not clear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct UnknownCode {
    /// The main code.
    pub code: Gtin,
    /// Its add-on, if one was read.
    pub add_on: Option<AddOn>,
    /// How often it was seen.
    pub seen: u32,
}

/// What a code says it is.
struct Meant {
    title: Title,
    issue: IssueNumber,
    cover: Option<String>,
    printing: Option<u32>,
}

impl Meant {
    fn fits(&self, copy: &NamedCopy) -> bool {
        copy.title.id == self.title.id
            && IssueNumber::new(&copy.issue) == self.issue
            && self.cover.as_ref().is_none_or(|cover| *cover == copy.cover)
            && self.printing.is_none_or(|printing| printing == copy.printing)
    }
}

/// Compares a box with the codes seen in it, each as often as it was seen. Nothing is written.
///
/// # Errors
/// If there is no such box, or the collection can't be read.
pub fn audit(store: &Store, label: &str, seen: &[Code]) -> Result<Audit, WorkflowError> {
    let BoxContent { fill, content } = box_show(store, label)?;
    let mut waiting: Vec<_> = content.into_iter().map(Some).collect();
    let mut audit =
        Audit { label: fill.shelf.label, right: 0, missing: Vec::new(), misplaced: Vec::new(), unknown: Vec::new() };
    let mut codes: Vec<(Code, u32)> = Vec::new();
    for &code in seen {
        match codes.iter_mut().find(|(known, _)| *known == code) {
            Some((_, times)) => *times += 1,
            None => codes.push((code, 1)),
        }
    }
    for (code, times) in codes {
        let meant = meant(store, code)?;
        let here: Vec<usize> = (0..waiting.len())
            .filter(|&at| waiting[at].as_ref().is_some_and(|line| meant.iter().any(|meant| meant.fits(&line.copy))))
            .take(times as usize)
            .collect();
        audit.right += here.len() as u32;
        here.iter().for_each(|&at| waiting[at] = None);
        // A copy that was seen again is no other copy.
        if here.is_empty() && !elsewhere(store, &meant, times as usize, &mut audit)? {
            audit.unknown.push(UnknownCode { code: code.gtin, add_on: code.add_on.read(), seen: times });
        }
    }
    for line in waiting.into_iter().flatten() {
        let has_code = store.copy_record(line.copy.copy)?.code.is_some();
        audit.missing.push(MissingCopy { copy: line.copy, mm: line.mm, has_code });
    }
    Ok(audit)
}

fn meant(store: &Store, code: Code) -> Result<Vec<Meant>, WorkflowError> {
    let add_on = code.add_on.read().map(|add_on| format!("+{add_on}")).unwrap_or_default();
    let known = have(store, &format!("{}{add_on}", code.gtin))?.titles.into_iter();
    let meant = known.filter_map(|known| {
        let issue = IssueNumber::new(&known.issue?);
        Some(Meant { title: known.title, issue, cover: known.cover, printing: known.printing })
    });
    Ok(meant.collect())
}

/// Whether copies of it are owned that don't stand in this box.
fn elsewhere(store: &Store, meant: &[Meant], times: usize, audit: &mut Audit) -> Result<bool, WorkflowError> {
    let mut found = false;
    for meant in meant {
        let owned = store.copies_of_issue(meant.title.id, &meant.issue)?;
        let mut left = times;
        for (copy, stands_in) in owned {
            let copy = store.named_copy(copy)?;
            if left == 0 || !meant.fits(&copy) {
                continue;
            }
            let belongs_to = stands_in.map(|shelf| store.box_of_number(shelf)).transpose()?.map(|shelf| shelf.label);
            // Another copy of this box: it was seen already.
            if belongs_to.as_ref() == Some(&audit.label) {
                return Ok(true);
            }
            audit.misplaced.push(MisplacedCopy { copy, belongs_to });
            (found, left) = (true, left - 1);
        }
    }
    Ok(found)
}
