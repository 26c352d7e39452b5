//! What a list's rows came to.

use serde::Serialize;

use crate::collection::Title;
use crate::intake::RunId;
use crate::list::{Field, Problem};

/// The widest of what a row made known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RowNew {
    /// A title.
    Title,
    /// An issue of a known title.
    Issue,
    /// A cover or printing of a known issue.
    Printing,
}

/// What was unknown and is known now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Completed {
    /// What it is.
    pub field: Field,
    /// What the list says.
    pub list: String,
}

/// What list and collection say differently.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Differs {
    /// What it is.
    pub field: Field,
    /// What the collection says.
    pub here: String,
    /// What the list says.
    pub list: String,
    /// Whether the list's word counts from now on.
    pub taken: bool,
}

/// What a row came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RowOutcome {
    /// The line or row of the list.
    pub line: usize,
    /// The title that it is about.
    pub title: Option<Title>,
    /// The issue that it is about; empty for a whole book.
    pub issue: Option<String>,
    /// Its cover.
    pub cover: Option<String>,
    /// Its printing.
    pub printing: Option<u32>,
    /// What it made known.
    pub new: Option<RowNew>,
    /// What it completed of what was known.
    pub completed: Vec<Completed>,
    /// What it says differently.
    pub differs: Vec<Differs>,
    /// Why it was left out.
    #[serde(rename = "errors")]
    pub problems: Vec<Problem>,
}

impl RowOutcome {
    pub(super) fn of_line(line: usize) -> Self {
        Self {
            line,
            title: None,
            issue: None,
            cover: None,
            printing: None,
            new: None,
            completed: Vec::new(),
            differs: Vec::new(),
            problems: Vec::new(),
        }
    }
}

/// What a list came to.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct ListReport {
    /// The run, if anything was kept.
    pub run: Option<RunId>,
    /// Rows read.
    pub rows: usize,
    /// Titles made known.
    pub titles: usize,
    /// Issues made known.
    pub issues: usize,
    /// Covers and printings made known.
    pub printings: usize,
    /// Rows that completed what was known.
    pub completed: usize,
    /// Rows that say something differently, whether or not that was taken.
    pub differing: usize,
    /// Rows that were left out.
    pub failed: usize,
    /// Columns that say nothing that is kept.
    pub unused: Vec<String>,
}

impl ListReport {
    pub(super) fn count(&mut self, outcome: &RowOutcome) {
        self.rows += 1;
        self.failed += usize::from(!outcome.problems.is_empty());
        self.completed += usize::from(!outcome.completed.is_empty());
        self.differing += usize::from(!outcome.differs.is_empty());
        self.titles += usize::from(outcome.new == Some(RowNew::Title));
        let issue = outcome.issue.is_some() && matches!(outcome.new, Some(RowNew::Title | RowNew::Issue));
        self.issues += usize::from(issue);
        self.printings += usize::from(outcome.cover.is_some() && outcome.new.is_some());
    }
}
