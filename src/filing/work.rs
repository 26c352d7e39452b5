//! What the hand does at one box of a plan.

use super::plan::{Divider, Plan};
use super::{Book, Wall};

/// What is done at a box.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Work {
    /// What is taken out, in filing order.
    pub takes: Vec<Take>,
    /// What is put in, run by run from front to back.
    pub runs: Vec<PutRun>,
}

/// A copy that is taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Take {
    /// The copy by its place in [`Wall::books`].
    pub book: u32,
    /// Where it goes, by its place in [`Plan::boxes`].
    pub to: u32,
}

/// Copies that are put in side by side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PutRun {
    /// Behind which divider.
    pub divider: Divider,
    /// Whether the box has no such divider yet.
    pub new_divider: bool,
    /// Behind which copy of the box; `None` if it is the first in the box.
    pub after: Option<u32>,
    /// Before which copy of the box; `None` if it is the last.
    pub before: Option<u32>,
    /// The copies, by their place in [`Wall::books`].
    pub puts: Vec<u32>,
}

impl Plan {
    /// What is done at the box with this place in [`Plan::boxes`].
    #[must_use]
    pub fn work(&self, wall: &Wall, at: usize) -> Work {
        let planned = &self.boxes[at];
        let takes = planned.takes.iter().map(|&book| Take { book, to: self.goes_to[book as usize] }).collect();
        let here = |book: &Book| planned.at.is_some() && book.at == planned.at;
        let copies: Vec<u32> = self.order[planned.from..planned.to]
            .iter()
            .copied()
            .filter(|&book| !wall.books[book as usize].expected)
            .collect();
        let divider = |book: u32| self.dividers[book as usize];
        let mut runs: Vec<PutRun> = Vec::new();
        let mut place = 0_usize;
        for group in copies.chunk_by(|&one, &next| divider(one) == divider(next)) {
            let new_divider = !group.iter().any(|&book| here(&wall.books[book as usize]));
            for &book in group {
                let (after, before) = (place.checked_sub(1).map(|at| copies[at]), copies.get(place + 1).copied());
                place += 1;
                if here(&wall.books[book as usize]) {
                    continue;
                }
                match runs.last_mut() {
                    Some(run) if run.before == Some(book) && run.divider == divider(book) => {
                        run.puts.push(book);
                        run.before = before;
                    }
                    _ => runs.push(PutRun { divider: divider(book), new_divider, after, before, puts: vec![book] }),
                }
            }
        }
        Work { takes, runs }
    }

    /// Whether anything is done at the box with this place in [`Plan::boxes`].
    #[must_use]
    pub fn is_touched(&self, wall: &Wall, at: usize) -> bool {
        let planned = &self.boxes[at];
        let is_new = |book: &Book| !book.expected && (planned.at.is_none() || book.at != planned.at);
        !planned.takes.is_empty()
            || self.order[planned.from..planned.to].iter().any(|&book| is_new(&wall.books[book as usize]))
    }
}
