//! A row of a list to what it says.

use super::cells::{code, counted, price};
use super::days::{cover_date, day};
use super::{DayOrder, Field, Mapping, Row};
use crate::code::{AddOn, Gtin};
use crate::collection::{Currency, IssueFacts, IssueNumber, PrintingFacts, search_key};
use crate::meaning::Layout;

/// What a row says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The title's name.
    pub title: String,
    /// Its publisher.
    pub publisher: Option<String>,
    /// Its volume.
    pub volume: Option<String>,
    /// The year in which it began.
    pub year: Option<i16>,
    /// How its five-digit add-ons are laid out.
    pub layout: Option<Layout>,
    /// The issue's number; without one, the row is about the title or a whole book.
    pub issue: Option<IssueNumber>,
    /// Its cover.
    pub cover: Option<String>,
    /// Its printing.
    pub printing: Option<u32>,
    /// Its main code.
    pub code: Option<Gtin>,
    /// Its add-on.
    pub add_on: Option<AddOn>,
    /// What else it says of the issue.
    pub issue_facts: IssueFacts,
    /// What else it says of the printing.
    pub printing_facts: PrintingFacts,
}

/// What is wrong with a row.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Problem {
    /// The column, if it is one column's.
    pub column: Option<String>,
    /// What is wrong.
    pub problem: String,
}

/// How a list writes what can be written in several ways.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spelling {
    /// Its days.
    pub days: DayOrder,
    /// The currency of prices that have none.
    pub currency: Option<Currency>,
}

/// What a row says under `mapping`, or all that is wrong with it.
///
/// # Errors
/// If any of its cells makes no sense.
pub fn entry(row: &Row, mapping: &Mapping, columns: &[String], spelling: Spelling) -> Result<Entry, Vec<Problem>> {
    let cells = match &row.cells {
        Ok(cells) => cells,
        Err(problem) => return Err(vec![Problem { column: None, problem: problem.clone() }]),
    };
    let mut read = Cells { cells, mapping, columns, problems: Vec::new() };
    let currency = read.with(Field::Currency, |text| text.parse::<Currency>().map_err(|error| error.to_string()));
    let (code, add_on) = read.code();
    let entry = Entry {
        title: read.text(Field::Title).unwrap_or_default().to_owned(),
        publisher: read.owned(Field::Publisher),
        volume: read.with(Field::Volume, |text| Ok(volume(text).to_owned())),
        year: read.with(Field::Year, year),
        layout: read.with(Field::Layout, |text| text.parse::<Layout>().map_err(|error| error.to_string())),
        issue: read.with(Field::Issue, issue),
        cover: read.with(Field::Cover, |text| Ok(cover(text).to_owned())),
        printing: read.with(Field::Printing, |text| counted(text, &["st", "nd", "rd", "th", "printing", "print"])),
        code,
        add_on,
        issue_facts: IssueFacts {
            cover_date: read.with(Field::CoverDate, |text| cover_date(text, spelling.days)),
            pages: read.with(Field::Pages, |text| counted(text, &["pages", "page", "pp", "p"])),
            size: read.with(Field::Size, |text| text.parse().map_err(|error| format!("{error}"))),
            family: read.owned(Field::Family),
            key: read.owned(Field::Key),
        },
        printing_facts: PrintingFacts {
            on_sale: read.with(Field::OnSale, |text| day(text, spelling.days)),
            cover_price: read.with(Field::Price, |text| price(text, currency.or(spelling.currency))),
        },
    };
    if search_key(&entry.title).is_empty() {
        read.wrong(Field::Title, "a row names its title".to_owned());
    }
    if read.problems.is_empty() { Ok(entry) } else { Err(read.problems) }
}

struct Cells<'a> {
    cells: &'a [String],
    mapping: &'a Mapping,
    columns: &'a [String],
    problems: Vec<Problem>,
}

impl<'a> Cells<'a> {
    /// A field's cell, unless it is blank.
    fn text(&self, field: Field) -> Option<&'a str> {
        let text = self.cells.get(self.mapping.column(field)?)?.trim();
        (!text.is_empty()).then_some(text)
    }

    fn owned(&self, field: Field) -> Option<String> {
        self.text(field).map(str::to_owned)
    }

    fn with<T>(&mut self, field: Field, parse: impl FnOnce(&str) -> Result<T, String>) -> Option<T> {
        match parse(self.text(field)?) {
            Ok(value) => Some(value),
            Err(problem) => {
                self.wrong(field, problem);
                None
            }
        }
    }

    fn wrong(&mut self, field: Field, problem: String) {
        let column = self.mapping.column(field).and_then(|at| self.columns.get(at)).cloned();
        self.problems.push(Problem { column, problem });
    }

    fn code(&mut self) -> (Option<Gtin>, Option<AddOn>) {
        let beside = self.text(Field::AddOn);
        let Some(text) = self.text(Field::Code) else {
            if beside.is_some() {
                self.wrong(Field::AddOn, "an add-on stands beside a code, but the row has none".to_owned());
            }
            return (None, None);
        };
        match code(text, beside) {
            Ok((gtin, add_on)) => (Some(gtin), add_on),
            Err((at_code, problem)) => {
                self.wrong(if at_code { Field::Code } else { Field::AddOn }, problem);
                (None, None)
            }
        }
    }
}

fn year(text: &str) -> Result<i16, String> {
    match text.parse() {
        Ok(year @ 1000..=9999) => Ok(year),
        _ => Err(format!("'{text}' is no year")),
    }
}

fn issue(text: &str) -> Result<IssueNumber, String> {
    // A spreadsheet makes a date of 1/2.
    if text.len() == 10 && text.parse::<jiff::civil::Date>().is_ok() {
        return Err(format!("{text} is a date, perhaps made of a number such as 1/2; format the column as text"));
    }
    let number = IssueNumber::new(text);
    if number.as_str().is_empty() { Err(format!("'{text}' is no issue's number")) } else { Ok(number) }
}

/// `A` of `Cover A`.
fn cover(text: &str) -> &str {
    let rest = text.get(..6).filter(|word| word.eq_ignore_ascii_case("cover ")).map_or(text, |_| &text[6..]);
    rest.trim()
}

/// `2` of `Volume 2`, `Vol. 2` and `v2`.
fn volume(text: &str) -> &str {
    let lower = text.to_ascii_lowercase();
    let rest = ["volume", "vol.", "vol", "v."].iter().find_map(|mark| lower.strip_prefix(mark));
    let rest = rest.or_else(|| lower.strip_prefix('v').filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit())));
    rest.map_or(text, |rest| text[text.len() - rest.len()..].trim())
}
