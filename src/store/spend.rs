//! What copies cost, summed up by the database as far as it can.

use jiff::civil::Date;
use rusqlite::{Row, params};

use super::titles::title_of;
use super::{Store, StoreError, rows};
use crate::collection::{AgainstCover, Bought, Money, SpendBy, SpendGroup};

/// How copies are grouped: the columns, the tables that they come from, and the group that a row stands for.
type Grouping = (&'static str, &'static str, fn(&Row<'_>) -> rusqlite::Result<Option<SpendGroup>>);

const OF_TITLE: &str = "copy JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue \
                        JOIN title ON title.id = issue.title LEFT JOIN publisher ON publisher.id = title.publisher";

fn grouping(by: SpendBy) -> Grouping {
    match by {
        SpendBy::Week => ("acquired", "copy", |row| Ok(day(row)?.map(SpendGroup::week))),
        SpendBy::Month => ("acquired", "copy", |row| Ok(day(row)?.map(SpendGroup::month))),
        SpendBy::Shop => ("shop", "copy", name),
        SpendBy::Publisher => ("publisher.name", OF_TITLE, name),
        SpendBy::Title => (
            "title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, title.issue_base",
            OF_TITLE,
            |row| title_of(row).map(SpendGroup::title).map(Some),
        ),
    }
}

fn day(row: &Row<'_>) -> rusqlite::Result<Option<Date>> {
    rows::optional_parsed(row, 0)
}

fn name(row: &Row<'_>) -> rusqlite::Result<Option<SpendGroup>> {
    Ok(row.get::<_, Option<String>>(0)?.map(|name| SpendGroup::named(&name)))
}

impl Store {
    /// Copies and what they cost, in no order and a group perhaps in several parts. Between two days, only copies of
    /// which the day is known.
    ///
    /// # Errors
    /// If the file fails.
    pub fn bought(&self, by: SpendBy, from: Option<Date>, to: Option<Date>) -> Result<Vec<Bought>, StoreError> {
        let (columns, tables, group) = grouping(by);
        let mut statement = self.statement(&format!(
            "SELECT {columns}, count(*) AS copies, sum(paid_minor) AS paid, currency FROM {tables} \
             WHERE (?1 IS NULL OR acquired >= ?1) AND (?2 IS NULL OR acquired <= ?2) GROUP BY {columns}, currency"
        ))?;
        let found = statement.query_map(params![from.map(|d| d.to_string()), to.map(|d| d.to_string())], |row| {
            let currency = row.as_ref().column_index("currency")?;
            let minor_units: Option<i64> = row.get("paid")?;
            let currency = rows::optional_parsed(row, currency)?;
            let paid = minor_units.zip(currency).map(|(minor_units, currency)| Money { minor_units, currency });
            Ok(Bought { group: group(row)?, copies: row.get::<_, u32>("copies")?.into(), paid })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// What the covers of copies say against what was paid, in no order, as [`Store::bought`] groups them: of copies of
    /// which both are known in one currency. A copy's own cover price counts before that of its printing.
    ///
    /// # Errors
    /// If the file fails.
    pub fn bought_against_cover(
        &self,
        by: SpendBy,
        from: Option<Date>,
        to: Option<Date>,
    ) -> Result<Vec<(Option<SpendGroup>, AgainstCover)>, StoreError> {
        let (columns, tables, group) = grouping(by);
        let mut statement = self.statement(&format!(
            "SELECT {columns}, count(*) AS copies, sum(copy.paid_minor) AS paid, \
             sum(coalesce(p.cover_minor, f.cover_minor)) AS cover, copy.currency AS money FROM {tables} \
             LEFT JOIN copy_price p ON p.id = copy.id LEFT JOIN printing_fact f ON f.id = copy.printing \
             WHERE (?1 IS NULL OR acquired >= ?1) AND (?2 IS NULL OR acquired <= ?2) \
             AND copy.currency = coalesce(p.cover_currency, f.currency) GROUP BY {columns}, money"
        ))?;
        let found = statement.query_map(params![from.map(|d| d.to_string()), to.map(|d| d.to_string())], |row| {
            let currency = rows::parsed(row, row.as_ref().column_index("money")?)?;
            let [cover, paid] = [row.get("cover")?, row.get("paid")?];
            let money = |minor_units| Money { minor_units, currency };
            let copies = row.get::<_, u32>("copies")?.into();
            Ok((group(row)?, AgainstCover { copies, cover: money(cover), paid: money(paid) }))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}
