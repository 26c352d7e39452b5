//! Titles, issues, printings and copies as plain values.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::{Edit, Money, SizeClass};
use crate::code::{AddOn, Gtin};
use crate::intake::{ItemId, id};
use crate::meaning::Layout;

id! {
    /// A publisher.
    PublisherId
}
id! {
    /// A title: one volume of one publisher's run.
    TitleId
}
id! {
    /// An issue of a title.
    IssueId
}
id! {
    /// One cover and printing of an issue.
    PrintingId
}
id! {
    /// A copy that is or was owned.
    CopyId
}

/// A title. Several may share a code, because publishers reuse it for later volumes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Title {
    /// Its number.
    pub id: TitleId,
    /// Its publisher, if known.
    pub publisher: Option<String>,
    /// Its name.
    pub name: String,
    /// Its volume as the collector writes it; empty if it has none.
    pub volume: String,
    /// The year in which it began.
    pub year: Option<i16>,
    /// How its five-digit add-ons are laid out; unknown as long as it had none.
    pub layout: Option<Layout>,
    /// What is added to the digits' issue number since the run counted past what the digits can hold.
    pub issue_base: u32,
}

/// A title about to be kept.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct NewTitle {
    /// Its publisher, if known.
    pub publisher: Option<String>,
    /// Its name.
    pub name: String,
    /// Its volume; empty if it has none.
    pub volume: String,
    /// The year in which it began.
    pub year: Option<i16>,
    /// How its five-digit add-ons are laid out.
    pub layout: Option<Layout>,
    /// What is added to the digits' issue number.
    pub issue_base: u32,
}

/// What to change about a title; `None` leaves a field as it is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TitleChange {
    /// Its publisher; empty for none.
    pub publisher: Option<String>,
    /// Its name.
    pub name: Option<String>,
    /// Its volume; empty for none.
    pub volume: Option<String>,
    /// The year in which it began.
    pub year: Edit<i16>,
    /// How its five-digit add-ons are laid out.
    pub layout: Edit<Layout>,
    /// What is added to the digits' issue number.
    pub issue_base: Option<u32>,
    /// A code that stands for it from now on.
    pub code: Option<Gtin>,
    /// The day since which that code stands for it.
    pub since: Option<Date>,
    /// The character or family that it is filed under.
    pub family: Edit<String>,
    /// What bag and board its issues take.
    pub size: Edit<SizeClass>,
    /// How many pages its issues have.
    pub pages: Edit<u32>,
}

/// A copy that a run accepts: unread and unfiled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copy {
    /// What it is a copy of.
    pub printing: PrintingId,
    /// When it was acquired.
    pub acquired: Option<Date>,
    /// Where.
    pub shop: Option<String>,
    /// For how much.
    pub paid: Option<Money>,
    /// The staged item it came from.
    pub item: Option<ItemId>,
}

/// A printing of which copies are owned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Owned {
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// Its main code, if known.
    pub code: Option<Gtin>,
    /// Its add-on, if it has one.
    pub add_on: Option<AddOn>,
    /// How many copies.
    pub copies: u32,
}
