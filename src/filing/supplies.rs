//! What to buy: bags, boards, dividers and boxes, for what is here and for what will come.

use std::fmt;
use std::str::FromStr;

use serde::Serialize;

use super::BoxKind;
use crate::collection::{Money, SizeClass};

/// Something that is bought to keep comics in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Item {
    /// Bags of a size.
    Bags(SizeClass),
    /// Backing boards of a size.
    Boards(SizeClass),
    /// Dividers.
    Dividers,
    /// Boxes of a kind.
    Boxes(BoxKind),
}

/// Why text is no item.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is nothing that is kept in stock; there are bags=SIZE, boards=SIZE, dividers and boxes=KIND")]
pub struct ItemError(String);

impl Item {
    /// How many a pack holds, unless the collector says otherwise (common practice).
    #[must_use]
    pub fn usual_pack(self) -> u32 {
        match self {
            Self::Bags(_) | Self::Boards(_) => 100,
            Self::Dividers => 25,
            Self::Boxes(_) => 1,
        }
    }
}

impl FromStr for Item {
    type Err = ItemError;

    fn from_str(text: &str) -> Result<Self, ItemError> {
        let wrong = || ItemError(text.trim().to_owned());
        let (word, of) = text.trim().split_once('=').unwrap_or((text.trim(), ""));
        match word {
            "bags" => of.parse().map(Self::Bags).map_err(|_| wrong()),
            "boards" => of.parse().map(Self::Boards).map_err(|_| wrong()),
            "boxes" => of.parse().map(Self::Boxes).map_err(|_| wrong()),
            "dividers" if of.is_empty() => Ok(Self::Dividers),
            _ => Err(wrong()),
        }
    }
}

impl fmt::Display for Item {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bags(size) => write!(f, "bags={size}"),
            Self::Boards(size) => write!(f, "boards={size}"),
            Self::Dividers => f.write_str("dividers"),
            Self::Boxes(kind) => write!(f, "boxes={kind}"),
        }
    }
}

impl Serialize for Item {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// What is in stock of an item, and what a pack is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stock {
    /// How many are there.
    pub on_hand: u32,
    /// How many a pack holds.
    pub pack: Option<u32>,
    /// What a pack costs.
    pub pack_price: Option<Money>,
}

/// What is needed of an item, and what to buy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Supply {
    /// The item.
    pub item: Item,
    /// Needed for what is here.
    pub here: u32,
    /// Needed for what will come.
    pub coming: u32,
    /// In stock.
    pub on_hand: u32,
    /// How many are missing.
    pub missing: u32,
    /// How many a pack holds.
    pub pack: u32,
    /// How many packs to buy.
    pub packs: u32,
    /// What they cost together, if the price of a pack is known.
    pub cost: Option<Money>,
}

impl Supply {
    /// What to buy of an item.
    #[must_use]
    pub fn new(item: Item, here: u32, coming: u32, stock: Stock) -> Self {
        let missing = here.saturating_add(coming).saturating_sub(stock.on_hand);
        let pack = stock.pack.unwrap_or(item.usual_pack()).max(1);
        let packs = missing.div_ceil(pack);
        let cost = stock.pack_price.and_then(|price| {
            let minor_units = price.minor_units.checked_mul(packs.into())?;
            Some(Money { minor_units, ..price })
        });
        Self { item, here, coming, on_hand: stock.on_hand, missing, pack, packs, cost }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_packs_are_bought_for_what_is_missing() {
        let stock = Stock { on_hand: 20, pack: None, pack_price: "9.50 USD".parse().ok() };
        // 31 and 12 dividers are needed, 20 are there: 23, one pack of 25.
        let dividers = Supply::new(Item::Dividers, 31, 12, stock);
        assert_eq!((dividers.missing, dividers.packs, dividers.cost), (23, 1, "9.50 USD".parse().ok()));
        let bags = Supply::new(Item::Bags(SizeClass::Current), 201, 0, Stock { on_hand: 0, ..stock });
        assert_eq!((bags.packs, bags.cost), (3, "28.50 USD".parse().ok()));
        let enough = Supply::new(Item::Dividers, 3, 4, Stock { on_hand: 7, ..Stock::default() });
        assert_eq!((enough.missing, enough.packs, enough.cost), (0, 0, None));
    }

    #[test]
    fn items_are_read_as_they_are_written() {
        for text in ["bags=current", "boards=golden", "dividers", "boxes=long"] {
            assert_eq!(text.parse::<Item>().unwrap().to_string(), text);
        }
        for text in ["", "bags", "bags=huge", "dividers=25", "boxes=round", "tape"] {
            assert!(text.parse::<Item>().is_err(), "{text}");
        }
    }
}
