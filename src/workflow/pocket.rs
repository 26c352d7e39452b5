//! What the page for the shop's counter holds.

use std::collections::BTreeMap;

use super::{WorkflowError, pull_list, want_list};
use crate::collection::{Due, TitleId, Want, Week};
use crate::report::PocketTitle;
use crate::store::Store;

/// Every title of which something is owned, wanted or expected, by name.
///
/// # Errors
/// If the collection can't be read.
pub fn pocket(store: &Store, week: Week) -> Result<Vec<PocketTitle>, WorkflowError> {
    let mut wants: BTreeMap<TitleId, Vec<(String, Want)>> = BTreeMap::new();
    for wanted in want_list(store, false)? {
        wants.entry(wanted.title.id).or_default().push((wanted.issue, wanted.want));
    }
    let mut dues: BTreeMap<TitleId, Vec<Due>> = BTreeMap::new();
    for due in pull_list(store, week, None)? {
        dues.entry(due.title.id).or_default().push(due);
    }
    store.read(|store| {
        let (mut owned, mut codes) = (store.all_owned()?, store.all_codes()?);
        let titles = store.titles(0, u32::MAX)?.into_iter().map(|title| PocketTitle {
            codes: codes.remove(&title.id).unwrap_or_default(),
            owned: owned.remove(&title.id).unwrap_or_default(),
            wants: wants.remove(&title.id).unwrap_or_default(),
            dues: dues.remove(&title.id).unwrap_or_default(),
            title,
        });
        let known = |title: &PocketTitle| !(title.owned.is_empty() && title.wants.is_empty() && title.dues.is_empty());
        Ok(titles.filter(known).collect())
    })
}
