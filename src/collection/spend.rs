//! What books cost, summed up without ever adding one currency to another.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::{Currency, Money, Title, search_key};

/// What spending is grouped by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SpendBy {
    /// Weeks, from Monday (ISO 8601).
    Week,
    /// Calendar months.
    Month,
    /// Publishers.
    Publisher,
    /// Titles.
    Title,
    /// Shops.
    Shop,
}

/// What was spent on one group of copies.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Spent {
    /// Copies bought.
    pub copies: u64,
    /// Those of them whose price is not known.
    pub without_price: u64,
    /// What the others cost, one sum a currency.
    pub paid: Vec<Money>,
    /// What covers say against what was paid, one a currency; empty unless it is asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub against_cover: Vec<AgainstCover>,
}

/// The cover prices of copies of which both prices are known in one currency, and what was paid for these.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct AgainstCover {
    /// How many.
    pub copies: u64,
    /// What their covers say.
    pub cover: Money,
    /// What was paid, in the same currency.
    pub paid: Money,
}

impl AgainstCover {
    /// What was paid less than the covers say; below zero if it was more.
    #[must_use]
    pub fn saved(&self) -> Money {
        Money { minor_units: self.cover.minor_units.saturating_sub(self.paid.minor_units), ..self.cover }
    }
}

/// What some copies have in common: the week, the month, the publisher, the title or the shop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpendGroup {
    /// Its place among others; the same for the same group.
    pub key: String,
    /// Its name.
    pub name: String,
    /// The title, if it is one.
    pub title: Option<Title>,
}

/// Copies that were bought, and what they cost together if their price is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bought {
    /// Their group; `None` if it is not known.
    pub group: Option<SpendGroup>,
    /// How many.
    pub copies: u64,
    /// For how much.
    pub paid: Option<Money>,
}

/// A sum that no 64-bit number of minor units holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the sum in {0} is too large; a price must be wrong")]
pub struct SumError(pub Currency);

impl Spent {
    /// Adds copies that cost `paid` together, or whose price is not known.
    ///
    /// # Errors
    /// If the sum is too large.
    pub fn add(&mut self, copies: u64, paid: Option<Money>) -> Result<(), SumError> {
        self.copies += copies;
        let Some(paid) = paid else {
            self.without_price += copies;
            return Ok(());
        };
        match self.paid.binary_search_by_key(&paid.currency, |sum| sum.currency) {
            Ok(at) => self.paid[at] = sum(self.paid[at], paid)?,
            Err(at) => self.paid.insert(at, paid),
        }
        Ok(())
    }

    /// Adds copies of which cover price and price are known.
    ///
    /// # Errors
    /// If a sum is too large.
    pub fn add_against_cover(&mut self, new: AgainstCover) -> Result<(), SumError> {
        match self.against_cover.binary_search_by_key(&new.cover.currency, |known| known.cover.currency) {
            Ok(at) => {
                let known = &mut self.against_cover[at];
                known.copies += new.copies;
                known.cover = sum(known.cover, new.cover)?;
                known.paid = sum(known.paid, new.paid)?;
            }
            Err(at) => self.against_cover.insert(at, new),
        }
        Ok(())
    }
}

fn sum(a: Money, b: Money) -> Result<Money, SumError> {
    let minor_units = a.minor_units.checked_add(b.minor_units).ok_or(SumError(a.currency))?;
    Ok(Money { minor_units, ..a })
}

/// Groups of copies, in order; those of which the group is not known come last.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Spending {
    groups: BTreeMap<String, (SpendGroup, Spent)>,
    unknown: Spent,
    /// All of them.
    pub total: Spent,
}

impl Spending {
    /// Adds copies to their group.
    ///
    /// # Errors
    /// If a sum is too large.
    pub fn add(&mut self, bought: Bought) -> Result<(), SumError> {
        let Bought { group, copies, paid } = bought;
        self.total.add(copies, paid)?;
        self.of(group).add(copies, paid)
    }

    /// Adds what covers say to a group.
    ///
    /// # Errors
    /// If a sum is too large.
    pub fn add_against_cover(&mut self, group: Option<SpendGroup>, new: AgainstCover) -> Result<(), SumError> {
        self.total.add_against_cover(new)?;
        self.of(group).add_against_cover(new)
    }

    fn of(&mut self, group: Option<SpendGroup>) -> &mut Spent {
        let Some(group) = group else { return &mut self.unknown };
        &mut self.groups.entry(group.key.clone()).or_insert_with(|| (group, Spent::default())).1
    }

    /// Each group and what was spent on it.
    pub fn groups(&self) -> impl Iterator<Item = (Option<&SpendGroup>, &Spent)> {
        let known = self.groups.values().map(|(group, spent)| (Some(group), spent));
        known.chain((self.unknown.copies > 0).then_some((None, &self.unknown)))
    }
}

impl SpendGroup {
    /// A group that is known by a name alone.
    #[must_use]
    pub fn named(name: &str) -> Self {
        Self { key: search_key(name), name: name.to_owned(), title: None }
    }

    /// A title; of two with one name, the earlier is first.
    #[must_use]
    pub fn title(title: Title) -> Self {
        let key = format!("{}\0{:05}\0{}", search_key(&title.name), title.year.unwrap_or_default(), title.id);
        Self { key, name: title.name.clone(), title: Some(title) }
    }

    /// The month of a day, such as 2026-03.
    #[must_use]
    pub fn month(day: Date) -> Self {
        Self::time(format!("{:04}-{:02}", day.year(), day.month()))
    }

    /// The week of a day, such as 2026-W10: by ISO 8601, a week belongs to the year of its Thursday.
    #[must_use]
    pub fn week(day: Date) -> Self {
        let week = day.iso_week_date();
        Self::time(format!("{:04}-W{:02}", week.year(), week.week()))
    }

    fn time(name: String) -> Self {
        Self { key: name.clone(), name, title: None }
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn currencies_are_never_added_to_each_other() {
        let mut spent = Spent::default();
        for paid in ["3.99 USD", "480 JPY", "0.01 USD", "2.50 GBP"] {
            spent.add(1, paid.parse().ok()).unwrap();
        }
        spent.add(2, None).unwrap();
        let sums: Vec<_> = spent.paid.iter().map(ToString::to_string).collect();
        assert_eq!((spent.copies, spent.without_price), (6, 2));
        assert_eq!(sums, ["2.50 GBP", "480 JPY", "4.00 USD"]);
        let most = Money { minor_units: i64::MAX, currency: "USD".parse().unwrap() };
        assert_eq!(spent.add(1, Some(most)), Err(SumError(most.currency)));
    }

    #[test]
    fn weeks_are_those_of_iso_8601() {
        // Worked examples of the standard: 29 December 2008 and 3 January 2010.
        assert_eq!(SpendGroup::week(date(2008, 12, 29)).name, "2009-W01");
        assert_eq!(SpendGroup::week(date(2010, 1, 3)).name, "2009-W53");
        assert_eq!(SpendGroup::month(date(2026, 3, 4)).name, "2026-03");
    }

    #[test]
    fn what_belongs_to_no_group_comes_last() {
        let mut spending = Spending::default();
        for (key, copies) in [(None, 1), (Some("b"), 1), (Some("a"), 2)] {
            let group = key.map(|key| SpendGroup { key: key.to_owned(), name: key.to_owned(), title: None });
            spending.add(Bought { group, copies, paid: None }).unwrap();
        }
        let groups: Vec<_> =
            spending.groups().map(|(group, spent)| (group.map(|g| g.name.as_str()), spent.copies)).collect();
        assert_eq!((groups, spending.total.copies), (vec![(Some("a"), 2), (Some("b"), 1), (None, 1)], 4));
    }
}
