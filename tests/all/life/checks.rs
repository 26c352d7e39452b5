//! What must hold at any time, and at the end of a life.

use std::time::Instant;

use boxward::collection::{CopyId, SpendBy};
use boxward::store::{Store, StoreError};
use boxward::workflow::{self, Have, WorkflowError};

use super::books::Book;
use super::{Life, usd};
use crate::workflow_support::home;

impl Life {
    /// Looks at what must hold at any time.
    pub fn check(&mut self) {
        let sql = rusqlite::Connection::open(self.store().path()).unwrap();
        let count = |text: &str| sql.query_row(text, [], |row| row.get::<_, i64>(0)).unwrap();
        assert_eq!(count("SELECT count(*) FROM pragma_foreign_key_check"), 0);
        // Every copy is in exactly one state, and in the one that the collector knows of.
        let states = "SELECT id, reading = 'read', id IN (SELECT id FROM departure), id IN (SELECT id FROM filed), \
                      filing = 'filed', id IN (SELECT copy FROM loan WHERE returned IS NULL), paid_minor FROM copy";
        let mut statement = sql.prepare(states).unwrap();
        let mut rows = statement.query([]).unwrap();
        let (mut seen, mut filed_here, mut unread) = (0, 0_i64, 0);
        while let Some(row) = rows.next().unwrap() {
            let flag = |at| row.get::<_, bool>(at).unwrap();
            let id = CopyId::new(row.get(0).unwrap());
            let kept = self.copies[&id];
            let (read, gone, filed, lent) = (flag(1), flag(2), flag(3), flag(5));
            assert_eq!((read, gone), (kept.read, kept.gone), "copy {id}");
            assert_eq!(filed, flag(4), "copy {id}");
            assert!(!filed || read, "copy {id} is filed and on the pile");
            assert_eq!(lent, self.lent.iter().any(|(lent, _)| *lent == id), "copy {id}");
            assert_eq!(row.get::<_, i64>(6).unwrap(), kept.cents, "copy {id}");
            seen += 1;
            filed_here += i64::from(filed && !gone);
            unread += u32::from(!read && !gone);
        }
        assert_eq!(seen, self.copies.len());
        assert_eq!(count("SELECT count(*) FROM item WHERE (state = 'accepted') <> (id IN (SELECT item FROM copy))"), 0);
        assert_eq!(workflow::pile(self.store(), self.today()).unwrap().copies, unread);
        // What the boxes hold is what is filed.
        let boxes = workflow::box_list(self.store()).unwrap();
        assert_eq!(boxes.iter().map(|fill| i64::from(fill.copies)).sum::<i64>(), filed_here);
        assert!(boxes.iter().all(|fill| fill.percent <= 100), "a box overflows");
        let at = self.dice.below(boxes.len());
        let content = workflow::box_show(self.store(), &boxes[at].shelf.label).unwrap();
        assert_eq!(content.content.len() as u32, boxes[at].copies);
        // Money adds up.
        let spent = workflow::spend(self.store(), SpendBy::Title, None, None).unwrap().total;
        let cents: i64 = self.copies.values().map(|kept| kept.cents).sum();
        assert_eq!((spent.copies as usize, spent.without_price), (self.copies.len(), 0));
        assert_eq!(spent.paid, if cents == 0 { Vec::new() } else { vec![usd(cents)] });
        let (from, to) = (self.today().first_of_month(), self.today().last_of_month());
        let month = workflow::spend(self.store(), SpendBy::Shop, Some(from), Some(to)).unwrap().total;
        let expected: i64 =
            self.copies.values().filter(|kept| kept.came >= from && kept.came <= to).map(|kept| kept.cents).sum();
        assert_eq!(month.paid.iter().map(|sum| sum.minor_units).sum::<i64>(), expected);
        self.search();
    }

    /// Search finds what is owned and nothing else.
    fn search(&mut self) {
        let owned = self.owned();
        for _ in 0..5 {
            let copy = self.any();
            let book = self.copies[&copy].book;
            assert_eq!(self.home.have(&book.words()).answer, Have::Owned, "{book:?}");
            let by_code = self.home.have(&format!("{} {}", book.code(), book.add_on()));
            assert_eq!(by_code.answer, Have::Owned, "{book:?}");
            let found = workflow::find(self.store(), &book.words()).unwrap();
            assert!(found.iter().any(|found| found.copy.copy == copy), "{book:?}");
        }
        let never = Book { title: self.dice.below(self.next.len() / 2), issue: 990, cover: 1 };
        assert!(!owned.contains(&(never.title, never.issue)));
        assert_eq!(self.home.have(&never.words()).answer, Have::NotOwned);
    }

    /// Every record as lines, without those of the runs: what was done is not what there is.
    fn export(store: &Store) -> String {
        let mut lines = Vec::new();
        store.export(&mut lines).unwrap();
        let text = String::from_utf8(lines).unwrap();
        let kept = text.lines().filter(|line| !line.starts_with("{\"run\"") && !line.starts_with("{\"end\""));
        kept.collect::<Vec<_>>().join("\n")
    }

    /// Through an export and back, and then everything undone, to the empty collection.
    fn end(self) -> usize {
        let path = self.home.folder.path().join("again.boxward");
        let mut lines = Vec::new();
        self.store().export(&mut lines).unwrap();
        workflow::import_data(&path, &mut lines.as_slice()).unwrap();
        let again = Store::open(&path).unwrap();
        assert!(Self::export(&again) == Self::export(self.store()), "an export is read back as something else");
        let mut undone = 0;
        loop {
            match workflow::undo(self.store(), None, self.now()) {
                Ok(_) => undone += 1,
                Err(WorkflowError::Store(StoreError::NothingToUndo)) => break,
                Err(error) => panic!("after {undone} undos: {error}"),
            }
        }
        assert_eq!(Self::export(self.store()), Self::export(&home().store));
        undone
    }
}

/// The most memory that this process ever had (proc(5): VmHWM), in MiB.
fn peak_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().trim_end_matches(" kB").parse::<u64>().ok().map(|kib| kib / 1024)
}

fn whole_life(weeks: u32, books_a_week: usize, check_every: u32) {
    let begun = Instant::now();
    let mut life = Life::new(2026, books_a_week);
    for week in 0..weeks {
        life.live();
        if week % check_every == check_every - 1 {
            life.check();
        }
    }
    life.check();
    let copies = life.copies.len();
    let runs = workflow::runs(life.store(), u32::MAX).unwrap().len();
    let size = std::fs::metadata(life.store().path()).unwrap().len() >> 20;
    let lived = begun.elapsed();
    let undone = life.end();
    println!(
        "{weeks} weeks, {copies} copies, {runs} runs, a file of {size} MiB: lived in {:.1} s; {undone} runs undone in {:.1} s; \
         peak memory {} MiB",
        lived.as_secs_f64(),
        (begun.elapsed() - lived).as_secs_f64(),
        peak_mib().map_or("?".to_owned(), |mib| mib.to_string())
    );
}

#[test]
fn a_year_of_weekly_stacks() {
    whole_life(52, 10, 4);
}

/// `cargo test --release --test all -- --ignored --nocapture ten_years`
#[test]
#[ignore = "takes minutes"]
fn ten_years_of_weekly_stacks() {
    whole_life(520, 58, 13);
}
