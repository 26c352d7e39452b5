//! Which copies are meant: what a person may say of them beside their titles.

use jiff::civil::Date;

use super::{CopyRecord, Grade, search_key};

/// What copies must be; what is `None` or false says nothing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CopyFilter {
    /// Those that left, instead of those that are owned.
    pub gone: bool,
    /// Read, or not.
    pub read: Option<bool>,
    /// In a bag, or not.
    pub bagged: Option<bool>,
    /// With a board, or not.
    pub boarded: Option<bool>,
    /// Bagged before this day.
    pub bagged_before: Option<Date>,
    /// With a condition, or not.
    pub graded: Option<bool>,
    /// In a worse condition than this.
    pub condition_below: Option<Grade>,
    /// In this condition or a better one.
    pub condition_from: Option<Grade>,
    /// Bought in this shop, in any spelling.
    pub shop: Option<String>,
    /// Of this publisher, in any spelling.
    pub publisher: Option<String>,
    /// Acquired on this day or later.
    pub bought_from: Option<Date>,
    /// Acquired on this day or earlier.
    pub bought_to: Option<Date>,
    /// Without a price.
    pub without_price: bool,
    /// Lent, or not.
    pub lent: Option<bool>,
    /// Lent to this person, in any spelling.
    pub lent_to: Option<String>,
    /// Signed, or not.
    pub signed: Option<bool>,
}

impl CopyFilter {
    /// Whether it says anything, so that it alone selects copies.
    #[must_use]
    pub fn says_something(&self) -> bool {
        *self != Self::default()
    }

    /// Whether a copy is meant.
    #[must_use]
    pub fn fits(&self, copy: &CopyRecord) -> bool {
        let is = |wanted: Option<bool>, fact: bool| wanted.is_none_or(|wanted| wanted == fact);
        let named = |wanted: &Option<String>, name: Option<&str>| {
            wanted.as_ref().is_none_or(|wanted| name.is_some_and(|name| search_key(name) == search_key(wanted)))
        };
        let condition = copy.facts.condition;
        let since = |wanted: Option<Date>| wanted.is_none_or(|day| copy.acquired.is_some_and(|on| on >= day));
        let until = |wanted: Option<Date>| wanted.is_none_or(|day| copy.acquired.is_some_and(|on| on <= day));
        self.gone == copy.gone.is_some()
            && is(self.read, copy.read)
            && is(self.bagged, copy.bagging.bag.is_some())
            && is(self.boarded, copy.bagging.board.is_some())
            && self.bagged_before.is_none_or(|day| copy.bag_older_than(day))
            && is(self.graded, condition.is_some())
            && self.condition_below.is_none_or(|grade| condition.is_some_and(|is| is < grade))
            && self.condition_from.is_none_or(|grade| condition.is_some_and(|is| is >= grade))
            && named(&self.shop, copy.shop.as_deref())
            && named(&self.publisher, copy.title.publisher.as_deref())
            && since(self.bought_from)
            && until(self.bought_to)
            && (!self.without_price || copy.paid.is_none())
            && is(self.lent, copy.lent.is_some())
            && named(&self.lent_to, copy.lent.as_ref().map(|loan| loan.to.as_str()))
            && is(self.signed, copy.facts.signed_by.is_some())
    }
}
