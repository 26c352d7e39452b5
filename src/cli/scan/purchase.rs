//! What books are bought for, as a person types it between two of them.

use crate::code::{Typed, parse_typed};
use crate::collection::{Money, Purchase};

/// A scanner may send while a person is asked.
pub(super) fn looks_like_code(line: &str) -> bool {
    matches!(parse_typed(line), Ok(Typed::Code { .. } | Typed::AddOn(_)))
}

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

/// `Corner Comics, 2026-03-04, cover price 3.99 USD, less 10 %`.
pub(super) fn in_words(purchase: &Purchase) -> String {
    let parts = [
        purchase.shop.clone(),
        purchase.acquired.map(|date| date.to_string()),
        purchase.cover_price.map(|price| format!("cover price {price}")),
        purchase.discount.map(|discount| format!("less {discount}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { "no shop, no price".to_owned() } else { parts.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;

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

    #[test]
    fn a_scanners_packet_is_no_shop() {
        assert!(looks_like_code("614141000418") && looks_like_code("00411") && !looks_like_code("Corner Comics"));
    }
}
