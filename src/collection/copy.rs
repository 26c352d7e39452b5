//! A copy with all that is known of it, and what a person changes about it.

use std::fmt;
use std::str::FromStr;

use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;

use super::{CopyId, Discount, Edit, Grade, Money, SizeClass, Title};
use crate::code::{AddOn, Gtin};

/// Years after which a bag is looked at again, unless another age is given (common practice).
pub const BAG_YEARS: i16 = 7;

macro_rules! words {
    ($(#[$about:meta])* $name:ident, $what:literal, $error:ident: $($(#[$doc:meta])* $variant:ident = $word:literal $(| $other:literal)*,)+) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $name { $($(#[$doc])* $variant,)+ }

        #[doc = concat!("Why text is no ", $what, ".")]
        #[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
        #[error("'{0}' is no {what}; write one of: {all}", what = $what, all = [$($word),+].join(", "))]
        pub struct $error(String);

        impl $name {
            /// The word of the store and of JSON.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }

        impl FromStr for $name {
            type Err = $error;

            fn from_str(text: &str) -> Result<Self, $error> {
                match text.trim().to_lowercase().as_str() {
                    $($word $(| $other)* => Ok(Self::$variant),)+
                    _ => Err($error(text.trim().to_owned())),
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(self.word())
            }
        }

        impl Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }
    };
}

words! {
    /// What a bag is made of.
    BagMaterial, "bag", BagError:
    /// Clear and stiff.
    Polypropylene = "polypropylene" | "pp",
    /// Soft and slightly hazy.
    Polyethylene = "polyethylene" | "pe",
    /// PET film, often called by a maker's name.
    Polyester = "polyester" | "pet" | "mylar",
    /// It has a bag; of what, nobody said.
    Unknown = "unknown",
}

words! {
    /// What a backing board is.
    Board, "board", BoardError:
    /// Free of acid when it was made.
    AcidFree = "acid-free",
    /// With a reserve against acid throughout.
    Buffered = "buffered",
    /// It has a board; of what kind, nobody said.
    Unknown = "unknown",
}

words! {
    /// How a copy left.
    Leaving, "way to leave", LeavingError:
    /// For money.
    Sold = "sold",
    /// As a gift.
    Given = "given",
    /// For something else.
    Traded = "traded",
    /// Lost, stolen or destroyed.
    Lost = "lost",
}

/// What is known of a copy as a thing.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct CopyFacts {
    /// Its condition.
    pub condition: Option<Grade>,
    /// Notes of its defects.
    pub defects: Option<String>,
    /// Who signed it.
    pub signed_by: Option<String>,
    /// What its owner holds it to be worth: no appraisal.
    pub value: Option<Money>,
    /// When its owner said so.
    pub valued_on: Option<Date>,
}

/// What a copy is kept in.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Bagging {
    /// Its bag.
    pub bag: Option<BagMaterial>,
    /// Its backing board.
    pub board: Option<Board>,
    /// The size of both.
    pub bag_size: Option<SizeClass>,
    /// Since when.
    pub bagged_on: Option<Date>,
}

/// How a copy's price came about.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct PriceParts {
    /// The price on its cover.
    pub cover_price: Option<Money>,
    /// What the shop asked instead, as for a back issue.
    pub asked: Option<Money>,
    /// What was taken off.
    pub discount: Option<Discount>,
    /// The tax that came on top.
    pub tax: Option<Money>,
}

/// To whom a copy is lent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Loan {
    /// Who has it.
    pub to: String,
    /// Since when.
    pub since: Date,
}

/// How a copy left.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Departure {
    /// How.
    pub how: Leaving,
    /// When.
    pub on: Date,
    /// For how much.
    pub price: Option<Money>,
    /// To whom.
    pub to: Option<String>,
}

/// A copy that left, beside what it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Departed {
    /// Its number.
    pub copy: CopyId,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// How it left.
    #[serde(flatten)]
    pub gone: Departure,
}

/// A copy with all that is known of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CopyRecord {
    /// Its number.
    pub copy: CopyId,
    /// Its title.
    pub title: Title,
    /// Its issue; empty for a whole book.
    pub issue: String,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// Its main code, if known.
    pub code: Option<Gtin>,
    /// Its add-on, if it has one.
    pub add_on: Option<AddOn>,
    /// When it was acquired.
    pub acquired: Option<Date>,
    /// Where.
    pub shop: Option<String>,
    /// For how much, all in all.
    pub paid: Option<Money>,
    /// Whether it was read.
    pub read: bool,
    /// On which day, if that is known.
    pub read_on: Option<Date>,
    /// What is known of it as a thing.
    #[serde(flatten)]
    pub facts: CopyFacts,
    /// What it is kept in.
    #[serde(flatten)]
    pub bagging: Bagging,
    /// How its price came about.
    #[serde(flatten)]
    pub price: PriceParts,
    /// Whether a photo of it is kept.
    pub photo: bool,
    /// To whom it is lent.
    pub lent: Option<Loan>,
    /// How it left; `None` as long as it is owned.
    pub gone: Option<Departure>,
}

/// What a person changes about copies.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CopyChange {
    /// When they were acquired.
    pub acquired: Edit<Date>,
    /// Where.
    pub shop: Edit<String>,
    /// For how much each, all in all.
    pub paid: Edit<Money>,
    /// Condition.
    pub condition: Edit<Grade>,
    /// Notes of defects.
    pub defects: Edit<String>,
    /// Who signed them.
    pub signed_by: Edit<String>,
    /// What their owner holds each to be worth.
    pub value: Edit<Money>,
    /// Their bags.
    pub bag: Edit<BagMaterial>,
    /// Their boards.
    pub board: Edit<Board>,
    /// The size of both.
    pub bag_size: Edit<SizeClass>,
    /// Since when they are bagged; the day of the change, if a bag is given and no day.
    pub bagged_on: Edit<Date>,
    /// The price on the cover.
    pub cover_price: Edit<Money>,
    /// What the shop asked instead.
    pub asked: Edit<Money>,
    /// What was taken off.
    pub discount: Edit<Discount>,
    /// The tax that came on top.
    pub tax: Edit<Money>,
}

impl PriceParts {
    /// What the parts add up to: the price asked, or else the cover's, less the discount, plus the tax. `None` without a
    /// price, or if the tax is in another currency.
    #[must_use]
    pub fn paid(&self) -> Option<Money> {
        let less = self.discount.unwrap_or_default().off(self.asked.or(self.cover_price)?);
        match self.tax {
            None => Some(less),
            Some(tax) if tax.currency == less.currency => {
                let minor_units = less.minor_units.checked_add(tax.minor_units)?;
                Some(Money { minor_units, ..less })
            }
            Some(_) => None,
        }
    }
}

impl CopyRecord {
    /// Whether its bag is older than a bag should get: bagged before `limit`.
    #[must_use]
    pub fn bag_older_than(&self, limit: Date) -> bool {
        self.bagging.bag.is_some() && self.bagging.bagged_on.is_some_and(|since| since < limit)
    }

    /// Makes a change on `today`. What was paid is worked out if it is not known and the change says what was asked, taken off
    /// or put on top: the cover's price alone says nothing of it.
    pub fn change(&mut self, change: &CopyChange, today: Date) {
        change.acquired.apply(&mut self.acquired);
        change.shop.clone().apply(&mut self.shop);
        change.condition.apply(&mut self.facts.condition);
        change.defects.clone().apply(&mut self.facts.defects);
        change.signed_by.clone().apply(&mut self.facts.signed_by);
        change.value.apply(&mut self.facts.value);
        match change.value {
            Edit::Keep => {}
            Edit::Clear => self.facts.valued_on = None,
            Edit::To(_) => self.facts.valued_on = Some(today),
        }
        change.bag.apply(&mut self.bagging.bag);
        change.board.apply(&mut self.bagging.board);
        change.bag_size.apply(&mut self.bagging.bag_size);
        match (change.bag, change.bagged_on) {
            (Edit::To(_), Edit::Keep) => self.bagging.bagged_on = Some(today),
            (Edit::Clear, Edit::Keep) => self.bagging.bagged_on = None,
            (_, on) => on.apply(&mut self.bagging.bagged_on),
        }
        let before = PriceParts { cover_price: None, ..self.price.clone() };
        change.cover_price.apply(&mut self.price.cover_price);
        change.asked.apply(&mut self.price.asked);
        change.discount.apply(&mut self.price.discount);
        change.tax.apply(&mut self.price.tax);
        change.paid.apply(&mut self.paid);
        if self.paid.is_none() && (PriceParts { cover_price: None, ..self.price.clone() }) != before {
            self.paid = self.price.paid();
        }
    }
}

/// The day before which a bag was taken that is older than so many years.
#[must_use]
pub fn bag_limit(today: Date, years: i16) -> Date {
    today.saturating_sub(i64::from(years).years())
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn words_are_read_and_written() {
        for (typed, word) in [("PP", "polypropylene"), ("Mylar", "polyester"), (" unknown ", "unknown")] {
            assert_eq!(typed.parse::<BagMaterial>().unwrap().word(), word);
        }
        assert_eq!(
            "glass".parse::<BagMaterial>().unwrap_err().to_string(),
            "'glass' is no bag; write one of: polypropylene, polyethylene, polyester, unknown"
        );
        assert_eq!("Acid-Free".parse(), Ok(Board::AcidFree));
        assert!("burnt".parse::<Leaving>().is_err());
    }

    #[test]
    fn a_price_is_the_sum_of_its_parts() {
        let money = |text: &str| text.parse::<Money>().ok();
        let parts = |cover, asked, discount: &str, tax| PriceParts {
            cover_price: money(cover),
            asked: money(asked),
            discount: discount.parse().ok(),
            tax: money(tax),
        };
        // 3.99 less a tenth is 3.591, rounded to the cent.
        assert_eq!(parts("3.99 USD", "", "10 %", "").paid(), money("3.59 USD"));
        assert_eq!(parts("0.60 USD", "12 USD", "25 %", "0.72 USD").paid(), money("9.72 USD"));
        assert_eq!(parts("3.99 USD", "", "", "1 EUR").paid(), None);
        assert_eq!(parts("", "", "10 %", "1 USD").paid(), None);
        let most = Money { minor_units: i64::MAX, currency: "USD".parse().unwrap() };
        assert_eq!(PriceParts { asked: Some(most), ..parts("", "", "", "1 USD") }.paid(), None);
    }

    #[test]
    fn a_bag_is_older_than_its_years_the_day_after() {
        let limit = bag_limit(date(2026, 3, 4), BAG_YEARS);
        assert_eq!(limit, date(2019, 3, 4));
        assert_eq!(bag_limit(date(2024, 2, 29), 1), date(2023, 2, 28));
    }
}
