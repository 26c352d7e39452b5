//! Fills a collection file with any number of copies, fast: as a collection looks after years of imports and resolves,
//! its journal included.

use std::path::Path;

use boxward::code::check_digit;
use boxward::collection::{IssueNumber, search_key};
use boxward::store::Store;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rusqlite::{Connection, params};

/// Issues that each title has; long runs make what is asked per title dearer, not cheaper.
pub const ISSUES: u32 = 200;

/// The day on which the last copy came.
pub const LAST_DAY: Date = date(2026, 3, 4);

/// The days over which they came: twenty years.
const DAYS: i64 = 7305;

/// One copy of so many is unread.
const UNREAD_OF: u32 = 200;

/// One copy of so many was bought a second time and sold.
const SOLD_OF: u32 = 100;

/// The copies ever bought of a collection in which so many are owned.
pub fn ever_bought(copies: u32) -> u32 {
    copies + copies / SOLD_OF
}

const FIRST: [&str; 40] = [
    "Night",
    "Harbour",
    "Lantern",
    "Copper",
    "Silent",
    "Glass",
    "Winter",
    "Thunder",
    "Paper",
    "Iron",
    "Velvet",
    "Salt",
    "Crooked",
    "Golden",
    "Hollow",
    "Distant",
    "Crimson",
    "Marble",
    "Wandering",
    "Broken",
    "Electric",
    "Amber",
    "Quiet",
    "Burning",
    "Clockwork",
    "Feathered",
    "Granite",
    "Hidden",
    "Ivory",
    "Jagged",
    "Lost",
    "Moonlit",
    "Northern",
    "Opal",
    "Painted",
    "Restless",
    "Sunken",
    "Tangled",
    "Umber",
    "Wild",
];
const SECOND: [&str; 40] = [
    "Ferry",
    "Lights",
    "Street",
    "Garden",
    "Engine",
    "Orchard",
    "Signal",
    "Bridge",
    "Kingdom",
    "Parade",
    "Station",
    "Cartographer",
    "Tide",
    "Circus",
    "Archive",
    "Meadow",
    "Compass",
    "Quarry",
    "Observatory",
    "Pilot",
    "Rookery",
    "Sparrow",
    "Tower",
    "Valley",
    "Watch",
    "Wharf",
    "Anvil",
    "Beacon",
    "Canal",
    "Dynamo",
    "Expedition",
    "Foundry",
    "Gazette",
    "Hotel",
    "Island",
    "Junction",
    "Keeper",
    "Lagoon",
    "Menagerie",
    "Nocturne",
];
/// Titles that are only known, as from a list, for each one of which copies are owned: 50,000 in all at a million copies.
pub const KNOWN_FOR_ONE_OWNED: u32 = 9;

const FOURTH: [&str; 7] = ["", " of the North", " Quarterly", " Unbound", " Returns", " After Dark", " Chronicle"];
const THIRD: [&str; 5] = ["", " Stories", " Adventures", " Annual", " Reborn"];

/// The twelve digits of the n-th title: GS1 US's example prefix.
pub fn code(title: u32) -> String {
    let digits = format!("0614141{title:05}");
    let values: Vec<u8> = digits.bytes().map(|b| b - b'0').collect();
    // Five item digits and the prefix are twelve with the leading 0; the check digit makes thirteen.
    format!("{digits}{}", check_digit(&values))
}

/// The name of the n-th title.
pub fn name(title: u32) -> String {
    let title = title as usize;
    let (first, second) = (FIRST[title % 40], SECOND[title / 40 % 40]);
    format!("The {first} {second}{}{}", THIRD[title / 1600 % 5], FOURTH[title / 8000 % 7])
}

/// Makes a collection of `copies` copies at `path`.
pub fn fill(path: &Path, copies: u32) {
    drop(Store::open(path).unwrap());
    let mut connection = Connection::open(path).unwrap();
    // A crash while filling costs nothing but the filling.
    connection
        .execute_batch("PRAGMA synchronous = OFF; PRAGMA cache_size = -200000; PRAGMA foreign_keys = OFF")
        .unwrap();
    let transaction = connection.transaction().unwrap();
    {
        let run = |sql: &str, values: &[&dyn rusqlite::ToSql]| {
            transaction.prepare_cached(sql).unwrap().execute(values).unwrap();
        };
        let journal = |table: &str, row: u32| {
            let inverse = format!("DELETE FROM {table} WHERE id={row}");
            run(
                "INSERT INTO change (run, tbl, row, inverse) VALUES (?1, ?2, ?3, ?4)",
                params![row / 40 + 1, table, row, inverse],
            );
        };
        run("INSERT INTO publisher (name, search_key) VALUES ('Lantern Street', 'lantern street')", &[]);
        for run_id in 0..=copies / 40 {
            run(
                "INSERT INTO run (id, kind, started_ms, finished_ms) VALUES (?1, 'resolve', 0, 0)",
                params![run_id + 1],
            );
        }
        let insert_title = |title: u32| {
            let gtin: i64 = code(title).parse().unwrap();
            run(
                "INSERT INTO title (id, publisher, name, search_key, start_year, layout) VALUES (?1, 1, ?2, ?3, ?4, 'IIICP')",
                params![title + 1, name(title), search_key(&name(title)), 1990 + title % 36],
            );
            run("INSERT INTO title_code (gtin, title) VALUES (?1, ?2)", params![gtin, title + 1]);
        };
        for row in 1..=copies {
            let (title, issue) = ((row - 1) / ISSUES, (row - 1) % ISSUES + 1);
            let gtin: i64 = code(title).parse().unwrap();
            if issue == 1 {
                insert_title(title);
            }
            let day = i64::from(row) * DAYS / i64::from(copies);
            let acquired = LAST_DAY.saturating_sub((DAYS - day).days()).to_string();
            let unread = row % UNREAD_OF == 0;
            let (number, add_on) = (issue.to_string(), format!("{issue:03}11"));
            run(
                "INSERT INTO issue (id, title, number, sort_key, whole_number) VALUES (?1, ?2, ?3, ?4, ?5)",
                params![row, title + 1, number, IssueNumber::new(&number).sort_key(), issue],
            );
            run(
                "INSERT INTO printing (id, issue, cover, number, gtin, add_on) VALUES (?1, ?1, '1', 1, ?2, ?3)",
                params![row, gtin, add_on],
            );
            run(
                "INSERT INTO item (id, run, device, seen_at_ms, gtin, add_on, add_on_state, certainty, state) \
                 VALUES (?1, ?2, 'handheld', 0, ?3, ?4, 'read', 'sure', 'accepted')",
                params![row, row / 40 + 1, gtin, add_on],
            );
            run(
                "INSERT INTO copy (id, printing, acquired, shop, paid_minor, currency, reading, item) \
                 VALUES (?1, ?1, ?2, 'Corner Comics', 399, 'USD', ?3, ?1)",
                params![row, acquired, if unread { "unread" } else { "read" }],
            );
            if !unread {
                run("INSERT INTO reading (id, read_on) VALUES (?1, ?2)", params![row, acquired]);
            }
            run(
                "INSERT INTO copy_price (id, cover_minor, cover_currency, discount_hundredths) VALUES (?1, 449, 'USD', 1111)",
                params![row],
            );
            run(
                "INSERT INTO copy_bag (id, bag, board, since) VALUES (?1, 'polypropylene', 'acid-free', ?2)",
                params![row, acquired],
            );
            if row % SOLD_OF == 0 {
                let sold = copies + row / SOLD_OF;
                run(
                    "INSERT INTO copy (id, printing, acquired, shop, paid_minor, currency, item) \
                     VALUES (?1, ?2, ?3, 'Corner Comics', 399, 'USD', ?2)",
                    params![sold, row, acquired],
                );
                run("INSERT INTO departure (id, how, left_on) VALUES (?1, 'sold', ?2)", params![sold, acquired]);
            }
            for table in ["item", "issue", "printing", "copy"] {
                journal(table, row);
            }
        }
        let owned = copies / ISSUES;
        (owned..owned * (KNOWN_FOR_ONE_OWNED + 1)).for_each(insert_title);
    }
    transaction.commit().unwrap();
    connection.execute_batch("PRAGMA wal_checkpoint(TRUNCATE)").unwrap();
}
