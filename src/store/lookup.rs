//! The collection as `resolve` looks at it.

use super::{Store, StoreError};
use crate::code::{AddOn, Gtin};
use crate::collection::{Owned, Title, TitleId};
use crate::resolve::{Listed, Lookup};

impl Lookup for Store {
    type Error = StoreError;

    fn titles_of_code(&self, gtin: Gtin) -> Result<Vec<Title>, StoreError> {
        Self::titles_of_code(self, gtin)
    }

    fn titles_named(&self, key: &str) -> Result<Vec<Title>, StoreError> {
        Self::titles_named(self, key)
    }

    fn neighbours(&self, gtin: Gtin) -> Result<Vec<Title>, StoreError> {
        Self::neighbours(self, gtin)
    }

    fn highest_number(&self, title: TitleId) -> Result<Option<u32>, StoreError> {
        Self::highest_number(self, title)
    }

    fn owned(&self, title: TitleId, issue: &str) -> Result<Vec<Owned>, StoreError> {
        Self::owned(self, title, issue)
    }

    fn listed(&self, gtin: Gtin, add_on: AddOn) -> Result<Vec<Listed>, StoreError> {
        Self::listed(self, gtin, add_on)
    }

    fn book(&self, gtin: Gtin) -> Result<Option<(Title, String)>, StoreError> {
        Self::book(self, gtin)
    }
}
