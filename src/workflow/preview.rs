//! What a resolve would do, with nothing written.

use super::resolve::planned;
use super::{Decided, ResolveReport, Select, WorkflowError};
use crate::resolve::{Answers, Decision, Outcome, Plan, TitleRef};
use crate::store::{Store, StoreError};

/// What [`super::resolve`] would settle and ask. Copies have no numbers yet, and new titles none either.
///
/// # Errors
/// If an answer can't be used or the collection can't be read.
pub fn preview(store: &Store, answers: &Answers, select: Select) -> Result<ResolveReport, WorkflowError> {
    store.read(|store| {
        let (_, plan) = planned(store, &select, answers)?;
        let decided = decided_by(store, &plan)?;
        Ok(ResolveReport { run: None, decided, unknown: plan.unknown, open: plan.open })
    })
}

/// What a plan settles.
pub(super) fn decided_by(store: &Store, plan: &Plan) -> Result<Vec<Decided>, StoreError> {
    plan.decisions.iter().map(|decision| decided(store, plan, decision)).collect()
}

fn decided(store: &Store, plan: &Plan, decision: &Decision) -> Result<Decided, StoreError> {
    let decided = Decided::new(decision);
    Ok(match &decision.outcome {
        Outcome::Drop(why) => Decided { dropped: Some(why), ..decided },
        Outcome::Accept(accepted) => {
            let (id, name) = match accepted.title {
                TitleRef::Known(id) => (Some(id), Some(store.title(id)?.name)),
                TitleRef::New(index) => (None, plan.titles.get(index).map(|title| title.name.clone())),
            };
            decided.accepted(accepted, id, name)
        }
    })
}
