//! This project's reader beside rxing, zbar and zxing-cpp, on the same pictures in one run: what each reads, and what
//! that costs.
//!
//! `scripts/bench-peers` installs what the peers need and runs it; arguments name the parts to run, none means all.
//! Times are the process's processor time, so that other programs on the machine hardly count and a reader gains
//! nothing from threads.
#![allow(clippy::print_stdout, reason = "its tables are for the shell")]
#![allow(clippy::unwrap_used, reason = "a benchmark that can't go on has failed")]

mod files;
mod jpeg;
mod readers;
mod scenes;
mod score;
mod time;

#[path = "../../render/mod.rs"]
mod render;
#[path = "../../simulated/mod.rs"]
mod simulated;

use score::Picture;

/// A part's name, as typed.
type Part = (&'static str, fn());

const PARTS: [Part; 5] = [
    ("photos", || table("Real photos", files::photos())),
    ("stack", || table("The example stack, and pictures in which nothing may be read", files::examples())),
    ("simulated", || table("Simulated pictures", scenes::simulated())),
    ("speed", || table(SPEED, scenes::speed().chain(files::photos_without()))),
    ("jpeg", jpeg::table),
];

/// The goals are those of one core, beyond loading.
const SPEED: &str = "Speed: at 1280×720 the goals are medians of 4 ms with a clear symbol, 40 with a blurred one (at worst \
                     250), 15 without any";

fn main() {
    // cargo adds `--bench`.
    let asked: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with('-')).collect();
    for name in &asked {
        assert!(
            PARTS.iter().any(|(part, _)| part == name),
            "no part is called {name}: {:?}",
            PARTS.map(|(part, _)| part)
        );
    }
    for (name, run) in PARTS {
        if asked.is_empty() || asked.iter().any(|a| a == name) {
            run();
        }
    }
}

fn table(title: &str, pictures: impl Iterator<Item = Picture>) {
    println!("## {title}\n");
    score::table(pictures);
}
