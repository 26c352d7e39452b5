//! Queue to collection.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::{WorkflowError, crop_to};
use crate::code::{AddOn, Certainty, Gtin};
use crate::collection::{Copy, CopyId, Money, PriceParts, TitleId};
use crate::intake::{Item, ItemId, ItemState, RunId, state_of};
use crate::meaning::{Meaning, meaning};
use crate::resolve::{Accepted, Answers, Decision, Outcome, Plan, Question, TitleRef, Verdict, resolve as decide};
use crate::store::{NewPrinting, QueueFilter, RunKind, Store, StoreError, Writer};

/// Which items to resolve.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Select {
    /// All that wait.
    #[default]
    All,
    /// One of them.
    Item(ItemId),
    /// Those that one import or scan staged.
    Run(RunId),
    /// These, as far as they wait. What they are is decided as if all were resolved, because two may be the same book.
    Items(Vec<ItemId>),
}

/// What accepted copies are recorded with.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ResolveOptions {
    /// Which items.
    pub select: Select,
    /// When they were acquired.
    pub acquired: Option<Date>,
    /// Where.
    pub shop: Option<String>,
    /// For how much each.
    pub paid: Option<Money>,
    /// A resolve that this one goes on with, so that both are undone as one.
    pub run: Option<RunId>,
}

/// What a resolve decided and what it asks.
#[derive(Debug, Clone, PartialEq)]
pub struct ResolveReport {
    /// The run, if anything was written.
    pub run: Option<RunId>,
    /// Settled items.
    pub decided: Vec<Decided>,
    /// Items whose title nobody has named yet.
    pub unknown: Vec<ItemId>,
    /// What only a person can know.
    pub open: Vec<Question>,
}

/// A settled item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Decided {
    /// The item.
    pub item: ItemId,
    /// What it turned out to be.
    pub verdict: Verdict,
    /// The copies made of it; none if it was dropped.
    pub copies: Vec<CopyId>,
    /// Why it was dropped.
    pub dropped: Option<&'static str>,
    /// Its code.
    pub code: Option<Gtin>,
    /// Its add-on.
    pub add_on: Option<AddOn>,
    /// Its title's number.
    pub title_id: Option<TitleId>,
    /// Its title.
    pub title: Option<String>,
    /// Its issue; empty for a whole book.
    pub issue: Option<String>,
    /// Its cover.
    pub cover: Option<String>,
    /// Its printing.
    pub printing: Option<u32>,
}

impl Decided {
    /// A decision's item and verdict, nothing more.
    pub(super) fn new(decision: &Decision) -> Self {
        Self {
            item: decision.item,
            verdict: decision.verdict,
            copies: Vec::new(),
            dropped: None,
            code: None,
            add_on: None,
            title_id: None,
            title: None,
            issue: None,
            cover: None,
            printing: None,
        }
    }

    /// With what was accepted, under its title's number (if it has one already) and name.
    pub(super) fn accepted(self, accepted: &Accepted, title_id: Option<TitleId>, title: Option<String>) -> Self {
        Self {
            code: Some(accepted.code),
            add_on: accepted.add_on,
            title_id,
            title,
            issue: Some(accepted.issue.clone()),
            cover: Some(accepted.cover.clone()),
            printing: Some(accepted.printing),
            ..self
        }
    }
}

/// Accepts everything that needs no answer or has one, in one transaction, and asks for the rest. Crops that a question
/// shows are written into `crops`.
///
/// # Errors
/// If an answer can't be used or the collection fails; then nothing was accepted.
pub fn resolve(
    store: &Store,
    answers: &Answers,
    options: &ResolveOptions,
    crops: Option<&Path>,
    now: Timestamp,
) -> Result<ResolveReport, WorkflowError> {
    let mut run = options.run;
    let (mut open, decided, unknown) = store.write(&mut run, RunKind::Resolve, now, |writer| {
        let (items, plan) = planned(writer, &options.select, answers)?;
        let decided = apply(writer, &items, &plan, options)?;
        Ok::<_, WorkflowError>((plan.open, decided, plan.unknown))
    })?;
    if let Some(folder) = crops {
        for question in &mut open {
            show_crop(store, folder, question)?;
        }
    }
    Ok(ResolveReport { run, decided, unknown, open })
}

/// How often each verdict was given, for a summary; unknown titles included.
#[must_use]
pub fn verdict_counts(report: &ResolveReport) -> Vec<(Verdict, usize)> {
    let mut counts: BTreeMap<&str, (Verdict, usize)> = BTreeMap::new();
    let verdicts = report.decided.iter().map(|d| d.verdict);
    for verdict in verdicts.chain(report.unknown.iter().map(|_| Verdict::UnknownTitle)) {
        counts.entry(verdict.words()).or_insert((verdict, 0)).1 += 1;
    }
    counts.into_values().collect()
}

/// The items looked at, and what becomes of those that are selected.
pub(super) fn planned(store: &Store, select: &Select, answers: &Answers) -> Result<(Vec<Item>, Plan), WorkflowError> {
    let items = match select {
        Select::All | Select::Items(_) => store.items(QueueFilter::Open)?,
        Select::Item(item) => vec![store.item(*item)?],
        Select::Run(run) => store.items(QueueFilter::Run(*run))?,
    };
    let mut plan = decide(&items, store, answers)?;
    if let Select::Items(picked) = select {
        plan.keep_only(&picked.iter().copied().collect());
    }
    Ok((items, plan))
}

fn apply(
    writer: &Writer<'_>,
    items: &[Item],
    plan: &Plan,
    options: &ResolveOptions,
) -> Result<Vec<Decided>, StoreError> {
    for (id, code) in &plan.completed {
        if let Some(item) = items.iter().find(|item| item.id == *id) {
            writer.set_code(item, *code, Certainty::Sure, state_of(Some(*code), Certainty::Sure))?;
        }
    }
    let made = plan.titles.iter().map(|title| writer.insert_title(title)).collect::<Result<Vec<_>, _>>()?;
    let id = |title: TitleRef| match title {
        TitleRef::Known(id) => id,
        TitleRef::New(index) => made[index],
    };
    for (title, change) in &plan.changes {
        writer.update_title(*title, change)?;
    }
    for (gtin, title) in &plan.codes {
        writer.add_code(*gtin, id(*title))?;
    }
    plan.decisions.iter().map(|decision| settle(writer, decision, id, options)).collect()
}

fn settle(
    writer: &Writer<'_>,
    decision: &Decision,
    id: impl Fn(TitleRef) -> TitleId,
    options: &ResolveOptions,
) -> Result<Decided, StoreError> {
    let decided = Decided::new(decision);
    match &decision.outcome {
        Outcome::Drop(why) => {
            let code = writer.item(decision.item)?.code;
            writer.set_state(decision.item, ItemState::Dropped)?;
            writer.set_note(decision.item, why)?;
            Ok(Decided {
                dropped: Some(why),
                code: code.map(|code| code.gtin),
                add_on: code.and_then(|code| code.add_on.read()),
                ..decided
            })
        }
        Outcome::Accept(accepted) => {
            let title = writer.title(id(accepted.title))?;
            let copies = accept(writer, decision.item, accepted, title.id, options)?;
            Ok(Decided { copies, ..decided }.accepted(accepted, Some(title.id), Some(title.name)))
        }
    }
}

fn accept(
    writer: &Writer<'_>,
    item: ItemId,
    accepted: &Accepted,
    title: TitleId,
    options: &ResolveOptions,
) -> Result<Vec<CopyId>, StoreError> {
    writer.set_state(item, ItemState::Accepted)?;
    let printing = writer.printing(&NewPrinting {
        title,
        issue: accepted.issue.clone(),
        cover: accepted.cover.clone(),
        printing: accepted.printing,
        code: Some(accepted.code),
        add_on: accepted.add_on,
    })?;
    // What is said now counts before what was said when the stack was scanned.
    let purchase = writer.purchase_of(item)?.unwrap_or_default();
    let printed = match meaning(accepted.code, accepted.add_on, None) {
        Meaning::Book(book) => book.price.and_then(Money::of_cover),
        _ => None,
    };
    let price = PriceParts {
        cover_price: printed.or(purchase.cover_price),
        discount: purchase.discount.filter(|_| options.paid.is_none()),
        ..PriceParts::default()
    };
    let copy = Copy {
        printing,
        acquired: options.acquired.or(purchase.acquired),
        shop: options.shop.clone().or(purchase.shop.clone()),
        paid: options.paid.or_else(|| purchase.paid(printed)),
        item: Some(item),
    };
    let keep = |_| {
        let id = writer.insert_copy(&copy)?;
        writer.set_price_parts(id, &price)?;
        Ok(id)
    };
    (0..accepted.copies).map(keep).collect()
}

fn show_crop(store: &Store, folder: &Path, question: &mut Question) -> Result<(), WorkflowError> {
    let (item, crop) = match question {
        Question::Code(q) => (q.item, &mut q.crop),
        Question::AddOn(q) => (q.item, &mut q.crop),
        Question::Issue(q) => (q.item, &mut q.crop),
        _ => return Ok(()),
    };
    *crop = crop_to(store, folder, item)?.map(|path| path.display().to_string());
    Ok(())
}
