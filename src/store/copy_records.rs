//! Copies with all that is known of them.

use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row, params_from_iter};

use super::titles::title_of;
use super::{PartOfTitle, Store, StoreError, rows};
use crate::collection::{
    Bagging, CopyFacts, CopyId, CopyRecord, Departed, Departure, Discount, Grade, IssueId, Loan, PriceParts, TitleId,
};

/// Which copies are looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CopyScope {
    /// All.
    All,
    /// Those of these titles.
    Titles(Vec<(TitleId, PartOfTitle)>),
    /// One by its number.
    Copy(CopyId),
}

/// The order in which they come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CopyOrder {
    /// By title, then by issue.
    Title,
    /// By publisher, those without one last, then by title and issue.
    Publisher,
}

/// A title's seven columns, then the copy's.
const COLUMNS: &str = "title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, \
    title.issue_base, copy.id, issue.number, printing.cover, printing.number, printing.gtin, printing.add_on, \
    copy.acquired, copy.shop, copy.paid_minor, copy.currency, copy.reading, reading.read_on, \
    f.grade_tenths, f.defects, f.signed_by, f.value_minor, f.value_currency, f.valued_on, \
    b.bag, b.board, b.size, b.since, \
    ifnull(p.cover_minor, printing_fact.cover_minor), ifnull(p.cover_currency, printing_fact.currency), \
    p.asked_minor, p.asked_currency, p.discount_hundredths, p.tax_minor, p.tax_currency, \
    EXISTS (SELECT 1 FROM copy_photo WHERE copy_photo.id = copy.id), \
    loan.borrower, loan.since, d.how, d.left_on, d.price_minor, d.currency, d.receiver";

const TABLES: &str = "copy JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue \
    JOIN title ON title.id = issue.title LEFT JOIN publisher ON publisher.id = title.publisher \
    LEFT JOIN reading ON reading.id = copy.id LEFT JOIN copy_fact f ON f.id = copy.id \
    LEFT JOIN copy_bag b ON b.id = copy.id LEFT JOIN copy_price p ON p.id = copy.id \
    LEFT JOIN printing_fact ON printing_fact.id = printing.id \
    LEFT JOIN loan ON loan.copy = copy.id AND loan.returned IS NULL LEFT JOIN departure d ON d.id = copy.id";

const BY_TITLE: &str =
    "title.search_key, title.start_year, title.id, issue.sort_key, printing.cover, printing.number, copy.id";

fn record_of(row: &Row<'_>) -> rusqlite::Result<CopyRecord> {
    let loan: Option<String> = row.get(37)?;
    let how = rows::optional_parsed(row, 39)?;
    Ok(CopyRecord {
        title: title_of(row)?,
        copy: row.get(7)?,
        issue: row.get(8)?,
        cover: row.get(9)?,
        printing: row.get(10)?,
        code: rows::gtin(row, 11)?,
        add_on: rows::optional_parsed(row, 12)?,
        acquired: rows::optional_parsed(row, 13)?,
        shop: row.get(14)?,
        paid: rows::optional_money(row, 15)?,
        read: row.get_ref(17)?.as_str()? == "read",
        read_on: rows::optional_parsed(row, 18)?,
        facts: CopyFacts {
            condition: row.get::<_, Option<u8>>(19)?.and_then(Grade::new),
            defects: row.get(20)?,
            signed_by: row.get(21)?,
            value: rows::optional_money(row, 22)?,
            valued_on: rows::optional_parsed(row, 24)?,
        },
        bagging: Bagging {
            bag: rows::optional_parsed(row, 25)?,
            board: rows::optional_parsed(row, 26)?,
            bag_size: rows::optional_parsed(row, 27)?,
            bagged_on: rows::optional_parsed(row, 28)?,
        },
        price: PriceParts {
            cover_price: rows::optional_money(row, 29)?,
            asked: rows::optional_money(row, 31)?,
            discount: row.get::<_, Option<u16>>(33)?.and_then(Discount::new),
            tax: rows::optional_money(row, 34)?,
        },
        photo: row.get(36)?,
        lent: loan.map(|to| Ok::<_, rusqlite::Error>(Loan { to, since: rows::parsed(row, 38)? })).transpose()?,
        gone: match how {
            None => None,
            Some(how) => Some(Departure {
                how,
                on: rows::parsed(row, 40)?,
                price: rows::optional_money(row, 41)?,
                to: row.get(43)?,
            }),
        },
    })
}

/// The condition that a scope is, and its values.
fn condition(scope: &CopyScope) -> (String, Vec<Value>) {
    match scope {
        CopyScope::All => ("1".to_owned(), Vec::new()),
        CopyScope::Copy(copy) => ("copy.id = ?".to_owned(), vec![copy.number().into()]),
        CopyScope::Titles(parts) => {
            let mut values: Vec<Value> = parts.iter().map(|(title, _)| title.number().into()).collect();
            // The titles by themselves first, so that SQLite begins with them.
            let all = vec!["?"; parts.len()].join(",");
            let mut each = Vec::new();
            for (title, part) in parts {
                let mut of = String::from("title.id = ?");
                values.push(title.number().into());
                if let Some((from, to)) = &part.issues {
                    of.push_str(" AND issue.sort_key BETWEEN ? AND ?");
                    values.extend([from, to].map(|issue| issue.sort_key().to_owned().into()));
                }
                if let Some(cover) = &part.cover {
                    of.push_str(" AND printing.cover = ?");
                    values.push(cover.clone().into());
                }
                if let Some(printing) = part.printing {
                    of.push_str(" AND printing.number = ?");
                    values.push(i64::from(printing).into());
                }
                each.push(format!("({of})"));
            }
            let each = if each.is_empty() { "0".to_owned() } else { each.join(" OR ") };
            (format!("title.id IN ({all}) AND ({each})"), values)
        }
    }
}

impl Store {
    /// Hands each copy of a scope to `each`, in order, whether it is owned or has left.
    ///
    /// # Errors
    /// As `each`, or if the file fails.
    pub fn each_copy<E: From<StoreError>>(
        &self,
        scope: &CopyScope,
        order: CopyOrder,
        each: &mut dyn FnMut(CopyRecord) -> Result<(), E>,
    ) -> Result<(), E> {
        let (condition, values) = condition(scope);
        let order = match order {
            CopyOrder::Title => BY_TITLE.to_owned(),
            CopyOrder::Publisher => format!("publisher.id IS NULL, publisher.search_key, publisher.id, {BY_TITLE}"),
        };
        let sql = format!("SELECT {COLUMNS} FROM {TABLES} WHERE {condition} ORDER BY {order}");
        let mut statement = self.connection.prepare(&sql).map_err(StoreError::from)?;
        let found = statement.query_map(params_from_iter(values), record_of).map_err(StoreError::from)?;
        for copy in found {
            each(copy.map_err(StoreError::from)?)?;
        }
        Ok(())
    }

    /// One copy.
    ///
    /// # Errors
    /// If there is none of that number, or the file fails.
    pub fn copy_record(&self, copy: CopyId) -> Result<CopyRecord, StoreError> {
        let mut found = None;
        self.each_copy(&CopyScope::Copy(copy), CopyOrder::Title, &mut |record| {
            found = Some(record);
            Ok::<_, StoreError>(())
        })?;
        found.ok_or(StoreError::NoCopy(copy))
    }

    /// The photo kept of a copy, as JPEG.
    ///
    /// # Errors
    /// If the file fails.
    pub fn copy_photo(&self, copy: CopyId) -> Result<Option<Vec<u8>>, StoreError> {
        let mut statement = self.statement("SELECT jpeg FROM copy_photo WHERE id = ?1")?;
        Ok(statement.query_row([copy], rows::first).optional()?)
    }

    /// The picture of the code that a copy came in by, as PNG.
    ///
    /// # Errors
    /// If the file fails.
    pub fn copy_crop(&self, copy: CopyId) -> Result<Option<Vec<u8>>, StoreError> {
        let mut statement =
            self.statement("SELECT crop.png FROM copy JOIN crop ON crop.id = copy.item WHERE copy.id = ?1")?;
        Ok(statement.query_row([copy], rows::first).optional()?)
    }

    /// Copies of issues that left, the last one first, each with its issue.
    ///
    /// # Errors
    /// If the file fails.
    pub fn departed_of_issues(&self, issues: &[IssueId]) -> Result<Vec<(IssueId, Departed)>, StoreError> {
        let mut statement = self.statement(
            "SELECT copy.id, printing.cover, printing.number, d.how, d.left_on, d.price_minor, d.currency, d.receiver, \
             asked.value FROM json_each(?1) AS asked CROSS JOIN printing ON printing.issue = asked.value \
             CROSS JOIN copy ON copy.printing = printing.id CROSS JOIN departure d ON d.id = copy.id \
             ORDER BY d.left_on DESC, copy.id DESC",
        )?;
        let found = statement.query_map([rows::array(issues.iter().map(|issue| issue.number()))], |row| {
            let departed = Departed {
                copy: row.get(0)?,
                cover: row.get(1)?,
                printing: row.get(2)?,
                gone: Departure {
                    how: rows::parsed(row, 3)?,
                    on: rows::parsed(row, 4)?,
                    price: rows::optional_money(row, 5)?,
                    to: row.get(7)?,
                },
            };
            Ok((row.get(8)?, departed))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}
