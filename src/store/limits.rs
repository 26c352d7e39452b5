//! What may be spent in a month.

use rusqlite::params;

use super::{Store, StoreError, Writer, rows};
use crate::collection::{Currency, Money};

impl Store {
    /// The limits, one a currency, by its letters.
    ///
    /// # Errors
    /// If the file fails.
    pub fn month_limits(&self) -> Result<Vec<Money>, StoreError> {
        let mut statement = self.statement("SELECT minor, currency FROM month_limit ORDER BY currency")?;
        let found =
            statement.query_map([], |row| Ok(Money { minor_units: row.get(0)?, currency: rows::parsed(row, 1)? }))?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}

impl Writer<'_> {
    /// Sets the limit in a currency.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_month_limit(&self, limit: Money) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO month_limit (currency, minor) VALUES (?1, ?2) \
             ON CONFLICT (currency) DO UPDATE SET minor = excluded.minor",
        )?
        .execute(params![limit.currency.as_str(), limit.minor_units])?;
        Ok(())
    }

    /// Removes the limit in a currency.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn remove_month_limit(&self, currency: Currency) -> Result<(), StoreError> {
        match self.statement("DELETE FROM month_limit WHERE currency = ?1")?.execute([currency.as_str()])? {
            0 => Err(StoreError::NoLimit(currency)),
            _ => Ok(()),
        }
    }
}
