//! What tests of faults share.

use std::fs;
use std::path::Path;

/// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end.max(1)
    }
}

/// SQLite's checks of a file: its pages, its references, its full-text index. No file is sound.
pub fn sound(path: &Path) {
    if fs::metadata(path).is_ok_and(|file| file.len() > 0) {
        let sql = rusqlite::Connection::open(path).unwrap();
        let text = |what: &str| sql.query_row(what, [], |row| row.get::<_, String>(0)).unwrap();
        assert_eq!(text("PRAGMA integrity_check"), "ok", "{}", path.display());
        assert_eq!(text("SELECT ifnull(group_concat(\"table\"), 'none') FROM pragma_foreign_key_check"), "none");
        let searched: i64 = sql
            .query_row("SELECT count(*) FROM sqlite_schema WHERE name = 'title_search'", [], |row| row.get(0))
            .unwrap();
        if searched > 0 {
            // FTS5's own check, the 1 being 'compare with the titles' (sqlite.org/fts5.html).
            sql.execute("INSERT INTO title_search (title_search, rank) VALUES ('integrity-check', 1)", []).unwrap();
        }
    }
}
