//! What the collector set about filing, measured, and has in stock.

use jiff::civil::Date;
use rusqlite::{OptionalExtension, params};

use super::{Store, StoreError, Writer, rows};
use crate::filing::Measurement;

impl Store {
    /// A setting by its name.
    ///
    /// # Errors
    /// If the file fails, or holds something that this program never writes.
    pub fn filing_setting<T: std::str::FromStr<Err: std::fmt::Display>>(
        &self,
        name: &str,
    ) -> Result<Option<T>, StoreError> {
        let mut statement = self.statement("SELECT value FROM filing_setting WHERE name = ?1")?;
        Ok(statement.query_row([name], |row| rows::parsed(row, 0)).optional()?)
    }

    /// What was measured, in the order in which it was.
    ///
    /// # Errors
    /// If the file fails.
    pub fn measurements(&self) -> Result<Vec<(i64, Date, Measurement, String)>, StoreError> {
        let mut statement = self
            .statement("SELECT id, measured_on, books, measured_um, estimated_um, note FROM measurement ORDER BY id")?;
        let um = |row: &rusqlite::Row<'_>, column| row.get::<_, i64>(column).map(i64::unsigned_abs);
        let found = statement.query_map([], |row| {
            let measurement = Measurement { books: row.get(2)?, measured_um: um(row, 3)?, estimated_um: um(row, 4)? };
            Ok((row.get(0)?, rows::parsed(row, 1)?, measurement, row.get(5)?))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}

impl Writer<'_> {
    /// Sets a setting.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_filing_setting(&self, name: &str, value: &str) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO filing_setting (name, value) VALUES (?1, ?2) \
             ON CONFLICT (name) DO UPDATE SET value = excluded.value WHERE value <> excluded.value",
        )?
        .execute([name, value])?;
        Ok(())
    }

    /// Keeps a measurement.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_measurement(&self, on: Date, measured: &Measurement, note: &str) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO measurement (measured_on, books, measured_um, estimated_um, note) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute(params![
            on.to_string(),
            measured.books,
            measured.measured_um.cast_signed(),
            measured.estimated_um.cast_signed(),
            note
        ])?;
        Ok(())
    }

    /// Forgets a measurement.
    ///
    /// # Errors
    /// If there is none of that number, or the file fails.
    pub fn remove_measurement(&self, id: i64) -> Result<(), StoreError> {
        match self.statement("DELETE FROM measurement WHERE id = ?1")?.execute([id])? {
            0 => Err(StoreError::NoMeasurement(id)),
            _ => Ok(()),
        }
    }
}
