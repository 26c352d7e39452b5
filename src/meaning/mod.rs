//! What a code's digits mean: issue, cover and printing of a comic; ISBN and price; ISSN; codes that say nothing
//! outside one company.
//!
//! Whether the collection knows the title is left to [`crate::resolve`].

use serde::{Deserialize, Serialize};

/// How a title's five-digit add-on is laid out; one title keeps one layout for its whole run (common practice).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Layout {
    /// Three digits issue, one cover, one printing.
    #[serde(rename = "IIICP")]
    Iiicp,
    /// Two digits issue, two cover, one printing.
    #[serde(rename = "IICCP")]
    Iiccp,
}
