//! The put-away plan: into which box and behind which divider each copy goes, and what has to move for it.

use std::collections::{HashMap, HashSet};

use super::cut::{CutError, Part, Slot, Task, Weights, cut};
use super::{Book, BoxKind, Purpose, Section, ShelfBox, Wall, anew};
use crate::collection::CopyId;

/// What a plan is made by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanOptions {
    /// How full a box may get, in hundredths of its length.
    pub fill_percent: u32,
    /// What is weighed against a copy that has to be handled.
    pub weights: Weights,
    /// A divider's thickness.
    pub divider_um: u32,
    /// Titles with fewer copies than this share their family's divider.
    pub short_series: u32,
    /// Whether the filing order keeps families together, so that they can share one.
    pub families: bool,
    /// What kind of box is added.
    pub new_kind: BoxKind,
    /// Its inner length.
    pub new_mm: u32,
    /// Lays everything out anew, instead of moving as few copies as possible.
    pub anew: bool,
}

/// The usual way: boxes up to 92 % full; a new box is worth 60 copies that need not be handled, a title that stays whole 8.
impl Default for PlanOptions {
    fn default() -> Self {
        Self {
            fill_percent: 92,
            weights: Weights { new_box: 60, split: 8 },
            divider_um: 800,
            short_series: 5,
            families: false,
            new_kind: BoxKind::Short,
            new_mm: BoxKind::Short.inner_mm(),
            anew: false,
        }
    }
}

/// Where everything goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// Copies by their place in [`Wall::books`], box after box in filing order.
    pub order: Vec<u32>,
    /// All boxes in walking order.
    pub boxes: Vec<PlannedBox>,
    /// The divider of each copy, by its place in [`Wall::books`].
    pub dividers: Vec<Divider>,
    /// The box of each copy, by its place in [`Plan::boxes`].
    pub goes_to: Vec<u32>,
    /// What it costs.
    pub cost: PlanCost,
}

/// A box as it is planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedBox {
    /// The box by its place in [`Wall::boxes`]; `None` for one to be added.
    pub at: Option<u32>,
    /// What it is for; what a spare box becomes.
    pub purpose: Purpose,
    /// Whether magazines fit in.
    pub magazines: bool,
    /// Its kind.
    pub kind: BoxKind,
    /// Its inner length.
    pub inner_mm: u32,
    /// Where its copies begin in [`Plan::order`].
    pub from: usize,
    /// Where they end.
    pub to: usize,
    /// Copies that stand in it now and go elsewhere, by their place in [`Wall::books`].
    pub takes: Vec<u32>,
    /// How much of its length is taken now, and will be, dividers included.
    pub um_before: u64,
    /// How much will be, with the room that is left for copies to come.
    pub um_after: u64,
}

/// What stands before a copy's group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Divider {
    /// Its title, by its place in [`Wall::titles`].
    Title(u32),
    /// The family of that title.
    Family(u32),
}

/// What a plan costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct PlanCost {
    /// Copies to be filed.
    pub to_file: u32,
    /// Copies that leave their box.
    pub moved: u32,
    /// Boxes that are added or taken from the spare ones.
    pub new_boxes: u32,
    /// Titles that are cut where they were whole.
    pub splits: u32,
}

/// Why nothing can be planned.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// A copy that no box can hold.
    #[error("copy {0} is thicker than a box may be filled; correct its pages, or allow fuller or longer boxes")]
    TooThick(CopyId),
    /// So many at once that the exact plan would take too long.
    #[error(
        "{0} copies are too many at once for a plan that moves as few as possible; plan the whole wall anew (--wall), or fewer copies at a time (--limit)"
    )]
    TooMany(usize),
}

/// Plans where all copies of the wall go. The wall must be sorted.
///
/// # Errors
/// If a copy is too thick, or too many come at once.
pub fn plan(wall: &Wall, options: &PlanOptions) -> Result<Plan, PlanError> {
    let mut plan = Plan::empty(wall);
    let mut spares: Vec<u32> = (0..wall.boxes.len() as u32).filter(|&at| wall.boxes[at as usize].is_spare()).collect();
    // Each box with its turn on the walk: new ones stand behind the box before them in their section.
    let mut turns: Vec<((i64, i64), PlannedBox)> = Vec::new();
    for section in &wall.sections() {
        let groups = Groups::of(wall, section, options);
        plan.set_dividers(section, &groups);
        let parts = groups.cut(wall, section, options)?;
        let base = plan.order.len();
        plan.order.extend(&section.books);
        let mut before = section.boxes.first().map_or(wall.boxes.len() as i64, |&first| i64::from(first) - 1);
        for (n, part) in parts.iter().enumerate() {
            let mut planned = PlannedBox::new(wall, section, part, base, options);
            planned.um_after = plan.length_um(wall, planned.from..planned.to, options);
            if planned.at.is_none() {
                planned.take_spare(wall, &mut spares, options);
            }
            before = part.room.map_or(before, |room| i64::from(section.boxes[room as usize]));
            turns.push(((before, if part.room.is_some() { -1 } else { n as i64 }), planned));
        }
        plan.cost.splits += groups.new_splits(wall, section, &parts, options);
    }
    let unused = spares.into_iter().map(|at| ((i64::from(at), -1), PlannedBox::as_it_is(wall, at)));
    turns.extend(unused);
    turns.sort_by_key(|(turn, _)| *turn);
    plan.boxes = turns.into_iter().map(|(_, planned)| planned).collect();
    plan.finish(wall, options);
    Ok(plan)
}

/// The slots of a section's copies.
struct Groups {
    slots: Vec<Slot>,
    dividers: Vec<Divider>,
}

impl Groups {
    fn of(wall: &Wall, section: &Section, options: &PlanOptions) -> Self {
        let books = || section.books.iter().map(|&book| &wall.books[book as usize]);
        let mut room_of = vec![None; wall.boxes.len()];
        for (room, &at) in section.boxes.iter().enumerate() {
            room_of[at as usize] = Some(room as u32);
        }
        let mut copies = vec![0_u32; wall.titles.len()];
        books().for_each(|book| copies[book.title as usize] += 1);
        // A family's titles are known by the first of them.
        let mut families: HashMap<&str, u32> = HashMap::new();
        let mut dividers: Vec<Divider> = Vec::with_capacity(section.books.len());
        let mut slots: Vec<Slot> = Vec::with_capacity(section.books.len());
        for book in books() {
            let family = wall.titles[book.title as usize].family.as_deref().filter(|_| options.families);
            let divider = match family {
                Some(family) if copies[book.title as usize] < options.short_series => {
                    Divider::Family(*families.entry(family).or_insert(book.title))
                }
                _ => Divider::Title(book.title),
            };
            let new = dividers.last() != Some(&divider);
            dividers.push(divider);
            slots.push(Slot {
                um: book.um + if new { options.divider_um } else { 0 },
                title: book.title,
                at: book.at.and_then(|at| room_of[at as usize]),
            });
        }
        Self { slots, dividers }
    }

    fn cut(&self, wall: &Wall, section: &Section, options: &PlanOptions) -> Result<Vec<Part>, PlanError> {
        // Each box may begin within a group and then needs a divider of its own.
        let room = |mm: u32| options.limit_um(mm).saturating_sub(options.divider_um.into());
        let mut rooms: Vec<u64> = section.boxes.iter().map(|&at| room(wall.boxes[at as usize].inner_mm)).collect();
        let filed = self.slots.iter().any(|slot| slot.at.is_some());
        if !options.anew && filed {
            self.allow_what_is(wall, section, options, &mut rooms);
        }
        let new_mm = if section.magazines { BoxKind::Magazine.inner_mm() } else { options.new_mm };
        let weights = Weights { new_box: options.weights.new_box.max(1), ..options.weights };
        let task = Task { slots: &self.slots, rooms: &rooms, new_room: room(new_mm), weights };
        let cut = if options.anew || !filed { anew(&task) } else { cut(&task) };
        let cut = cut.map_err(|error| match error {
            CutError::TooThick(at) => PlanError::TooThick(wall.books[section.books[at] as usize].copy),
            CutError::TooMany(copies) => PlanError::TooMany(copies),
        })?;
        Ok(cut.parts)
    }

    /// A box that is fuller than the limit but not more than full may stay so: only nothing comes in addition.
    fn allow_what_is(&self, wall: &Wall, section: &Section, options: &PlanOptions, rooms: &mut [u64]) {
        let mut um = vec![0_u64; rooms.len()];
        for slot in &self.slots {
            if let Some(room) = slot.at {
                um[room as usize] += u64::from(slot.um);
            }
        }
        for (room, &at) in section.boxes.iter().enumerate() {
            let inner = u64::from(wall.boxes[at as usize].inner_mm) * 1000;
            if um[room] + u64::from(options.divider_um) <= inner {
                rooms[room] = rooms[room].max(um[room]);
            }
        }
    }

    /// How many titles are cut that stood in one box, or in none.
    fn new_splits(&self, wall: &Wall, section: &Section, parts: &[Part], options: &PlanOptions) -> u32 {
        let book = |at: usize| &wall.books[section.books[at] as usize];
        let is_split = |slots: &&[Slot]| {
            let mut boxes = slots.iter().filter_map(|slot| slot.at);
            let first = boxes.next();
            !options.anew && boxes.any(|other| Some(other) != first)
        };
        let titles = self.slots.chunk_by(|one, next| one.title == next.title);
        let split: HashSet<u32> = titles.filter(is_split).map(|slots| slots[0].title).collect();
        let cuts = parts.iter().filter(|part| part.from > 0 && part.from < part.to).map(|part| part.from as usize);
        let titles = cuts.filter(|&at| book(at).title == book(at - 1).title).map(|at| book(at).title);
        titles.filter(|title| !split.contains(title)).count() as u32
    }
}

impl PlanOptions {
    /// What a box of this inner length may hold.
    #[must_use]
    pub fn limit_um(&self, inner_mm: u32) -> u64 {
        u64::from(inner_mm) * u64::from(self.fill_percent.min(100)) * 10
    }
}

impl ShelfBox {
    fn is_spare(&self) -> bool {
        self.purpose == Purpose::Spare
    }
}

impl PlannedBox {
    fn new(wall: &Wall, section: &Section, part: &Part, base: usize, options: &PlanOptions) -> Self {
        let at = part.room.map(|room| section.boxes[room as usize]);
        let shelf = at.map(|at| &wall.boxes[at as usize]);
        let new_kind = if section.magazines { BoxKind::Magazine } else { options.new_kind };
        let new_mm = if section.magazines { BoxKind::Magazine.inner_mm() } else { options.new_mm };
        Self {
            at,
            purpose: section.purpose.clone(),
            magazines: section.magazines,
            kind: shelf.map_or(new_kind, |shelf| shelf.kind),
            inner_mm: shelf.map_or(new_mm, |shelf| shelf.inner_mm),
            from: base + part.from as usize,
            to: base + part.to as usize,
            takes: Vec::new(),
            um_before: 0,
            um_after: 0,
        }
    }

    fn as_it_is(wall: &Wall, at: u32) -> Self {
        let ShelfBox { kind, inner_mm, magazines, ref purpose, .. } = wall.boxes[at as usize];
        Self {
            at: Some(at),
            purpose: purpose.clone(),
            magazines,
            kind,
            inner_mm,
            from: 0,
            to: 0,
            takes: Vec::new(),
            um_before: 0,
            um_after: 0,
        }
    }

    /// The shortest spare box that holds what a new one would.
    fn take_spare(&mut self, wall: &Wall, spares: &mut Vec<u32>, options: &PlanOptions) {
        let fits = |at: &u32| {
            let shelf = &wall.boxes[*at as usize];
            shelf.magazines == self.magazines && options.limit_um(shelf.inner_mm) >= self.um_after
        };
        let best = spares.iter().copied().filter(fits).min_by_key(|&at| wall.boxes[at as usize].inner_mm);
        if let Some(at) = best {
            spares.retain(|&spare| spare != at);
            self.at = Some(at);
            (self.kind, self.inner_mm) = (wall.boxes[at as usize].kind, wall.boxes[at as usize].inner_mm);
        }
    }
}

impl Plan {
    /// A plan that was made before: copies go where `goes_to` says, by places in [`Wall::boxes`].
    #[must_use]
    pub fn resumed(wall: &Wall, options: &PlanOptions, goes_to: impl Fn(&Book) -> Option<u32>) -> Self {
        let mut plan = Self::empty(wall);
        for section in &wall.sections() {
            plan.set_dividers(section, &Groups::of(wall, section, options));
        }
        let mut contents: Vec<Vec<u32>> = vec![Vec::new(); wall.boxes.len()];
        for (at, book) in wall.books.iter().enumerate() {
            if let Some(to) = goes_to(book) {
                contents[to as usize].push(at as u32);
            }
        }
        for (at, content) in contents.iter().enumerate() {
            let mut planned = PlannedBox::as_it_is(wall, at as u32);
            planned.from = plan.order.len();
            plan.order.extend(content);
            planned.to = plan.order.len();
            planned.um_after = plan.length_um(wall, planned.from..planned.to, options);
            plan.boxes.push(planned);
        }
        plan.finish(wall, options);
        plan
    }

    /// Whether copies that are here go to the box with this place in [`Plan::boxes`].
    #[must_use]
    pub fn gets_copies(&self, wall: &Wall, at: usize) -> bool {
        let planned = &self.boxes[at];
        self.order[planned.from..planned.to].iter().any(|&book| !wall.books[book as usize].expected)
    }

    /// The first box behind a place in [`Plan::boxes`] that stands there already and keeps its place.
    #[must_use]
    pub fn next_standing<'a>(&self, wall: &'a Wall, at: usize) -> Option<&'a ShelfBox> {
        let mut behind = self.boxes[at + 1..].iter();
        behind
            .find_map(|planned| planned.at.map(|at| &wall.boxes[at as usize]).filter(|b| b.purpose == planned.purpose))
    }

    fn empty(wall: &Wall) -> Self {
        Self {
            order: Vec::with_capacity(wall.books.len()),
            boxes: Vec::new(),
            dividers: vec![Divider::Title(0); wall.books.len()],
            goes_to: vec![u32::MAX; wall.books.len()],
            cost: PlanCost::default(),
        }
    }

    fn set_dividers(&mut self, section: &Section, groups: &Groups) {
        groups.dividers.iter().zip(&section.books).for_each(|(&divider, &book)| self.dividers[book as usize] = divider);
    }

    /// What copies side by side take of a box, with a divider before each group.
    fn length_um(&self, wall: &Wall, of: std::ops::Range<usize>, options: &PlanOptions) -> u64 {
        let mut last = None;
        let mut um = 0;
        for &book in &self.order[of] {
            let divider = self.dividers[book as usize];
            let new = last.replace(divider) != Some(divider);
            um += u64::from(wall.books[book as usize].um) + if new { u64::from(options.divider_um) } else { 0 };
        }
        um
    }

    /// What follows from the boxes: where each copy goes, and what leaves each box.
    fn finish(&mut self, wall: &Wall, options: &PlanOptions) {
        let mut planned_of = vec![None; wall.boxes.len()];
        for (n, planned) in self.boxes.iter().enumerate() {
            if let Some(at) = planned.at {
                planned_of[at as usize] = Some(n);
            }
            for &book in &self.order[planned.from..planned.to] {
                self.goes_to[book as usize] = n as u32;
            }
        }
        let is_new = |planned: &PlannedBox| {
            planned
                .at
                .is_none_or(|at| wall.boxes[at as usize].purpose != planned.purpose || wall.boxes[at as usize].planned)
        };
        let new = (0..self.boxes.len()).filter(|&at| is_new(&self.boxes[at]) && self.gets_copies(wall, at));
        self.cost.new_boxes = new.count() as u32;
        // What stands in each box now, in filing order, with a divider for each group.
        let mut last: Vec<Option<Divider>> = vec![None; self.boxes.len()];
        for &at in &self.order {
            let book: &Book = &wall.books[at as usize];
            let Some(here) = book.at.and_then(|at| planned_of[at as usize]) else {
                self.cost.to_file += u32::from(!book.expected);
                continue;
            };
            let divider = self.dividers[at as usize];
            let new = last[here].replace(divider) != Some(divider);
            let planned = &mut self.boxes[here];
            planned.um_before += u64::from(book.um) + if new { u64::from(options.divider_um) } else { 0 };
            if self.goes_to[at as usize] as usize != here {
                planned.takes.push(at);
                self.cost.moved += 1;
            }
        }
    }
}
