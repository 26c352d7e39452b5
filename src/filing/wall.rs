//! The wall of boxes with all that stands in it or is to be filed, and which boxes each copy may go to.

use std::collections::HashMap;
use std::sync::Arc;

use super::{FilingRule, KeyBytes, Purpose, ShelfBox, needs_wide_box};
use crate::collection::{CopyId, SizeClass, Title, search_key};

/// A title, as far as filing goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShelfTitle {
    /// The title.
    pub title: Arc<Title>,
    /// The family or character that it belongs to.
    pub family: Option<String>,
}

/// A copy that stands in a box, or is to be filed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Book {
    /// Its number.
    pub copy: CopyId,
    /// Its title, by its place in [`Wall::titles`].
    pub title: u32,
    /// Its place among the copies of its title: [`FilingRule::copy_key`].
    pub key: KeyBytes,
    /// How thick it is.
    pub um: u32,
    /// How heavy it is.
    pub mg: u32,
    /// Its size.
    pub size: SizeClass,
    /// Whether it is still to be read.
    pub unread: bool,
    /// The box in which it stands, by its place in [`Wall::boxes`].
    pub at: Option<u32>,
    /// Whether it is not here yet: only room is left for it.
    pub expected: bool,
}

/// All copies of one title, size and reading state go the same way.
type Way = (u32, SizeClass, bool);

impl Book {
    fn way(&self) -> Way {
        (self.title, self.size, self.unread)
    }
}

/// Everything that a plan is made of.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Wall {
    /// Titles.
    pub titles: Vec<ShelfTitle>,
    /// Boxes in walking order.
    pub boxes: Vec<ShelfBox>,
    /// Copies in filing order, once [`Wall::sort`] has put them so.
    pub books: Vec<Book>,
}

/// Boxes of one purpose, and their copies: what is planned by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// What its boxes are for.
    pub purpose: Purpose,
    /// Whether magazines fit into its boxes.
    pub magazines: bool,
    /// Its boxes in walking order, by their place in [`Wall::boxes`].
    pub boxes: Vec<u32>,
    /// Its copies in filing order, by their place in [`Wall::books`].
    pub books: Vec<u32>,
}

impl Wall {
    /// Puts the copies in filing order.
    pub fn sort(&mut self, rule: &FilingRule) {
        let ranks = self.title_ranks(rule);
        // By titles first, which needs no comparing; within a title few copies are left to compare.
        self.gather_titles(&ranks);
        for title in self.books.chunk_by_mut(|one, next| one.title == next.title) {
            title.sort_by(|one, other| one.key.cmp(&other.key).then_with(|| one.copy.cmp(&other.copy)));
        }
    }

    /// Puts each title's copies together, titles by their ranks. Copies of a title keep their order.
    fn gather_titles(&mut self, ranks: &[u32]) {
        let rank = |book: &Book| ranks[book.title as usize] as usize;
        if self.books.is_sorted_by_key(rank) {
            return;
        }
        let mut next = vec![0_u32; self.titles.len() + 1];
        self.books.iter().for_each(|book| next[rank(book) + 1] += 1);
        for title in 1..next.len() {
            next[title] += next[title - 1];
        }
        let place = |book: &Book| {
            let next = &mut next[rank(book)];
            *next += 1;
            *next - 1
        };
        let mut goes_to: Vec<u32> = self.books.iter().map(place).collect();
        for at in 0..goes_to.len() {
            while goes_to[at] as usize != at {
                let to = goes_to[at] as usize;
                self.books.swap(at, to);
                goes_to.swap(at, to);
            }
        }
    }

    fn title_ranks(&self, rule: &FilingRule) -> Vec<u32> {
        // Far more titles may be known than have copies here.
        let mut has_books = vec![false; self.titles.len()];
        self.books.iter().for_each(|book| has_books[book.title as usize] = true);
        let mut order: Vec<usize> = (0..self.titles.len()).filter(|&title| has_books[title]).collect();
        order.sort_by_cached_key(|&title| {
            let ShelfTitle { title, family } = &self.titles[title];
            rule.title_key(title, family.as_deref())
        });
        let mut ranks = vec![0; self.titles.len()];
        for (rank, title) in order.into_iter().enumerate() {
            ranks[title] = rank as u32;
        }
        ranks
    }

    /// The sections that have copies or boxes. A copy belongs to the boxes of the first purpose that fits it, those its size
    /// needs before wider ones; what no box is for gets a section without boxes, for the rest.
    #[must_use]
    pub fn sections(&self) -> Vec<Section> {
        let mut sections: Vec<Section> = Vec::new();
        let mut known: HashMap<(Purpose, bool), usize> = HashMap::new();
        for (at, shelf) in self.boxes.iter().enumerate().filter(|(_, shelf)| shelf.purpose != Purpose::Spare) {
            let section = *known.entry((folded(&shelf.purpose), shelf.magazines)).or_insert_with(|| {
                sections.push(Section::new(shelf.purpose.clone(), shelf.magazines));
                sections.len() - 1
            });
            sections[section].boxes.push(at as u32);
        }
        let mut ways: HashMap<Way, usize> = HashMap::new();
        let mut at = 0;
        for books in self.books.chunk_by(|one, next| one.way() == next.way()) {
            let book = &books[0];
            let way = *ways.entry(book.way()).or_insert_with(|| {
                let wide_only = needs_wide_box(book.size);
                let fits = self.purposes(book).into_iter().find_map(|purpose| {
                    let narrow = known.get(&(purpose.clone(), false)).filter(|_| !wide_only);
                    narrow.or_else(|| known.get(&(purpose, true))).copied()
                });
                fits.unwrap_or_else(|| {
                    sections.push(Section::new(Purpose::Rest, wide_only));
                    known.insert((Purpose::Rest, wide_only), sections.len() - 1);
                    sections.len() - 1
                })
            });
            let end = at + books.len() as u32;
            sections[way].books.extend(at..end);
            at = end;
        }
        sections
    }

    /// What boxes for this copy may be for, the first to be looked for first.
    fn purposes(&self, book: &Book) -> Vec<Purpose> {
        let ShelfTitle { title, family } = &self.titles[book.title as usize];
        let mut purposes = Vec::with_capacity(6);
        if book.unread {
            purposes.push(Purpose::Unread);
        }
        purposes.push(Purpose::Title(title.id));
        purposes.extend(family.as_deref().map(|family| Purpose::Family(search_key(family))));
        purposes.extend(title.publisher.as_deref().map(|publisher| Purpose::Publisher(search_key(publisher))));
        purposes.push(Purpose::Size(book.size));
        purposes.push(Purpose::Rest);
        purposes
    }
}

impl Section {
    fn new(purpose: Purpose, magazines: bool) -> Self {
        Self { purpose, magazines, boxes: Vec::new(), books: Vec::new() }
    }
}

/// A purpose with its name as names are searched.
fn folded(purpose: &Purpose) -> Purpose {
    match purpose {
        Purpose::Family(name) => Purpose::Family(search_key(name)),
        Purpose::Publisher(name) => Purpose::Publisher(search_key(name)),
        other => other.clone(),
    }
}
