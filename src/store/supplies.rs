//! What is in stock, what has no bag yet, and what came lately.

use jiff::civil::Date;
use rusqlite::{OptionalExtension, params};

use super::{Store, StoreError, Writer, rows};
use crate::collection::{SizeClass, TitleId};
use crate::filing::{Item, Stock};

/// A size as it is taken where nobody said: that of today's comics.
const SIZE: &str = "coalesce(f.size, t.size, 'current')";

const FACTS: &str = "JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue \
                     LEFT JOIN issue_fact f ON f.id = issue.id LEFT JOIN title_fact t ON t.id = issue.title";

impl Store {
    /// What is in stock of an item.
    ///
    /// # Errors
    /// If the file fails.
    pub fn stock(&self, item: Item) -> Result<Stock, StoreError> {
        let mut statement = self.statement("SELECT on_hand, pack, pack_minor, currency FROM stock WHERE item = ?1")?;
        let stock = |row: &rusqlite::Row<'_>| {
            Ok(Stock { on_hand: row.get(0)?, pack: row.get(1)?, pack_price: rows::optional_money(row, 2)? })
        };
        Ok(statement.query_row([item.to_string()], stock).optional()?.unwrap_or_default())
    }

    /// How many copies that stand in no box have no bag, and how many no board, by size.
    ///
    /// # Errors
    /// If the file fails.
    pub fn not_bagged(&self) -> Result<Vec<(SizeClass, u32, u32)>, StoreError> {
        let mut statement = self.statement(&format!(
            "SELECT {SIZE}, count(*) - count(b.bag), count(*) - count(b.board) FROM held AS copy {FACTS} \
             LEFT JOIN copy_bag b ON b.id = copy.id WHERE copy.filing = 'unfiled' GROUP BY 1"
        ))?;
        let found = statement.query_map([], |row| Ok((rows::parsed(row, 0)?, row.get(1)?, row.get(2)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many copies of each title and size came after one day, up to another.
    ///
    /// # Errors
    /// If the file fails.
    pub fn came_by_title(&self, after: Date, until: Date) -> Result<Vec<(TitleId, SizeClass, u32)>, StoreError> {
        let mut statement = self.statement(&format!(
            "SELECT issue.title, {SIZE}, count(*) FROM held AS copy {FACTS} LEFT JOIN item ON item.id = copy.item \
             WHERE coalesce(copy.acquired, date(item.seen_at_ms / 1000, 'unixepoch')) > ?1 \
             AND coalesce(copy.acquired, date(item.seen_at_ms / 1000, 'unixepoch')) <= ?2 GROUP BY 1, 2 ORDER BY 1, 2"
        ))?;
        let days = [after.to_string(), until.to_string()];
        let found = statement.query_map(days, |row| Ok((row.get(0)?, rows::parsed(row, 1)?, row.get(2)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}

impl Writer<'_> {
    /// Keeps what is in stock of an item.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_stock(&self, item: Item, stock: &Stock) -> Result<(), StoreError> {
        if self.stock(item)? == *stock {
            return Ok(());
        }
        self.statement(
            "INSERT INTO stock (item, on_hand, pack, pack_minor, currency) VALUES (?1, ?2, ?3, ?4, ?5) \
             ON CONFLICT (item) DO UPDATE SET on_hand = excluded.on_hand, pack = excluded.pack, \
             pack_minor = excluded.pack_minor, currency = excluded.currency",
        )?
        .execute(params![
            item.to_string(),
            stock.on_hand,
            stock.pack,
            stock.pack_price.map(|price| price.minor_units),
            stock.pack_price.map(|price| price.currency.to_string())
        ])?;
        Ok(())
    }
}
