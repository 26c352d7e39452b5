//! What tests of faults share: a command in a home where it has something to do, disturbed on a copy of that home; and what
//! must hold afterwards.
//!
//! After any disturbance the file passes SQLite's own checks, what was reported is there, and the command run again comes to
//! the record that an undisturbed run comes to. Moments are random by seeds that are fixed.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::sync::mpsc;
use std::thread::sleep;
use std::time::{Duration, Instant};

use boxward::store::Store;
use serde_json::Value;

use crate::cli_home::{Home, Ran};

/// The collection's name in every scene.
pub const COLLECTION: &str = "c.sqlite";

/// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end.max(1)
    }

    /// A moment within `time` and a little more.
    fn moment(&mut self, time: Duration) -> Duration {
        time.mul_f64(self.below(1_100) as f64 / 1_000.0)
    }
}

/// A command where it has something to do.
pub struct Scene {
    pub name: &'static str,
    /// The home before it.
    pub start: Home,
    pub command: Vec<String>,
    /// What must be in the collection if these lines were printed.
    pub promised: fn(&Home, &[String]),
    /// What a person does before running a command again that was broken off.
    pub before_again: fn(&Home),
    /// Whether it does all or nothing.
    pub at_once: bool,
    /// Whether runs are part of what must be the same in the end.
    pub same_runs: bool,
}

/// What undisturbed runs of a scene come to.
pub struct Undisturbed {
    before: String,
    after: String,
    lines: usize,
    pub time: Duration,
}

impl Scene {
    /// A scene whose command does all or nothing and promises nothing line by line.
    pub fn new(name: &'static str, start: Home, command: &[&str]) -> Self {
        Self {
            name,
            start,
            command: command.iter().map(|&word| word.to_owned()).collect(),
            promised: |_, _| (),
            before_again: |_| (),
            at_once: true,
            same_runs: false,
        }
    }

    fn spawn(&self, home: &Home) -> Child {
        let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
        command.args(&self.command).args(["--collection", COLLECTION]);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    }

    /// Runs it to its end.
    pub fn run(&self, home: &Home) -> Ran {
        self.spawn(home).wait_with_output().unwrap().into()
    }

    /// The record of a home.
    fn record(&self, home: &Home) -> String {
        record(home, self.same_runs)
    }

    pub fn undisturbed(&self) -> Undisturbed {
        let home = self.start.copy();
        let before = self.record(&home);
        let begun = Instant::now();
        let ran = self.run(&home);
        let time = begun.elapsed();
        assert!(ran.code <= 1, "{}: {}", self.name, ran.err);
        let after = self.record(&home);
        Undisturbed { before, after, lines: ran.out.lines().count(), time }
    }

    /// What must hold after a disturbance that let these lines out, and when the command has been run again.
    pub fn check(&self, home: &Home, lines: &[String], calm: &Undisturbed) {
        sound(&home.path().join(COLLECTION));
        (self.promised)(home, lines);
        if self.at_once {
            let now = self.record(home);
            assert!(now == calm.before || now == calm.after, "{}: half of it was done:\n{now}", self.name);
            if !lines.is_empty() {
                assert!(now == calm.after, "{}: what was reported is lost", self.name);
            }
        }
        (self.before_again)(home);
        let again = self.run(home);
        assert!((0..4).contains(&again.code), "{}, again: {}{}", self.name, again.out, again.err);
        let now = self.record(home);
        assert!(
            now == calm.after,
            "{}: run again it comes to something else:\n{now}\ninstead of\n{}",
            self.name,
            calm.after
        );
    }

    /// Kills it so many times, each on a copy of its home; gives how many times it was still at it.
    pub fn kill(&self, times: u32, seed: u64) -> u32 {
        let calm = self.undisturbed();
        let mut dice = Dice(seed);
        let mut running = 0;
        for round in 0..times {
            let home = self.start.copy();
            // By the clock, or a little after a line was printed.
            let (lines, moment) = match round % 2 == 1 && calm.lines > 1 {
                true => (dice.below(calm.lines as u64) as usize, dice.moment(Duration::from_millis(15))),
                false => (0, dice.moment(calm.time)),
            };
            let (printed, killed) = kill(self.spawn(&home), lines, moment);
            running += u32::from(killed);
            self.check(&home, &printed, &calm);
        }
        println!("{}: killed {times} times, {running} of them at work", self.name);
        running
    }
}

/// Kills a program after it has printed so many lines and a while later; gives its complete lines, and whether it was still
/// running.
pub fn kill(mut child: Child, lines: usize, after: Duration) -> (Vec<String>, bool) {
    let mut output = BufReader::new(child.stdout.take().unwrap());
    let (tell, told) = mpsc::channel();
    // All that was printed before the kill is read, whenever it comes.
    let reader = std::thread::spawn(move || {
        let mut line = String::new();
        while output.read_line(&mut line).is_ok_and(|read| read > 0) && line.ends_with('\n') {
            if tell.send(std::mem::take(&mut line)).is_err() {
                return;
            }
        }
    });
    let mut printed: Vec<String> = told.iter().take(lines).collect();
    sleep(after);
    let running = child.try_wait().unwrap().is_none();
    child.kill().unwrap();
    child.wait().unwrap();
    printed.extend(told.iter());
    reader.join().unwrap();
    (printed, running)
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

/// Every record of a home's collection as lines; runs, and which run staged what, only if they are asked for.
pub fn record(home: &Home, runs: bool) -> String {
    let path = home.path().join(COLLECTION);
    if !fs::metadata(&path).is_ok_and(|file| file.len() > 0) {
        return String::new();
    }
    let mut lines = Vec::new();
    Store::open(&path).unwrap().export(&mut lines).unwrap();
    let mut text = String::new();
    for line in String::from_utf8(lines).unwrap().lines() {
        let mut value: Value = serde_json::from_str(line).unwrap();
        let (kind, fields) = value.as_object_mut().unwrap().iter_mut().next().unwrap();
        match kind.as_str() {
            "end" | "format" => continue,
            "run" if !runs => continue,
            // A resumed run ends when it ends.
            "run" => fields["finished_ms"] = Value::Null,
            _ if !runs && fields.get("run").is_some() => fields["run"] = Value::Null,
            _ => {}
        }
        // Each home has a name of its own.
        let line = value.to_string().replace(home.path().to_str().unwrap(), "~");
        text.push_str(&line);
        text.push('\n');
    }
    text
}

/// A file system of its own in memory, so small that it can be filled, and with nobody else's files in it.
pub struct Disk {
    folder: Option<tempfile::TempDir>,
}

impl Disk {
    /// So many bytes; `None`, aloud, where this user may mount none.
    pub fn new(bytes: u64) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mounted = cfg!(target_os = "linux")
            && std::process::Command::new("mount")
                .args(["-t", "tmpfs", "-o", &format!("size={bytes}"), "tmpfs"])
                .arg(folder.path())
                .output()
                .is_ok_and(|ran| ran.status.success());
        if !mounted {
            println!("skipped: no file system can be mounted here (it takes root)");
            return None;
        }
        Some(Self { folder: Some(folder) })
    }

    pub fn path(&self) -> &Path {
        self.folder.as_ref().unwrap().path()
    }

    /// Allows writing, or forbids it.
    pub fn writable(&self, writable: bool) {
        let options = if writable { "remount,rw" } else { "remount,ro" };
        let ran = std::process::Command::new("mount").args(["-o", options]).arg(self.path()).output().unwrap();
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    }

    /// Fills it but for so many bytes; the file that does.
    pub fn fill(&self, but: u64) -> PathBuf {
        let path = self.path().join("filler");
        let mut filler = fs::File::create(&path).unwrap();
        let block = [0_u8; 4096];
        let mut length = 0;
        while std::io::Write::write(&mut filler, &block).is_ok_and(|written| written > 0) {
            length += block.len() as u64;
        }
        filler.set_len(length.saturating_sub(but)).unwrap();
        path
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let folder = self.folder.take().unwrap();
        // Lazily: a program that is being killed may still have a file open in it.
        let _ = std::process::Command::new("umount").arg("-l").arg(folder.path()).output();
    }
}
