//! A collector's life, week by week: stacks taken in, resolved, read, lent, sold, filed, counted and taken back, through the
//! steps that the command line and the page share; with the invariants of the record looked at along the way by SQL of their
//! own (`checks`). A collection that was lived in is also what other tests damage.

mod books;
mod checks;

use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZeroU32;

use boxward::code::{AddOnState, Certainty, Code, Symbology};
use boxward::collection::{CopyChange, CopyId, Departure, Discount, Edit, Leaving, Money, Purchase, Want, Week};
use boxward::filing::{BoxKind, Item, Make, Purpose};
use boxward::intake::{ItemId, RunId};
use boxward::list::Choices;
use boxward::resolve::{Answers, Question};
use boxward::source::{Origin, Sighting};
use boxward::store::{QueueFilter, Store};
use boxward::workflow::{
    self, BoxChange, Bulk, IssueChange, ListTaking, Named, PlanAsked, PullRequest, PurposeAsked, ResolveOptions,
    Select, Selection, Session, StageOutcome, StockChange, Wanted, WasRead, WorkflowError,
};
use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan};
use serde_json::json;

use crate::workflow_support::{Home, home, upc};
use books::{Book, Dice, name};

/// The first day.
const FIRST_DAY: Date = date(2016, 1, 6);

/// Weeks from an issue to the next.
const WEEKS: u32 = 4;

/// What a scanned book costs: 3.99 less 10 %, rounded half up.
const SCANNED_CENTS: i64 = 359;

/// What a photographed one costs, said when it is resolved.
const PHOTOGRAPHED_CENTS: i64 = 450;

/// Books to be scanned: how many copies of each, and how often they are shown.
type Scanned = Vec<(Book, u32, u32)>;

/// Books to be photographed, and whether there is something about their photo.
type Photographed = Vec<(Book, bool)>;

/// What the collector knows of a copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Kept {
    book: Book,
    cents: i64,
    came: Date,
    read: bool,
    gone: bool,
}

/// A life so far.
pub struct Life {
    pub home: Home,
    dice: Dice,
    books_a_week: usize,
    week: u32,
    next: Vec<u32>,
    copies: BTreeMap<CopyId, Kept>,
    lent: Vec<(CopyId, u32)>,
    missed: Vec<Book>,
    wanted: BTreeSet<Book>,
    waiting: BTreeMap<ItemId, (Book, u32)>,
}

impl Life {
    /// Nothing yet; so many books a week will come.
    pub fn new(seed: u64, books_a_week: usize) -> Self {
        Self {
            home: home(),
            dice: Dice(seed),
            books_a_week,
            week: 0,
            next: vec![1; books_a_week * WEEKS as usize],
            copies: BTreeMap::new(),
            lent: Vec::new(),
            missed: Vec::new(),
            wanted: BTreeSet::new(),
            waiting: BTreeMap::new(),
        }
    }

    fn store(&self) -> &Store {
        &self.home.store
    }

    fn today(&self) -> Date {
        FIRST_DAY.saturating_add(i64::from(self.week).weeks())
    }

    fn now(&self) -> Timestamp {
        jiff::tz::TimeZone::UTC.to_timestamp(self.today().at(18, 30, 0, 0)).unwrap()
    }

    fn bulk(&self) -> Bulk {
        Bulk { dry_run: false, several: true, day: self.today() }
    }

    /// One week.
    pub fn live(&mut self) {
        if self.week == 0 {
            self.settle_in();
        }
        self.year_begins();
        let (scanned, photographed) = self.shop();
        self.scan(&scanned);
        let photos = self.photograph(&photographed);
        if let Some(run) = photos {
            let paid = Some(usd(PHOTOGRAPHED_CENTS));
            self.resolve(&ResolveOptions { select: Select::Run(run), paid, ..ResolveOptions::default() });
        }
        self.resolve(&ResolveOptions::default());
        self.read();
        self.look_after_copies();
        self.lists();
        self.put_away();
        self.second_thoughts();
        if self.week % 13 == 12 {
            self.quarter_ends();
        }
        self.week += 1;
    }

    fn settle_in(&mut self) {
        for (label, purpose) in [("Long 1", Purpose::Rest), ("Spare", Purpose::Spare)] {
            let new = BoxChange {
                label: Some(label.to_owned()),
                kind: Some(BoxKind::Long),
                purpose: Some(PurposeAsked::Known(purpose)),
                ..BoxChange::default()
            };
            workflow::box_add(self.store(), &new, self.now()).unwrap();
        }
    }

    fn year_begins(&mut self) {
        if !self.week.is_multiple_of(52) {
            return;
        }
        workflow::set_month_limit(self.store(), usd(40_000 + i64::from(self.week)), self.now()).unwrap();
        // A list of what nobody here owns.
        let year = self.week / 52;
        let rows: String = (0..20).map(|n| format!("Unowned {year} {n},Salt Lane,{},1,399\n", 2000 + year)).collect();
        let path = self.home.photo(&format!("list-{year}.csv"), &format!("title,publisher,year,issue,price\n{rows}"));
        let taking = ListTaking { save_as: Some("shop".to_owned()), ..ListTaking::default() };
        let choices = Choices { currency: "USD".parse().ok(), ..Choices::default() };
        let report = workflow::list_import(self.store(), &path, &choices, &taking, self.now(), &mut |_| ()).unwrap();
        assert_eq!((report.rows, report.failed), (20, 0));
    }

    /// What the shop has this week: to be scanned (how many copies, how often shown), and to be photographed.
    fn shop(&mut self) -> (Scanned, Photographed) {
        let (mut scanned, mut photographed) = (Vec::new(), Vec::new());
        // Half of the titles begin in the first weeks, the others one by one.
        let begun = self.next.len() / 2 + self.week as usize / 4;
        let due = (0..self.next.len().min(begun)).filter(|title| *title as u32 % WEEKS == self.week % WEEKS);
        let mut books = Vec::new();
        for title in due.collect::<Vec<_>>() {
            let book = Book { title, issue: self.next[title], cover: 1 };
            self.next[title] += 1;
            if self.dice.one_of(30) {
                self.missed.push(book);
            } else {
                books.push(book);
            }
            if self.dice.one_of(50) {
                books.push(Book { cover: 2, ..book });
            }
        }
        // Back issues, until the week is full.
        while books.len() < self.books_a_week {
            let title = self.dice.below(begun.min(self.next.len()));
            let issue = self.next[title];
            self.next[title] += 1;
            books.push(Book { title, issue, cover: 1 });
        }
        if !self.missed.is_empty() && self.dice.one_of(2) {
            let at = self.dice.below(self.missed.len());
            books.push(self.missed.swap_remove(at));
        }
        for book in books {
            match self.dice.below(50) {
                0..5 => photographed.push((book, self.dice.one_of(4))),
                5 => scanned.push((book, 2, 2)),
                6..8 => scanned.push((book, 1, 2)),
                _ => scanned.push((book, 1, 1)),
            }
        }
        (scanned, photographed)
    }

    fn scan(&mut self, books: &[(Book, u32, u32)]) {
        let mut session = Session::new();
        session.set_purchase(Purchase {
            shop: Some("Corner Comics".to_owned()),
            acquired: Some(self.today()),
            cover_price: Some(usd(399)),
            discount: Discount::new(1000),
        });
        let sighting = |code: Code, seen_at| Sighting {
            code: Some(code),
            symbology: Some(Symbology::UpcA),
            certainty: Certainty::Sure,
            origin: Origin::Device { name: "handheld".to_owned() },
            seen_at,
            evidence: None,
        };
        for &(book, copies, shown) in books {
            let code =
                Code { gtin: book.code().parse().unwrap(), add_on: AddOnState::Read(book.add_on().parse().unwrap()) };
            for time in 0..shown {
                let outcome = session.stage(self.store(), &sighting(code, self.now()), self.now()).unwrap();
                assert_eq!(matches!(outcome, StageOutcome::SeenAgain(_)), time > 0, "{book:?}");
                self.waiting.insert(outcome.item(), (book, copies));
            }
        }
        // Something that was no book of the stack: dropped, or taken back.
        let other = Code { gtin: upc(99_999).parse().unwrap(), add_on: AddOnState::Read("00111".parse().unwrap()) };
        session.stage(self.store(), &sighting(other, self.now()), self.now()).unwrap();
        if self.week.is_multiple_of(2) {
            assert!(session.undo_last(self.store()).unwrap().is_some());
        } else {
            assert!(session.drop_last(self.store(), self.now()).unwrap().is_some());
        }
    }

    fn photograph(&mut self, books: &[(Book, bool)]) -> Option<RunId> {
        let lines: Vec<String> = books
            .iter()
            .map(|(book, hidden)| format!("{} {}", book.code(), if *hidden { "~".to_owned() } else { book.add_on() }))
            .collect();
        let path =
            self.home.photo(&format!("week-{}.txt", self.week), &format!("#{}\n{}", self.week, lines.join("\n")));
        let (now, jobs) = (self.now(), std::num::NonZeroUsize::MIN);
        if books.is_empty() {
            return None;
        }
        let summary = workflow::import(
            self.store(),
            &[path],
            &boxward::picture::Limits::default(),
            &crate::workflow_support::read,
            jobs,
            &|| now,
            &mut |_| std::ops::ControlFlow::Continue(()),
        )
        .unwrap();
        let run = summary.run.unwrap();
        // They stand in the queue in the photo's order.
        let mut left: Vec<Book> = books.iter().map(|(book, _)| *book).collect();
        for item in self.store().items(QueueFilter::Run(run)).unwrap() {
            let code = item.code.unwrap();
            let fits = |book: &Book| {
                book.code().parse() == Ok(code.gtin)
                    && code.add_on.read().is_none_or(|add_on| add_on.to_string() == book.add_on())
            };
            let at = left.iter().position(fits).unwrap();
            self.waiting.insert(item.id, (left.remove(at), 1));
        }
        Some(run)
    }

    /// Resolves until nothing is asked any more.
    fn resolve(&mut self, options: &ResolveOptions) {
        let mut answers = Answers::none();
        for _ in 0..6 {
            let options = ResolveOptions { acquired: Some(self.today()), ..options.clone() };
            let report = workflow::resolve(self.store(), &answers, &options, None, self.now()).unwrap();
            for decided in &report.decided {
                let (book, copies) = self.waiting.remove(&decided.item).unwrap();
                assert_eq!(decided.copies.len(), copies as usize, "{decided:?}");
                assert_eq!(decided.title.as_deref(), Some(name(book.title).as_str()));
                assert_eq!(decided.issue.as_deref(), Some(book.issue.to_string().as_str()));
                let cents = options.paid.map_or(SCANNED_CENTS, |paid| paid.minor_units);
                for &copy in &decided.copies {
                    let kept = Kept { book, cents, came: self.today(), read: false, gone: false };
                    assert_eq!(self.copies.insert(copy, kept), None);
                }
            }
            if report.open.is_empty() {
                return;
            }
            answers = self.answers(&report.open);
        }
        panic!("there is no end to what is asked");
    }

    fn answers(&self, open: &[Question]) -> Answers {
        let mut text = String::new();
        for question in open {
            let mut line = serde_json::to_value(question).unwrap();
            let (book, copies) = self.waiting[&question.items()[0]];
            let fields = match question.ask() {
                "title" => json!({
                    "title": name(book.title), "publisher": format!("Publisher {}", book.title % 7),
                    "year": 1990 + book.title % 30, "layout": "IIICP",
                }),
                "add_on" => json!({"add_on": book.add_on()}),
                "code" => json!({"code": format!("{} {}", book.code(), book.add_on())}),
                "repeat" => json!({"copies": copies}),
                "another_copy" => json!({"accept": true}),
                "count" => json!({"means": "as_printed"}),
                other => panic!("nobody expected the question '{other}': {line}"),
            };
            for (field, value) in fields.as_object().unwrap() {
                line[field] = value.clone();
            }
            text.push_str(&format!("{line}\n"));
        }
        Answers::parse(&text).unwrap()
    }

    fn read(&mut self) {
        let unread: Vec<CopyId> =
            self.copies.iter().filter(|(_, kept)| !kept.read && !kept.gone).map(|(id, _)| *id).collect();
        let many = unread.len().saturating_sub(2 * self.books_a_week);
        // By number, and a few by name.
        let what: Vec<WasRead> = unread[..many].iter().map(|copy| WasRead::Copy(*copy)).collect();
        if what.is_empty() {
            return;
        }
        let (read, run) = workflow::pile_read(self.store(), &what, self.today(), self.now()).unwrap();
        assert_eq!((read.len(), run.is_some()), (many, true));
        for copy in read {
            self.copies.get_mut(&copy.copy).unwrap().read = true;
        }
    }

    /// Any copy that is here.
    fn any(&mut self) -> CopyId {
        loop {
            let at = self.dice.below(self.copies.len());
            let (id, kept) = self.copies.iter().nth(at).unwrap();
            if !kept.gone && self.lent.iter().all(|(lent, _)| lent != id) {
                return *id;
            }
        }
    }

    fn look_after_copies(&mut self) {
        let copies: Vec<CopyId> = (0..3).map(|_| self.any()).collect();
        let change = CopyChange {
            condition: Edit::To("9.4".parse().unwrap()),
            bag: Edit::To("polypropylene".parse().unwrap()),
            board: Edit::To("acid-free".parse().unwrap()),
            ..CopyChange::default()
        };
        workflow::copy_set(self.store(), &numbers(&copies), &change, &Edit::Keep, self.bulk(), self.now()).unwrap();
        if self.week.is_multiple_of(3) {
            let copy = self.any();
            let cents = 100 + i64::from(self.week);
            let change = CopyChange { paid: Edit::To(usd(cents)), ..CopyChange::default() };
            workflow::copy_set(self.store(), &numbers(&[copy]), &change, &Edit::Keep, self.bulk(), self.now()).unwrap();
            self.copies.get_mut(&copy).unwrap().cents = cents;
            let copy = self.any();
            workflow::copy_lend(self.store(), &numbers(&[copy]), "Bo Fenn", self.bulk(), self.now()).unwrap();
            self.lent.push((copy, self.week + 5));
        }
        let (back, out): (Vec<_>, Vec<_>) = self.lent.iter().copied().partition(|(_, week)| *week <= self.week);
        self.lent = out;
        for (copy, _) in back {
            workflow::copy_returned(self.store(), &numbers(&[copy]), self.bulk(), self.now()).unwrap();
        }
        if self.week % 4 == 3 {
            let copy = self.any();
            let how = [Leaving::Sold, Leaving::Given, Leaving::Traded, Leaving::Lost][self.dice.below(4)];
            let price = (how == Leaving::Sold).then(|| usd(500));
            let gone = Departure { how, on: self.today(), price, to: Some("Ada Quill".to_owned()) };
            workflow::copy_leave(self.store(), &numbers(&[copy]), &gone, self.bulk(), self.now()).unwrap();
            self.copies.get_mut(&copy).unwrap().gone = true;
        }
    }

    /// What is expected and wanted.
    fn lists(&mut self) {
        let this_week = Week::of(self.today());
        if self.week % 10 == 8 {
            let title = self.dice.below(self.next.len() / 2);
            let request = PullRequest { named: named(&name(title)), due: None, every: Some(WEEKS), new: None };
            workflow::pull_add(self.store(), &request, self.today(), self.now()).unwrap();
            let expected = workflow::pull_list(self.store(), this_week, None).unwrap();
            assert!(expected.iter().any(|due| due.title.name == name(title)), "{title}");
            if self.week % 20 == 8 {
                workflow::pull_drop(self.store(), &named(&name(title)), self.now()).unwrap();
            }
        }
        let check = workflow::pull_check(self.store(), this_week).unwrap();
        assert_eq!(check.unknown, []);
        if let Some(&book) = self.missed.last()
            && self.copies.values().any(|kept| kept.book.title == book.title)
            && !self.owned().contains(&(book.title, book.issue))
        {
            let want = Want { up_to: Some(usd(900)), ..Want::default() };
            workflow::want_add(self.store(), &Wanted::Issues(named(&book.words()), None), &want, self.now()).unwrap();
            self.wanted.insert(book);
        }
        let owned = self.owned();
        let expected = self.wanted.iter().filter(|book| !owned.contains(&(book.title, book.issue))).count();
        assert_eq!(workflow::want_list(self.store(), false).unwrap().len(), expected);
        if self.wanted.len() > 5
            && let Some(book) = self.wanted.pop_first()
        {
            workflow::want_drop(self.store(), &named(&book.words()), self.now()).unwrap();
        }
    }

    fn owned(&self) -> BTreeSet<(usize, u32)> {
        let held = self.copies.values().filter(|kept| !kept.gone);
        held.map(|kept| (kept.book.title, kept.book.issue)).collect()
    }

    fn put_away(&mut self) {
        let walk = workflow::file_plan(self.store(), &PlanAsked::default(), self.now()).unwrap();
        let first = walk.sheet.boxes.first().map(|shelf| shelf.label.clone());
        // Now and then only one box is done before bed.
        let label = first.filter(|_| self.week % 5 == 4);
        match workflow::file_done(self.store(), label.as_deref(), self.now()) {
            Ok(_) | Err(WorkflowError::NothingToFile(_)) => {}
            Err(error) => panic!("{error}"),
        }
        if label.is_some() {
            let rest = workflow::file_plan(self.store(), &PlanAsked::default(), self.now()).unwrap();
            if rest.goes_on {
                workflow::file_done(self.store(), None, self.now()).unwrap();
            }
        }
    }

    /// Something is done, thought better of, and what was taken back may come again.
    fn second_thoughts(&mut self) {
        let copy = self.any();
        let sold = Departure { how: Leaving::Sold, on: self.today(), price: None, to: None };
        workflow::copy_leave(self.store(), &numbers(&[copy]), &sold, self.bulk(), self.now()).unwrap();
        workflow::undo(self.store(), None, self.now()).unwrap();
        if self.week % 8 == 5 {
            let undone = workflow::undo(self.store(), None, self.now()).unwrap();
            workflow::undo(self.store(), Some(undone.undo.id), self.now()).unwrap();
        }
    }

    fn quarter_ends(&mut self) {
        let boxes = workflow::box_list(self.store()).unwrap();
        let used = boxes.iter().find(|fill| fill.copies > 0).unwrap();
        let um = u64::from(used.copies) * 3_050;
        let label = Some(used.shelf.label.as_str());
        workflow::filing_measure(self.store(), label, None, Make::default(), um, self.today(), self.now()).unwrap();
        let change = BoxChange { note: Some(format!("week {}", self.week)), ..BoxChange::default() };
        workflow::box_set(self.store(), &used.shelf.label, &change, self.now()).unwrap();
        let stock = StockChange { on_hand: Some(self.week), pack: Some(100), pack_price: Some(usd(1_299)) };
        workflow::stock_set(self.store(), Item::Dividers, &stock, self.now()).unwrap();
        workflow::supplies(self.store(), 4, self.today()).unwrap();
        let pages = IssueChange { pages: Edit::To(32), ..IssueChange::default() };
        let copy = self.any();
        let book = self.copies[&copy].book;
        workflow::catalogue_set(self.store(), &book.words(), &pages, self.now()).unwrap();
        let folder = self.home.folder.path().join("backups");
        workflow::backup(self.store(), &folder, NonZeroU32::new(2).unwrap(), self.now()).unwrap();
    }
}

fn usd(minor_units: i64) -> Money {
    Money { minor_units, currency: "USD".parse().unwrap() }
}

fn numbers(copies: &[CopyId]) -> Selection {
    Selection { copies: copies.to_vec(), ..Selection::default() }
}

fn named(words: &str) -> Named {
    Named::new(&[words.to_owned()])
}
