//! The shipped example pictures: what they show and how they are made. The pictures' bytes are committed; this makes
//! them again.

#![allow(dead_code, reason = "the program that writes the pictures uses more than the tests that check them")]

pub mod formats;
pub mod negatives;
pub mod photos;
pub mod titles;
