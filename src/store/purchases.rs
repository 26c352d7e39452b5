//! What a session's books were bought for.

use rusqlite::{OptionalExtension, params};

use super::{Store, StoreError, Writer, rows};
use crate::collection::{Discount, Money, Purchase};
use crate::intake::ItemId;

impl Store {
    /// The purchase that an item was staged under, if its session said anything of it.
    ///
    /// # Errors
    /// If the file fails.
    pub fn purchase_of(&self, item: ItemId) -> Result<Option<Purchase>, StoreError> {
        let mut statement = self.statement(
            "SELECT p.shop, p.acquired, p.cover_minor, p.currency, p.discount_hundredths \
             FROM item_purchase i JOIN purchase p ON p.id = i.purchase WHERE i.id = ?1",
        )?;
        let found = statement.query_row([item], |row| {
            let minor_units: Option<i64> = row.get(2)?;
            let currency = rows::optional_parsed(row, 3)?;
            let hundredths: Option<u16> = row.get(4)?;
            Ok(Purchase {
                shop: row.get(0)?,
                acquired: rows::optional_parsed(row, 1)?,
                cover_price: minor_units.zip(currency).map(|(minor_units, currency)| Money { minor_units, currency }),
                discount: hundredths.and_then(Discount::new),
            })
        });
        Ok(found.optional()?)
    }
}

impl Writer<'_> {
    /// Keeps with `item` what it was bought for. The same purchase is kept once.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_purchase(&self, item: ItemId, purchase: &Purchase) -> Result<(), StoreError> {
        let values = params![
            purchase.shop,
            purchase.acquired.map(|date| date.to_string()),
            purchase.cover_price.map(|price| price.minor_units),
            purchase.cover_price.map(|price| price.currency.to_string()),
            purchase.discount.map(Discount::hundredths_of_percent)
        ];
        let known: Option<i64> = self
            .statement(
                "SELECT id FROM purchase WHERE shop IS ?1 AND acquired IS ?2 AND cover_minor IS ?3 \
                 AND currency IS ?4 AND discount_hundredths IS ?5 ORDER BY id DESC LIMIT 1",
            )?
            .query_row(values, rows::first)
            .optional()?;
        let id = match known {
            Some(id) => id,
            None => {
                self.statement(
                    "INSERT INTO purchase (shop, acquired, cover_minor, currency, discount_hundredths) \
                     VALUES (?1, ?2, ?3, ?4, ?5)",
                )?
                .execute(values)?;
                self.connection.last_insert_rowid()
            }
        };
        self.statement("INSERT INTO item_purchase (id, purchase) VALUES (?1, ?2)")?.execute(params![item, id])?;
        Ok(())
    }
}
