//! From waiting items to decisions and open questions.

use super::Answers;
use super::answers::{Fault, typed_add_on, typed_code};
use super::desk::{Desk, Found, answer, stale};
use super::plan::{Accepted, Decision, Lookup, Outcome, Plan, ResolveError, Resolved, TitleRef, Verdict};
use super::question::{
    AddOnQuestion, AnotherCopyQuestion, BookQuestion, CodeQuestion, KeepQuestion, Question, RepeatQuestion,
};
use crate::code::{AddOn, AddOnState, Certainty, Code, Gtin, PrefixKind, prefix_kind};
use crate::collection::{Currency, IssueNumber, Money, NewTitle, Owned, issue_number};
use crate::intake::Item;
use crate::meaning::Book;
use crate::source::Origin;

/// Decides what can be decided about `items` (those that are open), and asks for the rest.
///
/// # Errors
/// If an answer does not fit its item, or the collection can't be read.
pub fn resolve<L: Lookup>(items: &[Item], lookup: &L, answers: &Answers) -> Result<Plan, ResolveError<L::Error>> {
    let mut desk = Desk::new(lookup, answers);
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

impl<L: Lookup> Desk<'_, L> {
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

    /// The item's code if it is certain, from the reading or from a person; else it is asked for.
    fn code(&mut self, item: &Item) -> Resolved<Option<Code>, L::Error> {
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

    fn decide(&mut self, item: &Item, code: Code) -> Resolved<(), L::Error> {
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

    fn is_kept(&mut self, item: &Item, code: Code, kind: PrefixKind) -> Resolved<bool, L::Error> {
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
    fn add_on(&mut self, item: &Item, code: Code) -> Resolved<Option<Code>, L::Error> {
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
    fn copies(&mut self, item: &Item) -> Resolved<Option<u32>, L::Error> {
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

    fn book(&mut self, item: &Item, code: Code) -> Resolved<(), L::Error> {
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

    fn accept(&mut self, item: &Item, accepted: Accepted) -> Resolved<(), L::Error> {
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
