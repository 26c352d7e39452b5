//! What books are bought for, as a person types it between two of them.

use crate::collection::{Money, Purchase};

/// The purchase with what `line` says changed: parts between commas, in any order. A price or a percentage is known by its
/// form, the rest is the shop.
pub(super) fn changed(before: &Purchase, line: &str) -> Result<Purchase, String> {
    let mut changed = before.clone();
    let parts = line.split(',').map(str::trim).filter(|part| !part.is_empty());
    for part in parts {
        if part.ends_with('%') {
            changed.discount = Some(part.parse().map_err(|error| format!("{error}"))?);
        } else if part.starts_with(|c: char| c.is_ascii_digit()) && part.parse::<Money>().is_ok() {
            changed.cover_price = part.parse().ok();
        } else {
            changed.shop = Some(part.to_owned());
        }
    }
    Ok(changed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::workflow::purchase_in_words as in_words;

    #[test]
    fn only_what_is_said_changes() {
        let corner = changed(&Purchase::default(), "Corner Comics, 3.99 USD, 10 %").unwrap();
        assert_eq!(in_words(&corner), "Corner Comics, cover price 3.99 USD, less 10 %");
        assert_eq!(in_words(&changed(&corner, "12.5%").unwrap()), "Corner Comics, cover price 3.99 USD, less 12.5 %");
        assert_eq!(changed(&corner, " , ").unwrap(), corner);
        assert_eq!(in_words(&changed(&corner, "22 Street").unwrap()), "22 Street, cover price 3.99 USD, less 10 %");
        assert!(changed(&corner, "400 %").is_err());
        assert_eq!(in_words(&Purchase::default()), "no shop, no price");
    }
}
