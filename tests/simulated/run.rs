//! Many pictures on all cores, tallied.

use super::classes::{Class, simulated};
use super::judge::{Wrong, judge};
use crate::render::file::png;
use boxward::code::Certainty;
use boxward::picture::Luma;
use boxward::reader::read;
use image::ExtendedColorType;
use std::ops::Range;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// Which pictures to keep, and in which folder.
#[derive(Debug, Clone)]
pub enum Save {
    /// Those that are not wholly read, or read wrong.
    Missed(PathBuf),
    /// Every one.
    All(PathBuf),
}

/// What was read of a class.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    pub pictures: usize,
    /// Symbols printed in them that can be read.
    pub printed: usize,
    pub main: usize,
    pub whole: usize,
    /// Each with its seed, in the order of seeds.
    pub wrong: Vec<(u64, Wrong)>,
    /// Seeds of pictures that are not wholly read.
    pub missed: Vec<u64>,
    /// What `read` took, in milliseconds, ascending.
    pub read_ms: Vec<f64>,
    /// What rendering took on the average, in milliseconds.
    pub render_ms: f64,
}

impl Tally {
    /// Wrong codes of this certainty.
    pub fn wrong(&self, certainty: Certainty) -> usize {
        self.wrong.iter().filter(|(_, wrong)| wrong.certainty == certainty).count()
    }

    /// The share of printed symbols whose main code and add-on were read; 1 where nothing is printed.
    pub fn rate(&self) -> f64 {
        if self.printed == 0 { 1.0 } else { self.whole as f64 / self.printed as f64 }
    }

    /// One line for people.
    pub fn line(&self, class: &str) -> String {
        let share = |count: usize| 100.0 * count as f64 / self.printed.max(1) as f64;
        let (median, worst) = (self.read_ms.get(self.read_ms.len() / 2), self.read_ms.last());
        format!(
            "{class:8} {:5} pictures, {:5} printed: main {:5.1} %, whole {:5.1} %, wrong {} sure and {} to confirm; \
             read in {:.1} ms, at worst {:.1}; rendered in {:.0}",
            self.pictures,
            self.printed,
            share(self.main),
            share(self.whole),
            self.wrong(Certainty::Sure),
            self.wrong(Certainty::Confirm),
            median.unwrap_or(&0.0),
            worst.unwrap_or(&0.0),
            self.render_ms,
        )
    }

    fn sort(&mut self) {
        self.wrong.sort_by_key(|(seed, _)| *seed);
        self.missed.sort_unstable();
        self.read_ms.sort_by(f64::total_cmp);
    }
}

/// Renders and reads the pictures of a class.
pub fn run(class: Class, seeds: Range<u64>, save: Option<&Save>) -> Tally {
    if let Some(Save::Missed(folder) | Save::All(folder)) = save {
        std::fs::create_dir_all(folder).unwrap();
    }
    let (next, tally) = (AtomicU64::new(seeds.start), Mutex::new(Tally::default()));
    let work = || {
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= seeds.end {
                return;
            }
            one(class, seed, save, &tally);
        }
    };
    std::thread::scope(|scope| {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        (0..cores).for_each(|_| drop(scope.spawn(work)));
    });
    let mut tally = tally.into_inner().unwrap();
    tally.render_ms /= tally.pictures.max(1) as f64;
    tally.sort();
    tally
}

fn one(class: Class, seed: u64, save: Option<&Save>, tally: &Mutex<Tally>) {
    let begun = Instant::now();
    let simulated = simulated(class, seed);
    let picture = simulated.picture();
    let render_ms = begun.elapsed().as_secs_f64() * 1e3;
    let luma = Luma::new(picture.width, picture.height, picture.pixels).unwrap();
    let begun = Instant::now();
    let symbols = read(&luma);
    let read_ms = begun.elapsed().as_secs_f64() * 1e3;
    let verdict = judge(&simulated.truth, &symbols);
    let missed = verdict.whole < simulated.truth.len();
    let folder = match save {
        Some(Save::All(folder)) => Some(folder),
        Some(Save::Missed(folder)) if missed || !verdict.wrong.is_empty() => Some(folder),
        _ => None,
    };
    if let Some(folder) = folder {
        let bytes = png(luma.pixels(), luma.width(), luma.height(), ExtendedColorType::L8);
        std::fs::write(folder.join(format!("{}-{seed}.png", class.name)), bytes).unwrap();
    }
    let mut tally = tally.lock().unwrap();
    tally.pictures += 1;
    tally.printed += simulated.truth.len();
    tally.main += verdict.main;
    tally.whole += verdict.whole;
    tally.wrong.extend(verdict.wrong.into_iter().map(|wrong| (seed, wrong)));
    tally.missed.extend(missed.then_some(seed));
    tally.read_ms.push(read_ms);
    tally.render_ms += render_ms;
}
