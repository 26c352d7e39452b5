//! Simulated pictures in named classes, each a function of class and seed, with what is printed in it; and how a
//! reader's answers are judged. Shared by the test program and the benchmarks.
//!
//! | file | does |
//! |---|---|
//! | `classes` | the classes, and a picture's scene and truth from class and seed |
//! | `books` | a random book with its code, and where it lies in the picture |
//! | `film` | a stack held to a webcam, book after book: frames and truth |
//! | `judge` | what a reader says beside what is printed |
//! | `run` | many pictures on all cores, tallied |
//!
//! For development: `BOXWARD_SIMULATED=class:first_seed:count cargo test --release --test all -- --ignored --nocapture
//! simulated_on_request` prints rates, times and wrong codes of one class (`all`: of each). With
//! `BOXWARD_SIMULATED_SAVE=folder`, pictures that are not wholly read, or read wrong, are saved there as
//! `class-seed.png`; with `BOXWARD_SIMULATED_SAVE_ALL=folder` every picture is.

#![allow(dead_code, unused_imports, reason = "several programs include this module, and each uses a part of it")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "test code: a failure should stop the test")]

mod books;
mod classes;
mod film;
mod judge;
mod run;

pub use classes::{CLASSES, Class, Simulated, Truth, simulated};
pub use film::{FILM_FPS, FRAMES_A_BOOK, Film, film};
pub use judge::{Verdict, Wrong, judge};
pub use run::{Save, Tally, run};
