//! What to buy: bags, boards, dividers and boxes.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;

use super::coming::coming;
use super::wall;
use crate::collection::SizeClass;
use crate::filing::{BoxKind, Item, PlannedBox, Purpose, Stock, Supply, is_bagged, plan};
use crate::intake::RunId;
use crate::store::{RunKind, Shelved, Store};
use crate::workflow::WorkflowError;

/// What to set about an item in stock; `None` leaves a thing as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StockChange {
    /// How many are there.
    pub on_hand: Option<u32>,
    /// How many a pack holds.
    pub pack: Option<u32>,
    /// What a pack costs.
    pub pack_price: Option<crate::collection::Money>,
}

/// What is needed for all that is here and not in a box yet, unread copies too, and for what will come within so many weeks.
///
/// # Errors
/// If no plan is possible, or the collection can't be read.
pub fn supplies(store: &Store, weeks: u32, today: Date) -> Result<Vec<Supply>, WorkflowError> {
    store.read(|store| {
        let coming = coming(store, weeks, today)?;
        // Needed here, and in the coming weeks.
        let mut bags: BTreeMap<&str, (SizeClass, [u32; 4])> = BTreeMap::new();
        for (size, without_bag, without_board) in store.not_bagged()? {
            let need = bags.entry(size.word()).or_insert((size, [0; 4]));
            need.1[0] += without_bag;
            need.1[2] += without_board;
        }
        for coming in coming.iter() {
            let need = bags.entry(coming.size.word()).or_insert((coming.size, [0; 4]));
            need.1[1] += coming.copies;
            need.1[3] += coming.copies;
        }
        let mut known = wall::known(store, Shelved::All { unread: true }, None)?;
        // As if everything were read already: it will be filed then.
        if !known.wall.boxes.iter().any(|shelf| shelf.purpose == Purpose::Unread) {
            known.wall.books.iter_mut().for_each(|book| book.unread = false);
        }
        let here = wanted(&known, &plan(&known.wall, &known.settings.options)?);
        known.expect(&coming);
        let all = wanted(&known, &plan(&known.wall, &known.settings.options)?);
        let stock = |item: Item| store.stock(item);
        let mut supplies = Vec::new();
        for (size, [bags, more_bags, boards, more_boards]) in bags.into_values().filter(|(size, _)| is_bagged(*size)) {
            supplies.push(Supply::new(Item::Bags(size), bags, more_bags, stock(Item::Bags(size))?));
            supplies.push(Supply::new(Item::Boards(size), boards, more_boards, stock(Item::Boards(size))?));
        }
        let more = all.dividers.saturating_sub(here.dividers);
        supplies.push(Supply::new(Item::Dividers, here.dividers, more, stock(Item::Dividers)?));
        for kind in BoxKind::ALL {
            let (here, all) = (here.of(kind), all.of(kind));
            if all > 0 || here > 0 {
                let item = Item::Boxes(kind);
                supplies.push(Supply::new(item, here, all.saturating_sub(here), stock(item)?));
            }
        }
        Ok(supplies)
    })
}

/// New dividers and boxes of a plan.
struct Wanted {
    dividers: u32,
    boxes: Vec<BoxKind>,
}

impl Wanted {
    fn of(&self, kind: BoxKind) -> u32 {
        self.boxes.iter().filter(|&&known| known == kind).count() as u32
    }
}

fn wanted(known: &wall::Known, plan: &crate::filing::Plan) -> Wanted {
    let mut dividers = 0;
    for planned in &plan.boxes {
        let here = |book: u32| planned.at.is_some() && known.wall.books[book as usize].at == planned.at;
        let groups = plan.order[planned.from..planned.to]
            .chunk_by(|&one, &next| plan.dividers[one as usize] == plan.dividers[next as usize]);
        dividers += groups.filter(|group| !group.iter().any(|&book| here(book))).count() as u32;
    }
    let boxes = plan.boxes.iter().filter(|planned: &&PlannedBox| planned.at.is_none());
    Wanted { dividers, boxes: boxes.map(|planned| planned.kind).collect() }
}

/// Sets what is in stock of an item.
///
/// # Errors
/// If the collection fails.
pub fn stock_set(
    store: &Store,
    item: Item,
    change: &StockChange,
    now: Timestamp,
) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Supplies, now, |writer| {
        let known = writer.stock(item)?;
        let stock = Stock {
            on_hand: change.on_hand.unwrap_or(known.on_hand),
            pack: change.pack.or(known.pack),
            pack_price: change.pack_price.or(known.pack_price),
        };
        writer.set_stock(item, &stock)
    })?;
    Ok(run)
}
