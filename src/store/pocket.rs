//! All that is owned at once, for a page that is searched without the collection.

use std::collections::BTreeMap;

use super::{Store, StoreError, rows};
use crate::code::Gtin;
use crate::collection::{Owned, TitleId};

/// An issue of which something is owned: its number, the plain number if it has one, and the printings.
pub type OwnedIssue = (String, Option<u32>, Vec<Owned>);

impl Store {
    /// Of every title the issues that are owned, in order.
    ///
    /// # Errors
    /// If the file fails.
    pub fn all_owned(&self) -> Result<BTreeMap<TitleId, Vec<OwnedIssue>>, StoreError> {
        let mut statement = self.statement(
            "SELECT issue.title, issue.id, issue.number, issue.whole_number, printing.cover, printing.number, \
             printing.gtin, printing.add_on, count(*) FROM held JOIN printing ON printing.id = held.printing \
             JOIN issue ON issue.id = printing.issue GROUP BY printing.id \
             ORDER BY issue.title, issue.sort_key, issue.id, printing.cover, printing.number, printing.id",
        )?;
        let mut found = statement.query([])?;
        let mut all: BTreeMap<TitleId, Vec<OwnedIssue>> = BTreeMap::new();
        let mut before: Option<i64> = None;
        while let Some(row) = found.next()? {
            let issues = all.entry(row.get(0)?).or_default();
            let issue: i64 = row.get(1)?;
            if before != Some(issue) {
                issues.push((row.get(2)?, row.get(3)?, Vec::new()));
                before = Some(issue);
            }
            let owned = Owned {
                cover: row.get(4)?,
                printing: row.get(5)?,
                code: rows::gtin(row, 6)?,
                add_on: rows::optional_parsed(row, 7)?,
                copies: row.get(8)?,
            };
            if let Some((_, _, printings)) = issues.last_mut() {
                printings.push(owned);
            }
        }
        Ok(all)
    }

    /// Of every title the codes that stand for it.
    ///
    /// # Errors
    /// If the file fails.
    pub fn all_codes(&self) -> Result<BTreeMap<TitleId, Vec<Gtin>>, StoreError> {
        let mut statement = self.statement("SELECT title, gtin FROM title_code ORDER BY title, gtin")?;
        let mut all: BTreeMap<TitleId, Vec<Gtin>> = BTreeMap::new();
        let mut found = statement.query([])?;
        while let Some(row) = found.next()? {
            all.entry(row.get(0)?).or_default().extend(rows::gtin(row, 1)?);
        }
        Ok(all)
    }
}
