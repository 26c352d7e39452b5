//! What a person says once about lists of one kind.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{DayOrder, Field, ListOptions, Spelling};
use crate::collection::Currency;

/// How to read lists of one kind; kept under a name.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Choices {
    /// Which column says what, where its name is not the field's own word.
    pub columns: BTreeMap<Field, String>,
    /// Which sheet of a workbook.
    pub sheet: Option<String>,
    /// How many rows stand above the columns' names.
    pub skip: usize,
    /// Whether there is no row of names.
    pub unnamed: bool,
    /// How days are written.
    pub days: DayOrder,
    /// The currency of prices that have none.
    pub currency: Option<Currency>,
}

impl Choices {
    /// How to open such a list.
    #[must_use]
    pub fn options(&self) -> ListOptions {
        ListOptions { sheet: self.sheet.clone(), skip: self.skip, unnamed: self.unnamed }
    }

    /// How to read its cells.
    #[must_use]
    pub fn spelling(&self) -> Spelling {
        Spelling { days: self.days, currency: self.currency }
    }
}
