//! What changes about copies: facts, bags, prices, photos, loans, departures.

use jiff::civil::Date;
use rusqlite::{OptionalExtension, params};

use super::{Store, StoreError, Writer, rows};
use crate::collection::{Bagging, CopyFacts, CopyId, CopyRecord, Departure, Discount, Loan, Money, PriceParts};

fn parts(money: Option<Money>) -> (Option<i64>, Option<String>) {
    money.map(|money| (money.minor_units, money.currency.to_string())).unzip()
}

fn text(date: Option<Date>) -> Option<String> {
    date.map(|date| date.to_string())
}

impl Store {
    fn own_cover_price(&self, copy: CopyId) -> Result<Option<Money>, StoreError> {
        let mut statement = self.statement("SELECT cover_minor, cover_currency FROM copy_price WHERE id = ?1")?;
        Ok(statement.query_row([copy], |row| rows::optional_money(row, 0)).optional()?.flatten())
    }

    fn forget(&self, table: &str, copy: CopyId) -> Result<(), StoreError> {
        self.statement(&format!("DELETE FROM {table} WHERE id = ?1"))?.execute([copy])?;
        Ok(())
    }
}

impl Writer<'_> {
    /// Keeps what a copy has become by this day; `old` is what it was. Its photo is kept by a call of its own.
    ///
    /// # Errors
    /// If the file fails.
    pub fn update_copy(&self, old: &CopyRecord, new: &CopyRecord, day: Date) -> Result<(), StoreError> {
        let copy = new.copy;
        if (&old.acquired, &old.shop, &old.paid) != (&new.acquired, &new.shop, &new.paid) {
            let (paid, currency) = parts(new.paid);
            self.statement("UPDATE copy SET acquired = ?2, shop = ?3, paid_minor = ?4, currency = ?5 WHERE id = ?1")?
                .execute(params![copy, text(new.acquired), new.shop, paid, currency])?;
        }
        if old.facts != new.facts {
            self.set_copy_facts(copy, &new.facts)?;
        }
        if old.bagging != new.bagging {
            self.set_bagging(copy, &new.bagging)?;
        }
        if old.price != new.price {
            let same_cover = old.price.cover_price == new.price.cover_price;
            // What the catalogue says of the printing is not the copy's own to keep.
            let cover_price = if same_cover { self.own_cover_price(copy)? } else { new.price.cover_price };
            self.set_price_parts(copy, &PriceParts { cover_price, ..new.price.clone() })?;
        }
        match (&old.lent, &new.lent) {
            (None, Some(loan)) => self.lend(copy, loan)?,
            (Some(_), None) => self.take_back(copy, day)?,
            _ => {}
        }
        match (&old.gone, &new.gone) {
            (None, Some(departure)) => self.leave(copy, departure),
            _ => Ok(()),
        }
    }

    fn set_copy_facts(&self, copy: CopyId, facts: &CopyFacts) -> Result<(), StoreError> {
        if *facts == CopyFacts::default() {
            return self.forget("copy_fact", copy);
        }
        let (value, currency) = parts(facts.value);
        self.statement(
            "INSERT INTO copy_fact (id, grade_tenths, defects, signed_by, value_minor, value_currency, valued_on) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO UPDATE SET grade_tenths = excluded.grade_tenths, \
             defects = excluded.defects, signed_by = excluded.signed_by, value_minor = excluded.value_minor, \
             value_currency = excluded.value_currency, valued_on = excluded.valued_on",
        )?
        .execute(params![
            copy,
            facts.condition.map(|grade| grade.tenths()),
            facts.defects,
            facts.signed_by,
            value,
            currency,
            text(facts.valued_on)
        ])?;
        Ok(())
    }

    fn set_bagging(&self, copy: CopyId, bagging: &Bagging) -> Result<(), StoreError> {
        if *bagging == Bagging::default() {
            return self.forget("copy_bag", copy);
        }
        self.statement(
            "INSERT INTO copy_bag (id, bag, board, size, since) VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (id) \
             DO UPDATE SET bag = excluded.bag, board = excluded.board, size = excluded.size, since = excluded.since",
        )?
        .execute(params![
            copy,
            bagging.bag.map(|bag| bag.word()),
            bagging.board.map(|board| board.word()),
            bagging.bag_size.map(|size| size.word()),
            text(bagging.bagged_on)
        ])?;
        Ok(())
    }

    /// Keeps how a copy's price came about.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_price_parts(&self, copy: CopyId, price: &PriceParts) -> Result<(), StoreError> {
        if *price == PriceParts::default() {
            return self.forget("copy_price", copy);
        }
        let ((cover, cover_in), (asked, asked_in)) = (parts(price.cover_price), parts(price.asked));
        let (tax, tax_in) = parts(price.tax);
        self.statement(
            "INSERT INTO copy_price (id, cover_minor, cover_currency, asked_minor, asked_currency, \
             discount_hundredths, tax_minor, tax_currency) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) \
             ON CONFLICT (id) DO UPDATE SET cover_minor = excluded.cover_minor, \
             cover_currency = excluded.cover_currency, asked_minor = excluded.asked_minor, \
             asked_currency = excluded.asked_currency, discount_hundredths = excluded.discount_hundredths, \
             tax_minor = excluded.tax_minor, tax_currency = excluded.tax_currency",
        )?
        .execute(params![
            copy,
            cover,
            cover_in,
            asked,
            asked_in,
            price.discount.map(Discount::hundredths_of_percent),
            tax,
            tax_in
        ])?;
        Ok(())
    }

    /// Keeps a photo of a copy, as JPEG, in place of one that is kept; `None` keeps none.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_copy_photo(&self, copy: CopyId, jpeg: Option<&[u8]>) -> Result<(), StoreError> {
        let Some(jpeg) = jpeg else { return self.forget("copy_photo", copy) };
        self.statement(
            "INSERT INTO copy_photo (id, jpeg) VALUES (?1, ?2) ON CONFLICT (id) DO UPDATE SET jpeg = excluded.jpeg",
        )?
        .execute(params![copy, jpeg])?;
        Ok(())
    }

    fn lend(&self, copy: CopyId, loan: &Loan) -> Result<(), StoreError> {
        self.statement("INSERT INTO loan (copy, borrower, since) VALUES (?1, ?2, ?3)")?.execute(params![
            copy,
            loan.to,
            loan.since.to_string()
        ])?;
        Ok(())
    }

    fn take_back(&self, copy: CopyId, on: Date) -> Result<(), StoreError> {
        self.statement("UPDATE loan SET returned = ?2 WHERE copy = ?1 AND returned IS NULL")?
            .execute(params![copy, on.to_string()])?;
        Ok(())
    }

    fn leave(&self, copy: CopyId, departure: &Departure) -> Result<(), StoreError> {
        let (price, currency) = parts(departure.price);
        self.statement(
            "INSERT INTO departure (id, how, left_on, price_minor, currency, receiver) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .execute(params![
            copy,
            departure.how.word(),
            departure.on.to_string(),
            price,
            currency,
            departure.to
        ])?;
        Ok(())
    }
}
