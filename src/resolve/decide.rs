//! From waiting items to decisions and open questions.

use std::collections::HashMap;

use super::answers::{Fault, typed_add_on, typed_code};
use super::count::{Count, count};
use super::known::Titles;
use super::plan::{Accepted, Decision, Listed, Lookup, Outcome, Plan, TitleRef, Verdict};
use super::question::{
    AddOnQuestion, AnotherCopyQuestion, BookQuestion, CodeQuestion, CountQuestion, IssueQuestion, KeepQuestion,
    LayoutQuestion, Means, Question, RepeatQuestion, TitleQuestion, WhichQuestion,
};
use super::{AnswerError, Answers};
use crate::code::{AddOn, AddOnState, Certainty, Code, Gtin, PrefixKind, prefix_kind};
use crate::collection::{Currency, IssueNumber, Money, NewTitle, Owned, issue_number};
use crate::intake::{Item, ItemId};
use crate::meaning::{Book, Reading};
use crate::source::Origin;

/// Why nothing could be decided.
#[derive(Debug, thiserror::Error)]
pub enum ResolveError<E> {
    /// An answer can't be used.
    #[error(transparent)]
    Answer(#[from] AnswerError),
    /// The collection can't be read.
    #[error("the collection can't be read")]
    Lookup(#[source] E),
}

type Result<T, E> = std::result::Result<T, ResolveError<E>>;

/// Decides what can be decided about `items` (those that are open), and asks for the rest.
///
/// # Errors
/// If an answer does not fit its item, or the collection can't be read.
pub fn resolve<L: Lookup>(items: &[Item], lookup: &L, answers: &Answers) -> Result<Plan, L::Error> {
    let mut desk = Desk {
        lookup,
        answers,
        titles: Titles::new(lookup),
        plan: Plan::default(),
        named: HashMap::new(),
        accepted: HashMap::new(),
        groups: HashMap::new(),
    };
    let mut coded = Vec::new();
    for item in items.iter().filter(|item| item.state.is_open()) {
        if desk.is_second_tier_of_a_book(item, items) {
            desk.drop_item(item, "the price symbol under a book's own");
        } else if let Some(code) = desk.code(item)? {
            coded.push((item, code));
        }
    }
    // Named titles first: an answer for one item then settles every other of the same code, whatever their order.
    for (item, code) in &coded {
        desk.name_title(item, *code)?;
    }
    for (item, code) in coded {
        desk.decide(item, code)?;
    }
    let Desk { titles, mut plan, .. } = desk;
    titles.into_plan(&mut plan);
    // First what one answer settles for many items, last what takes a look at a picture.
    plan.open.sort_by_key(|question| match question {
        Question::Title(_) | Question::Book(_) | Question::Which(_) | Question::Keep(_) => 0,
        Question::Layout(_) | Question::Count(_) | Question::Issue(_) => 1,
        Question::Repeat(_) | Question::AnotherCopy(_) => 2,
        Question::AddOn(_) | Question::Code(_) => 3,
    });
    Ok(plan)
}

/// What is on the desk while one stack is resolved.
struct Desk<'a, L: Lookup> {
    lookup: &'a L,
    answers: &'a Answers,
    titles: Titles<'a, L>,
    plan: Plan,
    /// The titles that answers named, by item.
    named: HashMap<ItemId, TitleRef>,
    /// What this stack adds, so that its second copy of a book is known as such.
    accepted: HashMap<(TitleRef, IssueNumber), Vec<Owned>>,
    /// Where in the open questions a group's question stands.
    groups: HashMap<(&'static str, u64), usize>,
}

/// Which printing an item is of.
struct Found {
    title: TitleRef,
    issue: String,
    cover: String,
    printing: u32,
}

/// The answer of a kind to an item's question, if there is one.
macro_rules! answer {
    ($desk:expr, $kind:ident, $ask:literal, $item:expr) => {
        match $desk.answers.get($ask, $item.id) {
            Some((line, Question::$kind(answer))) => Some((line, answer)),
            _ => None,
        }
    };
}

impl<'a, L: Lookup> Desk<'a, L> {
    fn is_second_tier_of_a_book(&self, item: &Item, items: &[Item]) -> bool {
        let kind = |item: &Item| item.code.map(|code| prefix_kind(code.gtin));
        let photo = |item: &Item| match item.origin {
            Origin::Photo { sha256, .. } => Some(sha256),
            Origin::Device { .. } | Origin::Typed => None,
        };
        kind(item) == Some(PrefixKind::JapaneseSecondTier)
            && photo(item).is_some()
            && items.iter().any(|other| photo(other) == photo(item) && kind(other) == Some(PrefixKind::Isbn))
    }

    fn drop_item(&mut self, item: &Item, why: &'static str) {
        let decision = Decision { item: item.id, verdict: Verdict::NotAComic, outcome: Outcome::Drop(why) };
        self.plan.decisions.push(decision);
    }

    /// The item's code if it is certain, from the reading or from a person; else it is asked for.
    fn code(&mut self, item: &Item) -> Result<Option<Code>, L::Error> {
        if let Some(code) = item.code
            && item.certainty == Certainty::Sure
        {
            return Ok(Some(code));
        }
        let Some((line, answer)) = answer!(self, Code, "code", item) else {
            self.plan.open.push(Question::Code(CodeQuestion {
                item: item.id,
                crop: None,
                read: item.code.map(written),
                code: None,
                drop: None,
            }));
            return Ok(None);
        };
        if answer.drop == Some(true) {
            self.drop_item(item, "no book to record");
            return Ok(None);
        }
        if answer.read.is_some() && answer.read != item.code.map(written) {
            return Err(stale(line, "read", item).into());
        }
        let Some(text) = &answer.code else { return Ok(None) };
        let (gtin, add_on) = typed_code(text).map_err(|problem| Fault::new("code", problem).at(line))?;
        let add_on = match (add_on, item.code) {
            (Some(add_on), _) => AddOnState::Read(add_on),
            // Only the main code was typed: what was seen beside it stands, unless it was seen beside another.
            (None, Some(seen)) if seen.gtin == gtin => seen.add_on,
            (None, _) => AddOnState::Unread,
        };
        let code = Code { gtin, add_on };
        self.plan.completed.push((item.id, code));
        Ok(Some(code))
    }

    /// Uses an answer that names the title of the item's code.
    fn name_title(&mut self, item: &Item, code: Code) -> Result<(), L::Error> {
        let Some((line, answer)) = answer!(self, Title, "title", item) else { return Ok(()) };
        if answer.code.is_some_and(|told| told != code.gtin) {
            return Err(stale(line, "code", item).into());
        }
        let (false, Some(name)) = (answer.keep == Some(false), &answer.title) else { return Ok(()) };
        let new = NewTitle {
            publisher: answer.publisher.clone(),
            name: name.clone(),
            volume: answer.volume.clone().unwrap_or_default(),
            year: answer.year,
            layout: answer.layout,
            issue_base: answer.issue_base.unwrap_or(0),
        };
        let title = self.titles.find_or_make(new, line)?;
        self.named.insert(item.id, title);
        self.titles.stands_for(code.gtin, title)
    }

    fn decide(&mut self, item: &Item, code: Code) -> Result<(), L::Error> {
        match prefix_kind(code.gtin) {
            PrefixKind::Isbn => return self.book(item, code),
            PrefixKind::General | PrefixKind::Example | PrefixKind::Issn => {}
            other => {
                if self.titles.of_code(code.gtin)?.is_empty() && !self.is_kept(item, code, other)? {
                    return Ok(());
                }
            }
        }
        if answer!(self, Title, "title", item).is_some_and(|(_, answer)| answer.keep == Some(false)) {
            self.drop_item(item, "not a comic");
            return Ok(());
        }
        // Whatever can be asked now is asked now, so that one round of answers settles the item.
        let complete = self.add_on(item, code)?;
        let copies = self.copies(item)?;
        let listed = match complete {
            Some(code) => self.listed(item, code)?,
            None => None,
        };
        let found = match listed {
            Some(found) => found,
            None => {
                let title = self.title(item, complete.unwrap_or(code))?;
                complete.zip(title).map(|(code, title)| self.issue(item, code, title)).transpose()?.flatten()
            }
        };
        let (Some(code), Some(Found { title, issue, cover, printing })) = (complete, found) else { return Ok(()) };
        let Some(copies) = copies else { return Ok(()) };
        let add_on = code.add_on.read();
        self.accept(item, Accepted { title, issue, cover, printing, code: code.gtin, add_on, copies })
    }

    fn is_kept(&mut self, item: &Item, code: Code, kind: PrefixKind) -> Result<bool, L::Error> {
        match answer!(self, Keep, "keep", item) {
            Some((line, answer)) if answer.code.is_some_and(|told| told != code.gtin) => {
                Err(stale(line, "code", item).into())
            }
            Some((_, answer)) if answer.keep == Some(true) => Ok(true),
            Some(_) => {
                self.drop_item(item, kind_words(kind));
                Ok(false)
            }
            None => {
                let group = self.group("keep", code.gtin.number(), || {
                    let kind = kind_words(kind).to_owned();
                    Question::Keep(KeepQuestion { items: Vec::new(), code: Some(code.gtin), kind, keep: None })
                });
                if let Question::Keep(question) = group {
                    question.items.push(item.id);
                }
                Ok(false)
            }
        }
    }

    /// The code with its add-on known, or `None` if it is asked for.
    fn add_on(&mut self, item: &Item, code: Code) -> Result<Option<Code>, L::Error> {
        if code.add_on != AddOnState::Unread {
            return Ok(Some(code));
        }
        let Some((line, answer)) = answer!(self, AddOn, "add_on", item) else {
            let code = Some(code.gtin);
            self.plan.open.push(Question::AddOn(AddOnQuestion { item: item.id, crop: None, code, add_on: None }));
            return Ok(None);
        };
        if answer.code.is_some_and(|told| told != code.gtin) {
            return Err(stale(line, "code", item).into());
        }
        let text = answer.add_on.as_deref().unwrap_or_default();
        let code = Code { gtin: code.gtin, add_on: typed_add_on(text).map_err(|fault| fault.at(line))? };
        self.plan.completed.retain(|(id, _)| *id != item.id);
        self.plan.completed.push((item.id, code));
        Ok(Some(code))
    }

    /// How many copies the item is, or `None` if that is asked.
    fn copies(&mut self, item: &Item) -> Result<Option<u32>, L::Error> {
        if item.seen_again.is_empty() {
            return Ok(Some(1));
        }
        if let Some((_, answer)) = answer!(self, Repeat, "repeat", item) {
            return Ok(answer.copies);
        }
        let where_seen = |r: &crate::intake::Repeat| r.path.as_ref().map(|p| p.display().to_string());
        self.plan.open.push(Question::Repeat(RepeatQuestion {
            item: item.id,
            code: item.code.map(|c| c.gtin),
            add_on: item.code.and_then(|c| c.add_on.read()).map(|a| a.to_string()),
            seen_again: item
                .seen_again
                .iter()
                .map(|r| where_seen(r).unwrap_or_else(|| r.seen_at.to_string()))
                .collect(),
            copies: None,
        }));
        Ok(None)
    }

    /// What a list says of the item's digits, which is more than the digits say; `None` if no list has them, or several
    /// titles have them and nobody has said which it is. Of several covers or issues of one title a person says which.
    fn listed(&mut self, item: &Item, code: Code) -> Result<Option<Option<Found>>, L::Error> {
        let AddOnState::Read(add_on @ AddOn::Five(_)) = code.add_on else { return Ok(None) };
        let is_answered = |ask| self.answers.get(ask, item.id).is_some();
        if ["title", "layout", "count"].into_iter().any(is_answered) {
            return Ok(None);
        }
        let mut found = self.lookup.listed(code.gtin, add_on).map_err(ResolveError::Lookup)?;
        if let Some((_, answer)) = answer!(self, Which, "which", item) {
            let is_stale = answer.code.is_some_and(|told| told != code.gtin);
            found.retain(|listed| Some(listed.title.id) == answer.title && !is_stale);
        }
        if found.windows(2).any(|two| two[0].title.id != two[1].title.id) {
            return Ok(None);
        }
        let several = found.len() > 1;
        let Some(Listed { title, issue, cover, printing }) = found.pop() else { return Ok(None) };
        let title = self.titles.known(title);
        let found =
            if several { self.asked_issue(item, code, title) } else { Some(Found { title, issue, cover, printing }) };
        Ok(Some(found))
    }

    /// The title that the item's code stands for, or `None` if it is asked for.
    fn title(&mut self, item: &Item, code: Code) -> Result<Option<TitleRef>, L::Error> {
        if let Some(&title) = self.named.get(&item.id) {
            return Ok(Some(title));
        }
        let gtin = code.gtin;
        let add_on = code.add_on.read().map(|add_on| add_on.to_string());
        match *self.titles.of_code(gtin)? {
            [] => {
                self.plan.unknown.push(item.id);
                let proposals = self.titles.neighbours(gtin, &self.groups)?;
                let group = self.group("title", gtin.number(), || Question::Title(title_question(gtin, proposals)));
                if let Question::Title(question) = group {
                    question.items.push(item.id);
                    question.add_ons.extend(add_on);
                }
                Ok(None)
            }
            [title] => Ok(Some(title)),
            _ => self.which(item, gtin, add_on),
        }
    }

    fn which(&mut self, item: &Item, gtin: Gtin, add_on: Option<String>) -> Result<Option<TitleRef>, L::Error> {
        let candidates = self.titles.of_code(gtin)?.to_vec();
        if let Some((line, answer)) = answer!(self, Which, "which", item) {
            if answer.code.is_some_and(|told| told != gtin) {
                return Err(stale(line, "code", item).into());
            }
            return match answer.title.map(TitleRef::Known) {
                Some(title) if candidates.contains(&title) => Ok(Some(title)),
                Some(_) => Err(Fault::new("title", format!("no title of code {gtin} has this number")).at(line).into()),
                None => {
                    let like = candidates[candidates.len() - 1];
                    let title = self.titles.new_volume(like, answer.volume.as_deref(), answer.year, line)?;
                    self.titles.will_stand_for(gtin, title);
                    Ok(Some(title))
                }
            };
        }
        let titles = candidates.iter().map(|&t| self.titles.shown(t)).collect::<Result<Vec<_>, _>>()?;
        let group = self.group("which", gtin.number(), || {
            Question::Which(WhichQuestion {
                items: Vec::new(),
                code: Some(gtin),
                add_ons: Vec::new(),
                titles: titles.into_iter().flatten().collect(),
                title: None,
                volume: None,
                year: None,
            })
        });
        if let Question::Which(question) = group {
            question.items.push(item.id);
            question.add_ons.extend(add_on);
        }
        Ok(None)
    }

    /// Title, issue, cover and printing, or `None` if something is asked. The title changes if a new volume begins.
    fn issue(&mut self, item: &Item, code: Code, title: TitleRef) -> Result<Option<Found>, L::Error> {
        let AddOnState::Read(AddOn::Five(digits)) = code.add_on else { return Ok(self.asked_issue(item, code, title)) };
        let layout = match (self.titles.get(title).layout, answer!(self, Layout, "layout", item)) {
            (Some(layout), _) => layout,
            (None, Some((_, LayoutQuestion { layout: Some(layout), .. }))) => {
                self.titles.set_layout(title, *layout);
                *layout
            }
            (None, _) => {
                let name = self.titles.get(title).name.clone();
                let group = self.group("layout", title_key(title), || {
                    let (items, add_ons) = (Vec::new(), Vec::new());
                    Question::Layout(LayoutQuestion { items, title: name, add_ons, layout: None })
                });
                if let Question::Layout(question) = group {
                    question.items.push(item.id);
                    question.add_ons.extend(code.add_on.read().map(|a| a.to_string()));
                }
                return Ok(None);
            }
        };
        let reading = Reading::new(digits, layout);
        let Some((title, number)) = self.number(item, title, code.gtin, reading)? else { return Ok(None) };
        // A 0 for cover or printing is none: publishers leave the digit unset (common practice).
        let (cover, printing) = (reading.cover.max(1).to_string(), u32::from(reading.printing.max(1)));
        Ok(Some(Found { title, issue: number.to_string(), cover, printing }))
    }

    fn asked_issue(&mut self, item: &Item, code: Code, title: TitleRef) -> Option<Found> {
        if let Some((_, answer)) = answer!(self, Issue, "issue", item) {
            let issue = issue_number(answer.issue.as_deref().unwrap_or_default());
            let cover = answer.cover.as_deref().map_or_else(|| "1".to_owned(), issue_number);
            return Some(Found { title, issue, cover, printing: answer.printing.unwrap_or(1) });
        }
        self.plan.open.push(Question::Issue(IssueQuestion {
            item: item.id,
            crop: None,
            title: self.titles.get(title).name.clone(),
            code: Some(code.gtin),
            add_on: code.add_on.read().map(|a| a.to_string()),
            issue: None,
            cover: None,
            printing: None,
        }));
        None
    }

    fn number(
        &mut self,
        item: &Item,
        title: TitleRef,
        gtin: Gtin,
        reading: Reading,
    ) -> Result<Option<(TitleRef, u32)>, L::Error> {
        let highest = self.titles.highest(title)?;
        let (printed, counted_on, base) = match count(reading, self.titles.get(title).issue_base, highest) {
            Count::Clear(number) => return Ok(Some((title, number))),
            Count::Unclear { printed, counted_on, base } => (printed, counted_on, base),
        };
        if let Some((line, answer)) = answer!(self, Count, "count", item) {
            return match answer.means {
                Some(Means::CountsOn) => {
                    self.titles.will_count_from(title, base);
                    Ok(Some((title, counted_on)))
                }
                Some(Means::NewVolume) => {
                    let title = self.titles.new_volume(title, answer.volume.as_deref(), answer.year, line)?;
                    self.titles.will_stand_for(gtin, title);
                    Ok(Some((title, reading.issue)))
                }
                Some(Means::AsPrinted) | None => Ok(Some((title, printed))),
            };
        }
        let name = self.titles.get(title).name.clone();
        let group = self.group("count", title_key(title), || {
            Question::Count(CountQuestion {
                items: Vec::new(),
                title: name,
                highest,
                printed: Vec::new(),
                counted_on: Vec::new(),
                means: None,
                volume: None,
                year: None,
            })
        });
        if let Question::Count(question) = group {
            question.items.push(item.id);
            question.printed.push(printed);
            question.counted_on.push(counted_on);
        }
        Ok(None)
    }

    fn book(&mut self, item: &Item, code: Code) -> Result<(), L::Error> {
        let add_on = code.add_on.read();
        if answer!(self, Book, "book", item).is_some_and(|(_, answer)| answer.keep == Some(false)) {
            self.drop_item(item, "not for the collection");
            return Ok(());
        }
        let copies = self.copies(item)?;
        let (title, issue) = if let Some((line, answer)) = answer!(self, Book, "book", item) {
            if answer.code.is_some_and(|told| told != code.gtin) {
                return Err(stale(line, "code", item).into());
            }
            let new = NewTitle {
                publisher: answer.publisher.clone(),
                name: answer.title.clone().unwrap_or_default(),
                year: answer.year,
                ..NewTitle::default()
            };
            (self.titles.find_or_make(new, line)?, issue_number(answer.volume.as_deref().unwrap_or_default()))
        } else if let Some((title, issue)) = self.lookup.book(code.gtin).map_err(ResolveError::Lookup)? {
            (self.titles.known(title), issue)
        } else if let Some(found) = self.titles.book(code.gtin) {
            found
        } else {
            self.plan.unknown.push(item.id);
            let group = self.group("book", code.gtin.number(), || Question::Book(book_question(code.gtin, add_on)));
            if let Question::Book(question) = group {
                question.items.push(item.id);
            }
            return Ok(());
        };
        self.titles.keep_book(code.gtin, title, issue.clone());
        let Some(copies) = copies else { return Ok(()) };
        let (cover, printing) = ("1".to_owned(), 1);
        self.accept(item, Accepted { title, issue, cover, printing, code: code.gtin, add_on, copies })
    }

    fn accept(&mut self, item: &Item, accepted: Accepted) -> Result<(), L::Error> {
        let key = (accepted.title, IssueNumber::new(&accepted.issue));
        let mut owned = match accepted.title {
            TitleRef::Known(id) => self.lookup.owned(id, &accepted.issue).map_err(ResolveError::Lookup)?,
            TitleRef::New(_) => Vec::new(),
        };
        owned.extend(self.accepted.get(&key).into_iter().flatten().cloned());
        let same = |o: &&Owned| o.cover == accepted.cover && o.printing == accepted.printing;
        let copies_owned = owned.iter().filter(same).map(|o| o.copies).sum();
        let verdict = if copies_owned > 0 {
            match answer!(self, AnotherCopy, "another_copy", item).and_then(|(_, answer)| answer.accept) {
                Some(true) => Verdict::AnotherCopy,
                Some(false) => {
                    let outcome = Outcome::Drop("seen before");
                    self.plan.decisions.push(Decision { item: item.id, verdict: Verdict::AnotherCopy, outcome });
                    return Ok(());
                }
                None => {
                    self.plan.open.push(Question::AnotherCopy(AnotherCopyQuestion {
                        item: item.id,
                        title: self.titles.get(accepted.title).name.clone(),
                        issue: accepted.issue,
                        cover: accepted.cover,
                        printing: accepted.printing,
                        owned: copies_owned,
                        accept: None,
                    }));
                    return Ok(());
                }
            }
        } else if owned.is_empty() {
            Verdict::New
        } else if owned.iter().any(|o| o.cover == accepted.cover) {
            Verdict::AnotherPrinting
        } else {
            Verdict::AnotherCover
        };
        self.accepted.entry(key).or_default().push(Owned {
            cover: accepted.cover.clone(),
            printing: accepted.printing,
            code: Some(accepted.code),
            add_on: accepted.add_on,
            copies: accepted.copies,
        });
        self.plan.decisions.push(Decision { item: item.id, verdict, outcome: Outcome::Accept(accepted) });
        Ok(())
    }

    /// The open question of a group, made when its first item needs it.
    fn group(&mut self, ask: &'static str, key: u64, make: impl FnOnce() -> Question) -> &mut Question {
        let open = &mut self.plan.open;
        let index = *self.groups.entry((ask, key)).or_insert_with(|| {
            open.push(make());
            open.len() - 1
        });
        &mut self.plan.open[index]
    }
}

fn title_key(title: TitleRef) -> u64 {
    match title {
        TitleRef::Known(id) => id.number().cast_unsigned() << 1,
        TitleRef::New(index) => ((index as u64) << 1) | 1,
    }
}

fn title_question(gtin: Gtin, proposals: Vec<super::KnownTitle>) -> TitleQuestion {
    TitleQuestion {
        items: Vec::new(),
        code: Some(gtin),
        add_ons: Vec::new(),
        proposals,
        title: None,
        publisher: None,
        volume: None,
        year: None,
        layout: None,
        issue_base: None,
        keep: None,
    }
}

fn book_question(gtin: Gtin, add_on: Option<AddOn>) -> BookQuestion {
    let book = Book::new(gtin, add_on);
    let cover_price = book.price.and_then(|price| {
        let currency: Currency = price.currency.code().parse().ok()?;
        Some(Money { minor_units: price.minor_units.into(), currency })
    });
    BookQuestion {
        items: Vec::new(),
        code: Some(gtin),
        isbn: Some(book.isbn),
        cover_price,
        title: None,
        publisher: None,
        volume: None,
        year: None,
        keep: None,
    }
}

/// A code as a person reads it off the paper.
fn written(code: Code) -> String {
    match code.add_on {
        AddOnState::Read(add_on) => format!("{} {add_on}", code.gtin),
        AddOnState::Absent | AddOnState::Unread => code.gtin.to_string(),
    }
}

/// The answer was given about another code: the item was completed or undone since the question was printed.
fn stale(line: usize, field: &str, item: &Item) -> AnswerError {
    let problem = format!("item {} has another code by now; print the questions again", item.id);
    Fault::new(field, problem).at(line)
}

fn kind_words(kind: PrefixKind) -> &'static str {
    match kind {
        PrefixKind::InStore => "for use inside one company",
        PrefixKind::Coupon => "a coupon or receipt",
        PrefixKind::JapaneseSecondTier => "the price symbol of a Japanese book",
        PrefixKind::Ismn => "printed music",
        PrefixKind::Isbn => "a book",
        PrefixKind::Issn => "a serial",
        PrefixKind::Example | PrefixKind::General => "a product",
    }
}
