//! A row of a list into the catalogue.

use std::collections::{BTreeMap, HashSet};
use std::fmt::Display;

use super::outcome::{Completed, Differs, RowNew, RowOutcome};
use super::titles::{Found, Titles, is_book};
use crate::code::{AddOn, Gtin};
use crate::collection::{
    Edit, IssueFacts, IssueId, IssueNumber, PrintingFacts, PrintingId, Title, TitleChange, TitleFacts, TitleId,
    search_key,
};
use crate::list::{Entry, Field, Mapping, Problem};
use crate::meaning::{Layout, Reading};
use crate::store::{NewPrinting, PrintingOf, StoreError, Writer};

/// Takes rows one after another.
pub(super) struct Taking<'a> {
    writer: &'a Writer<'a>,
    replace: bool,
    titles: Titles<'a>,
    /// The codes that stand for titles already.
    codes: HashSet<(Gtin, TitleId)>,
    /// The layouts that titles' codes fit, where they fit one only.
    layouts: BTreeMap<TitleId, Vec<Layout>>,
}

/// A row on its way.
struct Settling {
    replace: bool,
    outcome: RowOutcome,
}

impl Settling {
    /// Completes what is known by what the list says; where both say something else, that is told, and the list's word
    /// counts if it is wanted.
    fn settle<T: PartialEq + Display>(&mut self, field: Field, here: &mut Option<T>, list: Option<T>) {
        let Some(list) = list else { return };
        match here {
            Some(here) if *here == list => return,
            Some(here) => self.differs(field, here, &list),
            None => self.outcome.completed.push(Completed { field, list: list.to_string() }),
        }
        if here.is_none() || self.replace {
            *here = Some(list);
        }
    }

    fn differs(&mut self, field: Field, here: &impl Display, list: &impl Display) {
        let (here, list) = (here.to_string(), list.to_string());
        self.outcome.differs.push(Differs { field, here, list, taken: self.replace });
    }

    /// What was just made known is not also completed.
    fn forget_completed(&mut self, from: usize) {
        self.outcome.completed.truncate(from);
    }
}

impl<'a> Taking<'a> {
    pub(super) fn new(writer: &'a Writer<'a>, replace: bool) -> Self {
        Self { writer, replace, titles: Titles::new(writer), codes: HashSet::new(), layouts: BTreeMap::new() }
    }

    /// Takes one row.
    pub(super) fn row(
        &mut self,
        line: usize,
        entry: &Entry,
        mapping: &Mapping,
        columns: &[String],
    ) -> Result<RowOutcome, StoreError> {
        let mut settling = Settling { replace: self.replace, outcome: RowOutcome::of_line(line) };
        let place = |field: Field| mapping.column(field).and_then(|at| columns.get(at)).cloned();
        if entry.issue.is_none() && !entry.code.is_some_and(is_book) && speaks_of_an_issue(entry) {
            let problem = "the row names no issue, but says what only an issue has".to_owned();
            settling.outcome.problems.push(Problem { column: place(Field::Issue), problem });
            return Ok(settling.outcome);
        }
        let title = match self.titles.of(entry)? {
            Found::Known(title) => self.complete_title(title, entry, &mut settling)?,
            Found::New(title) => {
                settling.outcome.new = Some(RowNew::Title);
                title
            }
            Found::Unclear(field, problem) => {
                settling.outcome.problems.push(Problem { column: place(field), problem });
                return Ok(settling.outcome);
            }
        };
        let code = entry.code.filter(|&code| !is_book(code));
        if let Some(code) = code
            && self.codes.insert((code, title.id))
        {
            self.writer.add_code(code, title.id)?;
        }
        match (&entry.issue, entry.code) {
            (Some(number), _) => self.issue(&title, number, entry, &mut settling)?,
            (None, Some(code)) if is_book(code) => {
                let number = IssueNumber::new(entry.volume.as_deref().unwrap_or_default());
                self.issue(&title, &number, entry, &mut settling)?;
            }
            (None, _) => self.title_facts(&title, entry, &mut settling)?,
        }
        settling.outcome.title = Some(title);
        Ok(settling.outcome)
    }

    /// Gives titles without a layout the one that all their listed codes fit.
    pub(super) fn keep_layouts(&mut self) -> Result<(), StoreError> {
        for (title, layouts) in std::mem::take(&mut self.layouts) {
            if let [layout] = layouts.as_slice()
                && self.writer.title(title)?.layout.is_none()
            {
                self.titles.change(title, &TitleChange { layout: Edit::To(*layout), ..TitleChange::default() })?;
            }
        }
        Ok(())
    }

    fn complete_title(&mut self, title: Title, entry: &Entry, settling: &mut Settling) -> Result<Title, StoreError> {
        let known = |text: &str| Some(text.to_owned()).filter(|text| !search_key(text).is_empty());
        let (mut publisher, mut volume) = (title.publisher.as_deref().and_then(known), known(&title.volume));
        let (mut year, mut layout) = (title.year, title.layout);
        // Where both are known they are the same but for accents and case: otherwise it would be another title.
        if publisher.is_none() {
            settling.settle(Field::Publisher, &mut publisher, entry.publisher.clone());
        }
        if volume.is_none() && !entry.code.is_some_and(is_book) {
            settling.settle(Field::Volume, &mut volume, entry.volume.clone());
        }
        settling.settle(Field::Year, &mut year, entry.year);
        settling.settle(Field::Layout, &mut layout, entry.layout);
        let volume = volume.unwrap_or_default();
        let unchanged =
            publisher == title.publisher && volume == title.volume && (year, layout) == (title.year, title.layout);
        if unchanged {
            return Ok(title);
        }
        let (year, layout) = (year.map_or(Edit::Keep, Edit::To), layout.map_or(Edit::Keep, Edit::To));
        let change = TitleChange { publisher, volume: Some(volume), year, layout, ..TitleChange::default() };
        self.titles.change(title.id, &change)
    }

    fn title_facts(&self, title: &Title, entry: &Entry, settling: &mut Settling) -> Result<(), StoreError> {
        let before = settling.outcome.completed.len();
        let TitleFacts { mut family, mut size, mut pages } = self.writer.title_facts(title.id)?;
        settling.settle(Field::Family, &mut family, entry.issue_facts.family.clone());
        settling.settle(Field::Size, &mut size, entry.issue_facts.size);
        settling.settle(Field::Pages, &mut pages, entry.issue_facts.pages);
        if settling.outcome.new.is_some() {
            settling.forget_completed(before);
        }
        self.writer.set_title_facts(title.id, &TitleFacts { family, size, pages })
    }

    fn issue(
        &mut self,
        title: &Title,
        number: &IssueNumber,
        entry: &Entry,
        settling: &mut Settling,
    ) -> Result<(), StoreError> {
        let known = self.writer.issue_id(title.id, number)?;
        let issue = known.map_or_else(|| self.writer.issue(title.id, number.as_str()), Ok)?;
        if known.is_none() {
            settling.outcome.new = settling.outcome.new.or(Some(RowNew::Issue));
        }
        let before = settling.outcome.completed.len();
        let list = &entry.issue_facts;
        let mut facts = known.map_or(Ok(IssueFacts::default()), |issue| self.writer.issue_facts(issue))?;
        let IssueFacts { cover_date, pages, size, family, key } = &mut facts;
        settling.settle(Field::CoverDate, cover_date, list.cover_date);
        settling.settle(Field::Pages, pages, list.pages);
        settling.settle(Field::Size, size, list.size);
        settling.settle(Field::Family, family, list.family.clone());
        settling.settle(Field::Key, key, list.key.clone());
        if known.is_none() {
            settling.forget_completed(before);
        }
        self.writer.set_issue_facts(issue, &facts)?;
        settling.outcome.issue = Some(number.to_string());
        self.printing(title, issue, number, entry, settling)
    }

    fn printing(
        &mut self,
        title: &Title,
        issue: IssueId,
        number: &IssueNumber,
        entry: &Entry,
        settling: &mut Settling,
    ) -> Result<(), StoreError> {
        let digits = self.digits(title, number, entry);
        let asked = NewPrinting {
            title: title.id,
            issue: number.to_string(),
            cover: entry
                .cover
                .clone()
                .or_else(|| digits.map(|d| d.cover.max(1).to_string()))
                .unwrap_or_else(|| "1".to_owned()),
            printing: entry.printing.or_else(|| digits.map(|d| d.printing.max(1).into())).unwrap_or(1),
            code: entry.code,
            add_on: entry.add_on,
        };
        let of_issue = self.writer.printings_of(issue)?;
        let before = settling.outcome.completed.len();
        let known = same(&of_issue, &asked, entry, digits).cloned();
        let id = match &known {
            Some(known) => self.complete_printing(known, &asked, entry, settling)?,
            None => {
                settling.outcome.new = settling.outcome.new.or(Some(RowNew::Printing));
                self.writer.printing(&asked)?
            }
        };
        let PrintingFacts { mut on_sale, mut cover_price } = self.writer.printing_facts(id)?;
        settling.settle(Field::OnSale, &mut on_sale, entry.printing_facts.on_sale);
        settling.settle(Field::Price, &mut cover_price, entry.printing_facts.cover_price);
        if known.is_none() {
            settling.forget_completed(before);
        }
        self.writer.set_printing_facts(id, &PrintingFacts { on_sale, cover_price })?;
        if matches!(entry.add_on, Some(AddOn::Five(_))) {
            self.writer.mark_listed(id)?;
        }
        settling.outcome.cover = Some(known.as_ref().map_or(asked.cover, |known| known.cover.clone()));
        settling.outcome.printing = Some(known.map_or(asked.printing, |known| known.printing));
        Ok(())
    }

    fn complete_printing(
        &self,
        known: &PrintingOf,
        asked: &NewPrinting,
        entry: &Entry,
        settling: &mut Settling,
    ) -> Result<PrintingId, StoreError> {
        if let (None, Some(code)) = (known.code, asked.code) {
            let written = format!("{}{}", code.printed(), asked.add_on.map(|a| format!(" {a}")).unwrap_or_default());
            settling.outcome.completed.push(Completed { field: Field::Code, list: written });
            self.writer.set_printing_code(known.id, code, asked.add_on)?;
        }
        if let Some(cover) = entry.cover.as_ref().filter(|cover| **cover != known.cover) {
            settling.differs(Field::Cover, &known.cover, cover);
            if self.replace {
                self.writer.set_printing_cover(known.id, cover)?;
            }
        }
        Ok(known.id)
    }

    /// What a five-digit add-on says under the title's layout; where that is not known, under the one layout that fits the
    /// row's issue.
    fn digits(&mut self, title: &Title, number: &IssueNumber, entry: &Entry) -> Option<Reading> {
        let (Some(AddOn::Five(digits)), false) = (entry.add_on, entry.code.is_some_and(is_book)) else { return None };
        if let Some(layout) = title.layout.or(entry.layout) {
            return Some(Reading::new(digits, layout));
        }
        let number = number.whole()?;
        let fits = |layout: &Layout| number % layout.modulus() == Reading::new(digits, *layout).issue;
        let fitting: Vec<Layout> = Layout::ALL.into_iter().filter(fits).collect();
        let [layout] = fitting.as_slice() else { return None };
        let seen = self.layouts.entry(title.id).or_default();
        if !seen.contains(layout) {
            seen.push(*layout);
        }
        Some(Reading::new(digits, *layout))
    }
}

/// Whether a row says what no title has: an add-on, a cover, a date, a price.
fn speaks_of_an_issue(entry: &Entry) -> bool {
    entry.add_on.is_some()
        || entry.cover.is_some()
        || entry.printing.is_some()
        || entry.issue_facts.cover_date.is_some()
        || entry.issue_facts.key.is_some()
        || entry.printing_facts != PrintingFacts::default()
}

/// The printing that a row is about, if it is known: by its code, by cover and printing, or by the cover that its digits say.
fn same<'p>(
    of_issue: &'p [PrintingOf],
    asked: &NewPrinting,
    entry: &Entry,
    digits: Option<Reading>,
) -> Option<&'p PrintingOf> {
    let number = |p: &&PrintingOf| p.printing == asked.printing;
    let cover = |p: &&PrintingOf| p.cover == asked.cover;
    let code = |p: &&PrintingOf| p.code == asked.code && p.add_on == asked.add_on;
    if asked.code.is_none() {
        let named = of_issue.iter().find(|p| number(p) && cover(p));
        // Without a word on covers, any will do.
        return named.or_else(|| of_issue.iter().find(|p| number(p) && entry.cover.is_none()));
    }
    let exact = of_issue.iter().find(|p| code(p) && number(p) && (cover(p) || entry.cover.is_none()));
    let without_code = || of_issue.iter().find(|p| p.code.is_none() && number(p) && cover(p));
    // A cover that has no other name yet than its digits.
    let by_digits = digits.map(|d| d.cover.max(1).to_string());
    let unnamed = || of_issue.iter().find(|p| code(p) && number(p) && Some(&p.cover) == by_digits.as_ref());
    exact.or_else(without_code).or_else(unnamed)
}
