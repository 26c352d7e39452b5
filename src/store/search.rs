//! Titles found by words of their names, by SQLite's full-text index.

use super::{Store, StoreError};
use crate::collection::Title;

/// Titles found by one look-up; more than a person reads at once.
pub const MOST_TITLES: u32 = 50;

/// Titles that fit some words, and whether more do than a look-up gives.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TitlesFound {
    /// Those whose names begin with the words come first, each kind by name.
    pub titles: Vec<Title>,
    /// Whether more words would be needed to see them all.
    pub more: bool,
}

impl Store {
    /// Titles with all of `words` in their names, the last one perhaps cut short. Words are folded as in
    /// [`crate::collection::words`].
    ///
    /// # Errors
    /// If the file fails.
    pub fn titles_with_words(&self, words: &[String]) -> Result<TitlesFound, StoreError> {
        let Some(last) = words.last() else { return Ok(TitlesFound::default()) };
        // A number is never cut short: 2 is a volume, and no beginning of 2099.
        let open = if last.bytes().all(|c| c.is_ascii_digit()) { "" } else { " *" };
        let beginning = self.matching(&format!("^ \"{}\"{open}", words.join(" ")))?;
        if beginning.len() > MOST_TITLES as usize {
            let titles = beginning.into_iter().take(MOST_TITLES as usize).collect();
            return Ok(TitlesFound { titles, more: true });
        }
        let anywhere = words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(" ");
        let anywhere = self.matching(&format!("{anywhere}{open}"))?;
        let more = anywhere.len() > MOST_TITLES as usize;
        let mut titles = beginning;
        let others = anywhere.into_iter().filter(|title| titles.iter().all(|known| known.id != title.id));
        titles.extend(others.collect::<Vec<_>>());
        titles.truncate(MOST_TITLES as usize);
        Ok(TitlesFound { titles, more })
    }

    /// At most one title more than [`MOST_TITLES`].
    fn matching(&self, expression: &str) -> Result<Vec<Title>, StoreError> {
        // In a subquery, so that the index is asked once and no table is gone through.
        self.titles_where(
            "WHERE title.id IN (SELECT rowid FROM title_search WHERE title_search MATCH ?1 LIMIT ?2) \
             ORDER BY title.search_key, title.start_year, title.id",
            rusqlite::params![expression, MOST_TITLES + 1],
        )
    }
}
