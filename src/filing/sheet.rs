//! A plan as a person reads it: one walk along the boxes, with names instead of places in lists.

use std::sync::Arc;

use serde::Serialize;

use super::plan::{Divider, Plan, PlanCost};
use super::{BoxKind, Place, Purpose, Take, Wall};
use crate::collection::{CopyId, Title};

/// A copy as a person names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NamedCopy {
    /// Its number.
    pub copy: CopyId,
    /// Its title, shared by all its copies: a sheet may name a million.
    pub title: Arc<Title>,
    /// Its issue; empty for a whole book.
    pub issue: String,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
}

/// The whole walk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// The boxes at which there is something to do, in walking order.
    pub boxes: Vec<SheetBox>,
    /// All boxes, for a picture of the wall.
    pub wall: Vec<WallBox>,
    /// What the plan costs.
    pub cost: PlanCost,
}

/// What is done at one box.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetBox {
    /// What is written on it.
    pub label: String,
    /// Where it stands.
    #[serde(flatten)]
    pub place: Place,
    /// What to recognise it by.
    pub note: String,
    /// If it is new: what kind of box to take.
    pub new_box: Option<BoxKind>,
    /// Copies to take out.
    pub take_out: Vec<Taken>,
    /// Copies to put in, from front to back.
    pub put_in: Vec<SheetRun>,
    /// How full it is now and will be, in hundredths of its length.
    pub percent_before: u32,
    /// How full it will be.
    pub percent_after: u32,
}

/// A copy to take out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// The copy.
    #[serde(flatten)]
    pub copy: NamedCopy,
    /// The label of the box that it goes to.
    pub to: String,
}

/// Copies to put in side by side.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetRun {
    /// What is written on the divider.
    pub divider: String,
    /// Whether it is still to be put there.
    pub new_divider: bool,
    /// Behind which copy; `None` at the front of the box.
    pub after: Option<NamedCopy>,
    /// Before which copy; `None` at its end.
    pub before: Option<NamedCopy>,
    /// The copies.
    pub copies: Vec<Put>,
}

/// A copy to put in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Put {
    /// The copy.
    #[serde(flatten)]
    pub copy: NamedCopy,
    /// The label of the box that it comes from; `None` for one that is filed for the first time.
    pub from: Option<String>,
    /// Whether its bag is to be sealed: it is read, and was open until now.
    pub seal: bool,
}

/// A box as it stands in the wall.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WallBox {
    /// What is written on it.
    pub label: String,
    /// Where it stands.
    #[serde(flatten)]
    pub place: Place,
    /// Its inner length.
    pub inner_mm: u32,
    /// What it is for.
    #[serde(flatten)]
    pub purpose: Purpose,
    /// How full it is now, in hundredths of its length.
    pub percent_before: u32,
    /// How full it will be.
    pub percent_after: u32,
    /// How many copies are put in.
    pub put_in: u32,
    /// How many are taken out.
    pub take_out: u32,
    /// Whether it is not there yet.
    pub new_box: bool,
}

impl Sheet {
    /// The sheet of a plan; `named` names copies by their place in [`Wall::books`], and `label` boxes that have none yet by theirs in
    /// [`Plan::boxes`].
    ///
    /// # Errors
    /// As `named`.
    pub fn new<E>(
        wall: &Wall,
        plan: &Plan,
        named: impl Fn(u32) -> Result<NamedCopy, E>,
        label: impl Fn(usize) -> String,
    ) -> Result<Self, E> {
        let label_of = |at: usize| match plan.boxes[at].at {
            Some(known) => wall.boxes[known as usize].label.clone(),
            None => label(at),
        };
        let mut sheet = Self { boxes: Vec::new(), wall: Vec::new(), cost: plan.cost };
        let mut last: Option<Place> = None;
        for (at, planned) in plan.boxes.iter().enumerate() {
            let shelf = planned.at.map(|known| &wall.boxes[known as usize]);
            let stands = shelf.filter(|shelf| shelf.purpose == planned.purpose);
            let between = || Place::between(last, plan.next_standing(wall, at).map(|shelf| shelf.place));
            let place = stands.map_or_else(between, |shelf| shelf.place);
            last = Some(place);
            let percent = |um: u64| (um / (u64::from(planned.inner_mm) * 10)) as u32;
            let is_new = shelf.is_none_or(|shelf| shelf.planned || shelf.purpose != planned.purpose);
            let mut on_wall = WallBox {
                label: label_of(at),
                place,
                inner_mm: planned.inner_mm,
                purpose: planned.purpose.clone(),
                percent_before: percent(planned.um_before),
                percent_after: percent(planned.um_after),
                put_in: 0,
                take_out: planned.takes.len() as u32,
                new_box: is_new,
            };
            if plan.is_touched(wall, at) {
                let work = plan.work(wall, at);
                on_wall.put_in = work.runs.iter().map(|run| run.puts.len() as u32).sum();
                let mut put_in = Vec::with_capacity(work.runs.len());
                for run in &work.runs {
                    let mut copies = Vec::with_capacity(run.puts.len());
                    for &book in &run.puts {
                        let known = &wall.books[book as usize];
                        let from = known.at.map(|from| wall.boxes[from as usize].label.clone());
                        let seal = from.is_none() && !known.unread && super::is_bagged(known.size);
                        copies.push(Put { copy: named(book)?, from, seal });
                    }
                    put_in.push(SheetRun {
                        divider: wall.divider_words(run.divider),
                        new_divider: run.new_divider,
                        after: run.after.map(&named).transpose()?,
                        before: run.before.map(&named).transpose()?,
                        copies,
                    });
                }
                let takes = work.takes.into_iter();
                let taken = |take: Take| Ok::<_, E>(Taken { copy: named(take.book)?, to: label_of(take.to as usize) });
                let take_out = takes.map(taken).collect::<Result<_, E>>()?;
                sheet.boxes.push(SheetBox {
                    label: on_wall.label.clone(),
                    place,
                    note: shelf.map(|shelf| shelf.note.clone()).unwrap_or_default(),
                    new_box: is_new.then_some(planned.kind),
                    take_out,
                    put_in,
                    percent_before: on_wall.percent_before,
                    percent_after: on_wall.percent_after,
                });
            }
            sheet.wall.push(on_wall);
        }
        Ok(sheet)
    }
}

impl Wall {
    /// What is written on a divider.
    #[must_use]
    pub fn divider_words(&self, divider: Divider) -> String {
        match divider {
            Divider::Title(title) => {
                let title = &self.titles[title as usize].title;
                let volume = if title.volume.is_empty() { None } else { Some(format!("volume {}", title.volume)) };
                let apart = volume.or(title.year.map(|year| year.to_string()));
                apart.map_or_else(|| title.name.clone(), |apart| format!("{} ({apart})", title.name))
            }
            Divider::Family(title) => {
                let known = &self.titles[title as usize];
                known.family.clone().unwrap_or_else(|| known.title.name.clone())
            }
        }
    }
}
