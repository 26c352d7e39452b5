//! Lists of what there is, as shops, friends and spreadsheets write them: files to rows, rows to what they say of titles,
//! issues and printings. The only user of calamine and zip.
//!
//! What the collection makes of a row is left to [`crate::workflow`]. A list is data of strangers: sizes are bounded before
//! anything is taken into memory, and a row that makes no sense is an error of its own.

mod cells;
mod choices;
mod columns;
mod days;
mod entry;
mod error;
mod limits;
mod parts;
mod separated;
mod sheet;
mod table;
mod text;

pub use choices::Choices;
pub use columns::{Field, FieldError, Mapping, MappingError};
pub use days::DayOrder;
pub use entry::{Entry, Problem, Spelling, entry};
pub use error::ListError;
pub use table::{ListOptions, Row, Table};
