//! The shipped example pictures: what they show and how they are made. The pictures' bytes are committed; this makes
//! them again.

pub mod photos;
pub mod titles;
