//! Which copies are meant, the same for every command that takes a selection.

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;

use super::day::{Day, day};
use crate::collection::{BAG_YEARS, CopyFilter, CopyId, Grade, bag_limit};
use crate::workflow::{Bulk, Selection};

/// What tells the copies that are meant from others.
#[derive(Debug, Args)]
pub(super) struct Select {
    /// A code, a title and an issue, a title and issues such as 1-12, or a title
    #[arg(value_name = "WORD", allow_negative_numbers = true)]
    words: Vec<String>,
    /// Only those that were read
    #[arg(long, help_heading = "Which copies", conflicts_with = "unread")]
    read: bool,
    /// Only those that are unread
    #[arg(long, help_heading = "Which copies")]
    unread: bool,
    /// Only those in a bag
    #[arg(long, help_heading = "Which copies", conflicts_with = "not_bagged")]
    bagged: bool,
    /// Only those in no bag
    #[arg(long, help_heading = "Which copies")]
    not_bagged: bool,
    /// Only those on a backing board
    #[arg(long, help_heading = "Which copies", conflicts_with = "not_boarded")]
    boarded: bool,
    /// Only those without a backing board
    #[arg(long, help_heading = "Which copies")]
    not_boarded: bool,
    /// Only those whose bag is older than so many years, 7 if none are given
    #[arg(long, help_heading = "Which copies", value_name = "YEARS", value_parser = years, num_args = 0..=1, require_equals = true, default_missing_value = "7y")]
    bag_older_than: Option<i16>,
    /// Only those whose condition is known
    #[arg(long, help_heading = "Which copies", conflicts_with = "not_graded")]
    graded: bool,
    /// Only those whose condition nobody said
    #[arg(long, help_heading = "Which copies")]
    not_graded: bool,
    /// Only those in a worse condition
    #[arg(long, help_heading = "Which copies", value_name = "CONDITION")]
    condition_below: Option<Grade>,
    /// Only those in this condition or a better one
    #[arg(long, help_heading = "Which copies", value_name = "CONDITION")]
    condition_from: Option<Grade>,
    /// Only those bought in this shop
    #[arg(long, help_heading = "Which copies", value_name = "NAME")]
    shop: Option<String>,
    /// Only those of this publisher
    #[arg(long, help_heading = "Which copies", value_name = "NAME")]
    publisher: Option<String>,
    /// Only those bought on this day or later: today, or such as 2026-03-04
    #[arg(long, help_heading = "Which copies", value_name = "DAY", value_parser = day)]
    bought_from: Option<Day>,
    /// Only those bought on this day or earlier
    #[arg(long, help_heading = "Which copies", value_name = "DAY", value_parser = day)]
    bought_to: Option<Day>,
    /// Only those without a price
    #[arg(long, help_heading = "Which copies")]
    without_price: bool,
    /// Only those that are lent
    #[arg(long, help_heading = "Which copies", conflicts_with = "not_lent")]
    lent: bool,
    /// Only those that are not lent
    #[arg(long, help_heading = "Which copies")]
    not_lent: bool,
    /// Only those lent to this person
    #[arg(long, help_heading = "Which copies", value_name = "NAME")]
    lent_to: Option<String>,
    /// Only those that are signed
    #[arg(long, help_heading = "Which copies")]
    signed: bool,
    /// Those that left, instead of those that are owned
    #[arg(long, help_heading = "Which copies")]
    gone: bool,
}

/// For commands that change copies.
#[derive(Debug, Args)]
pub(super) struct Several {
    /// A copy's number, as boxward copy list tells it; may be given several times
    #[arg(long, value_name = "NUMBER", help_heading = "Which copies", conflicts_with = "words")]
    copy: Vec<CopyId>,
    /// Tells what would change, and changes nothing
    #[arg(long)]
    dry_run: bool,
}

impl Several {
    pub(super) fn selection(&self, select: &Select, now: Timestamp) -> Selection {
        Selection { copies: self.copy.clone(), ..select.selection(now) }
    }

    pub(super) fn bulk(&self, several: bool, day: Date) -> Bulk {
        // Copies named one by one are all meant.
        Bulk { dry_run: self.dry_run, several: several || self.copy.len() > 1, day }
    }
}

fn years(text: &str) -> Result<i16, String> {
    let number = text.trim().trim_end_matches('y');
    let years = number.parse().ok().filter(|years| (0..=200).contains(years));
    years.ok_or_else(|| format!("'{text}' is no age; write it in years, such as {BAG_YEARS}y"))
}

fn either(yes: bool, no: bool) -> Option<bool> {
    (yes || no).then_some(yes)
}

impl Select {
    pub(super) fn selection(&self, now: Timestamp) -> Selection {
        let date = |day: Option<Day>| day.map(|day| day.date(now));
        let filter = CopyFilter {
            gone: self.gone,
            read: either(self.read, self.unread),
            bagged: either(self.bagged, self.not_bagged),
            boarded: either(self.boarded, self.not_boarded),
            bagged_before: self.bag_older_than.map(|years| bag_limit(Day::Today.date(now), years)),
            graded: either(self.graded, self.not_graded),
            condition_below: self.condition_below,
            condition_from: self.condition_from,
            shop: self.shop.clone(),
            publisher: self.publisher.clone(),
            bought_from: date(self.bought_from),
            bought_to: date(self.bought_to),
            without_price: self.without_price,
            lent: either(self.lent, self.not_lent),
            lent_to: self.lent_to.clone(),
            signed: self.signed.then_some(true),
        };
        Selection { words: self.words.join(" "), copies: Vec::new(), filter }
    }

    /// Whether old bags are what is asked for.
    pub(super) fn asks_for_old_bags(&self) -> bool {
        self.bag_older_than.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ages_are_years() {
        assert_eq!([years("7y"), years("10"), years(" 0 ")], [Ok(7), Ok(10), Ok(0)]);
        assert_eq!(years("7y").unwrap(), BAG_YEARS);
        for text in ["", "y", "-1", "7m", "201", "seven"] {
            assert!(years(text).is_err(), "{text}");
        }
    }
}
