//! Queue and collection to decisions: a pure function over what waits, what is owned and what a person answered.
//!
//! Nothing is written here; [`crate::workflow`] applies the decisions. The JSON of [`Question`] is what `resolve --json`
//! prints and `--answers` takes: its fields must stay.

mod answers;
mod count;
mod decide;
mod desk;
mod identify;
mod known;
mod plan;
mod question;

pub use answers::{AnswerError, Answers};
pub use count::likely_number;
pub use decide::resolve;
pub use plan::{Accepted, Decision, Listed, Lookup, Outcome, Plan, ResolveError, TitleRef, Verdict};
pub use question::{
    AddOnQuestion, AnotherCopyQuestion, BookQuestion, CodeQuestion, CountQuestion, IssueQuestion, KeepQuestion,
    KnownTitle, LayoutQuestion, Means, Question, RepeatQuestion, TitleQuestion, WhichQuestion,
};
