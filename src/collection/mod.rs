//! What the record holds: publishers, titles, issues, printings and copies, and what they cost.
//!
//! How codes find their way here is left to [`crate::resolve`], rows to [`crate::store`]. Search and sort keys
//! are stored in collections: a change to [`search_key`] or [`IssueNumber::sort_key`] needs a migration that makes them
//! anew.

mod copy;
mod copy_filter;
mod expected;
mod facts;
mod checklist;
mod gaps;
mod grade;
mod key;
mod money;
mod number;
mod pile;
mod purchase;
mod records;
mod spend;
mod week;
mod year;

pub use checklist::{Checklist, Entry};
pub use copy::{
    BAG_YEARS, BagError, BagMaterial, Bagging, Board, BoardError, CopyChange, CopyFacts, CopyRecord, Departed,
    Departure, Leaving, LeavingError, Loan, PriceParts, bag_limit,
};
pub use copy_filter::CopyFilter;
pub use expected::{Arrived, Came, Comparison, Due, Standing, Want, compare};
pub use facts::{
    CoverDate, CoverDateError, Edit, IssueFacts, KnownIssue, KnownPrinting, PrintingFacts, SizeClass, SizeError,
    TitleFacts,
};
pub use gaps::gaps;
pub use grade::{Grade, GradeError};
pub use key::{issue_number, search_key, words};
pub use money::{Currency, Money, MoneyError};
pub use number::IssueNumber;
pub use pile::{PACE_WEEKS, Pile, Unread};
pub use purchase::{Discount, DiscountError, Purchase};
pub use records::{Copy, CopyId, IssueId, NewTitle, Owned, PrintingId, PublisherId, Title, TitleChange, TitleId};
pub use spend::{AgainstCover, Bought, SpendBy, SpendGroup, Spending, Spent, SumError};
pub use week::{Week, WeekError};
pub use year::{LeftCount, MonthCounts, WithoutDay, YearReview};
