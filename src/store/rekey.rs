//! Issues' sort keys made anew, after the rule for them has changed.

use rusqlite::{Connection, params};

use crate::collection::{IssueId, IssueNumber};
use crate::intake::RunId;

/// Every issue's key.
pub(super) fn all(connection: &Connection) -> rusqlite::Result<()> {
    rekey(connection, "", [])
}

/// Those of the issues that `run` wrote: an old run's, brought back, has the keys of its time.
pub(super) fn of_run(connection: &Connection, run: RunId) -> rusqlite::Result<()> {
    rekey(connection, "WHERE id IN (SELECT row FROM change WHERE run = ?1 AND tbl = 'issue')", [run])
}

/// An issue whose new key another one of its title has (½ beside 1/2) keeps its own: a person tells them apart.
fn rekey(connection: &Connection, which: &str, values: impl rusqlite::Params) -> rusqlite::Result<()> {
    let mut select = connection.prepare(&format!("SELECT id, number, sort_key FROM issue {which}"))?;
    let mut rows = select.query(values)?;
    let mut changed = Vec::new();
    while let Some(row) = rows.next()? {
        let number = IssueNumber::new(row.get_ref(1)?.as_str()?);
        if number.sort_key() != row.get_ref(2)?.as_str()? {
            changed.push((row.get::<_, IssueId>(0)?, number));
        }
    }
    let mut update = connection.prepare("UPDATE OR IGNORE issue SET sort_key = ?2 WHERE id = ?1")?;
    changed.iter().try_for_each(|(id, number)| update.execute(params![id, number.sort_key()]).map(drop))
}
