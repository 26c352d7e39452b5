//! What happened between two days.

use jiff::civil::Date;

use super::{Store, StoreError, rows};
use crate::collection::{LeftCount, WithoutDay};

impl Store {
    /// How many copies were read on days of each month, such as 2026-03, from one day to another.
    ///
    /// # Errors
    /// If the file fails.
    pub fn read_by_month(&self, from: Date, to: Date) -> Result<Vec<(String, u64)>, StoreError> {
        let mut statement = self.statement(
            "SELECT substr(read_on, 1, 7) AS month, count(*) FROM reading WHERE read_on BETWEEN ?1 AND ?2 GROUP BY month",
        )?;
        let found = statement
            .query_map([from.to_string(), to.to_string()], |row| Ok((row.get(0)?, row.get::<_, u32>(1)?.into())))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many copies came, and were read, nobody said when.
    ///
    /// # Errors
    /// If the file fails.
    pub fn without_day(&self) -> Result<WithoutDay, StoreError> {
        let mut statement = self.statement(
            "SELECT (SELECT count(*) FROM copy WHERE acquired IS NULL), (SELECT count(*) FROM copy WHERE reading = 'read' \
             AND NOT EXISTS (SELECT 1 FROM reading WHERE reading.id = copy.id))",
        )?;
        let count = |row: &rusqlite::Row<'_>, column| row.get::<_, u32>(column).map(u64::from);
        Ok(statement.query_row([], |row| Ok(WithoutDay { bought: count(row, 0)?, read: count(row, 1)? }))?)
    }

    /// How copies left from one day to another, by way and currency.
    ///
    /// # Errors
    /// If the file fails.
    pub fn left_within(&self, from: Date, to: Date) -> Result<Vec<LeftCount>, StoreError> {
        let mut statement = self.statement(
            "SELECT how, count(*), sum(price_minor), currency FROM departure WHERE left_on BETWEEN ?1 AND ?2 \
             GROUP BY how, currency ORDER BY how, currency",
        )?;
        let found = statement.query_map([from.to_string(), to.to_string()], |row| {
            Ok(LeftCount {
                how: rows::parsed(row, 0)?,
                copies: row.get::<_, u32>(1)?.into(),
                price: rows::optional_money(row, 2)?,
            })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}
