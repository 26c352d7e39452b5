//! The walk that puts copies away: planned, printed, booked box by box, and gone on with tomorrow.

use std::cell::Cell;
use std::collections::HashSet;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::coming::coming;
use super::names::Naming;
use super::wall::{self, Known};
use crate::filing::{Book, BoxId, Place, Plan, PlannedBox, Sheet, ShelfBox, plan};
use crate::intake::RunId;
use crate::store::{RunKind, Store, StoreError, Writer};
use crate::workflow::WorkflowError;

/// What to plan.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PlanAsked {
    /// Everything anew, instead of moving as few copies as possible.
    pub wall: bool,
    /// How full boxes may get this time, in hundredths.
    pub fill_percent: Option<u32>,
    /// Leaves room for what will come within so many weeks after a day.
    pub grow: Option<(u32, Date)>,
    /// At most so many copies to be filed, those that came first.
    pub limit: Option<u32>,
    /// Drops what is left of the walk and plans again.
    pub again: bool,
    /// Only shows; nothing is written.
    pub dry_run: bool,
}

/// A walk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Walk {
    /// What is done at each box.
    pub sheet: Sheet,
    /// The run that planned it; `None` if it was planned before, or nothing was written.
    pub run: Option<RunId>,
    /// Whether this is what is left of a walk that was planned before.
    pub goes_on: bool,
}

/// What was booked at a box.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoxDone {
    /// Its label.
    pub label: String,
    /// Copies put in.
    pub put_in: u32,
    /// Copies taken out.
    pub taken_out: u32,
    /// Copies still to be put in on this walk, here and elsewhere.
    pub left: u32,
}

/// Plans the walk, or shows what is left of one that was not finished.
///
/// # Errors
/// If no plan is possible, or the collection fails.
pub fn file_plan(store: &Store, asked: &PlanAsked, now: Timestamp) -> Result<Walk, WorkflowError> {
    if !asked.again
        && !asked.dry_run
        && let Some(sheet) = walk_left(store)?
    {
        return Ok(Walk { sheet, run: None, goes_on: true });
    }
    let mut run = None;
    let sheet = if asked.dry_run {
        store.read(|store| {
            let (known, plan) = planned(store, asked)?;
            let free = free_labels(&known.wall.boxes, plan.boxes.len());
            sheet_of(store, &known, &plan, |at| free[at].clone())
        })?
    } else {
        store.write(&mut run, RunKind::File, now, |writer| {
            // What is in the hand is to be filed again, as it was before the walk.
            writer.drop_walk()?;
            let (mut known, plan) = planned(writer, asked)?;
            let boxes = keep_boxes(writer, &known, &plan)?;
            known.keep_steps(writer, &plan, &boxes)?;
            Ok::<_, WorkflowError>(Sheet { cost: plan.cost, ..rest_of_walk(writer, &known)? })
        })?
    };
    Ok(Walk { sheet, run, goes_on: false })
}

/// What is left of a walk that was planned and is not finished; `None` if there is none.
///
/// # Errors
/// If the collection can't be read.
pub fn walk_left(store: &Store) -> Result<Option<Sheet>, WorkflowError> {
    store.read(|store| {
        if store.walk_length()? == 0 {
            return Ok(None);
        }
        let known = wall::whole(store)?;
        rest_of_walk(store, &known).map(Some)
    })
}

fn planned(store: &Store, asked: &PlanAsked) -> Result<(Known, Plan), WorkflowError> {
    let mut known = wall::whole(store)?;
    if let Some(limit) = asked.limit {
        known.keep_first(limit as usize);
    }
    if let Some((weeks, today)) = asked.grow {
        known.expect(&coming(store, weeks, today)?);
    }
    let mut options = known.settings.options.clone();
    options.fill_percent = asked.fill_percent.unwrap_or(options.fill_percent);
    options.anew = asked.wall;
    let plan = plan(&known.wall, &options)?;
    Ok((known, plan))
}

/// What is left of the walk.
fn rest_of_walk(store: &Store, known: &Known) -> Result<Sheet, WorkflowError> {
    let to = |book: &Book| known.goes_to.get(&book.copy).copied().or(book.at);
    let plan = Plan::resumed(&known.wall, &known.settings.options, to);
    sheet_of(store, known, &plan, |_| String::new())
}

fn sheet_of(
    store: &Store,
    known: &Known,
    plan: &Plan,
    label: impl Fn(usize) -> String,
) -> Result<Sheet, WorkflowError> {
    let naming = Naming::new(store, known, plan.cost.to_file + plan.cost.moved)?;
    Ok(Sheet::new(&known.wall, plan, |book| naming.named(book), label)?)
}

/// Labels that no box has, enough for all that a plan may add, each at its box's place in the plan.
fn free_labels(boxes: &[ShelfBox], wanted: usize) -> Vec<String> {
    let taken: HashSet<String> = boxes.iter().map(|shelf| shelf.label.to_ascii_lowercase()).collect();
    let free = |label: &String| !taken.contains(&label.to_ascii_lowercase());
    (boxes.len() + 1..).map(|n| format!("Box {n}")).filter(free).take(wanted).collect()
}

/// Records the boxes that the plan adds or takes from the spare ones; gives all its boxes' numbers.
fn keep_boxes(writer: &Writer<'_>, known: &Known, plan: &Plan) -> Result<Vec<BoxId>, StoreError> {
    let mut free = free_labels(&known.wall.boxes, plan.boxes.len()).into_iter();
    let mut ids = Vec::with_capacity(plan.boxes.len());
    let mut last: Option<Place> = None;
    let made_room = Cell::new(false);
    for (at, planned) in plan.boxes.iter().enumerate() {
        // A box may have made room for another in the same place.
        let stands = |shelf: &ShelfBox| match made_room.get() {
            true => writer.box_of_number(shelf.id).map(|shelf| shelf.place),
            false => Ok(shelf.place),
        };
        let new_place = || {
            let next = plan.next_standing(&known.wall, at).map(stands).transpose()?;
            let place = Place::between(last, next);
            writer.make_room(place)?;
            made_room.set(true);
            Ok::<_, StoreError>(place)
        };
        let shelf = planned.at.map(|at| &known.wall.boxes[at as usize]);
        let id = match shelf {
            Some(shelf) if shelf.purpose == planned.purpose => {
                last = Some(stands(shelf)?);
                shelf.id
            }
            // Room for what will come needs no box yet.
            _ if !plan.gets_copies(&known.wall, at) => BoxId::new(0),
            Some(shelf) => {
                let place = new_place()?;
                last = Some(place);
                writer.update_box(&ShelfBox { purpose: planned.purpose.clone(), place, ..shelf.clone() })?;
                writer.plan_spare(shelf.id)?;
                shelf.id
            }
            None => {
                let place = new_place()?;
                last = Some(place);
                writer.insert_box(&new_box(planned, place, free.next().unwrap_or_default()))?
            }
        };
        ids.push(id);
    }
    Ok(ids)
}

fn new_box(planned: &PlannedBox, place: Place, label: String) -> ShelfBox {
    ShelfBox {
        id: BoxId::new(0),
        label,
        kind: planned.kind,
        inner_mm: planned.inner_mm,
        magazines: planned.magazines,
        purpose: planned.purpose.clone(),
        place,
        note: String::new(),
        planned: true,
    }
}

impl Known {
    /// Of the copies to be filed only those that came first.
    fn keep_first(&mut self, limit: usize) {
        let mut waiting: Vec<_> = self.wall.books.iter().filter(|b| b.at.is_none()).map(|b| b.copy).collect();
        waiting.sort_unstable();
        waiting.truncate(limit);
        let left_out = |book: &mut Book| book.at.is_none() && waiting.binary_search(&book.copy).is_err();
        self.left_out = self.wall.books.extract_if(.., left_out).collect();
    }

    /// Records the steps of a plan whose boxes have these numbers. The wall is then as it would be read again.
    fn keep_steps(&mut self, writer: &Writer<'_>, plan: &Plan, boxes: &[BoxId]) -> Result<(), StoreError> {
        let before = std::mem::replace(&mut self.wall.boxes, writer.boxes()?);
        let places = wall::places(&self.wall.boxes);
        let mut steps = Vec::new();
        for (book, &to) in self.wall.books.iter_mut().zip(&plan.goes_to) {
            let stands_in = book.at.map(|at| before[at as usize].id);
            book.at = stands_in.and_then(|shelf| places.get(shelf.number()));
            let to = boxes[to as usize];
            if !book.expected && stands_in != Some(to) {
                steps.push((book.copy, to));
            }
        }
        // By their numbers, as the table keeps them: a million rows are added at its end instead of all over it.
        steps.sort_unstable();
        for &(copy, to) in &steps {
            writer.insert_step(copy, to)?;
        }
        self.goes_to = steps.into_iter().filter_map(|(copy, to)| Some((copy, places.get(to.number())?))).collect();
        self.wall.books.retain(|book| !book.expected);
        if !self.left_out.is_empty() {
            self.wall.books.append(&mut self.left_out);
            self.wall.sort(&self.settings.rule);
        }
        Ok(())
    }
}

/// Books what the walk does at one box, or at all that are left.
///
/// # Errors
/// If there is nothing to do there, or the collection fails.
pub fn file_done(
    store: &Store,
    label: Option<&str>,
    now: Timestamp,
) -> Result<(Vec<BoxDone>, Option<RunId>), WorkflowError> {
    let mut run = None;
    let done = store.write(&mut run, RunKind::File, now, |writer| {
        let boxes = match label {
            Some(label) => vec![writer.box_labelled(label)?],
            None => {
                let on_walk = writer.boxes_of_walk()?;
                writer.boxes()?.into_iter().filter(|shelf| on_walk.contains(&shelf.id)).collect()
            }
        };
        let mut done = Vec::new();
        for shelf in boxes {
            let (taken_out, put_in) = writer.finish_box(shelf.id)?;
            if (taken_out, put_in) != (0, 0) {
                done.push(BoxDone { label: shelf.label, put_in, taken_out, left: writer.walk_length()? });
            }
        }
        if done.is_empty() {
            return Err(WorkflowError::NothingToFile(label.map(str::to_owned)));
        }
        Ok(done)
    })?;
    Ok((done, run))
}
