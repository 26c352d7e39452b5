//! Where and for how much books are bought, said once for a whole stack.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use serde::Serialize;

use super::Money;

/// What a session's books are recorded with, as far as nothing else is said about a single one.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Purchase {
    /// Where.
    pub shop: Option<String>,
    /// When.
    pub acquired: Option<Date>,
    /// The price on the cover, for books whose code says none.
    pub cover_price: Option<Money>,
    /// What the shop takes off the cover price.
    pub discount: Option<Discount>,
}

/// A share of the cover price, in hundredths of a percent: no float.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, PartialOrd, Ord, Serialize)]
#[serde(transparent)]
pub struct Discount(u16);

/// Why text is no discount.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no discount; write it as 10 % (at most 100, at most two digits behind the point)")]
pub struct DiscountError(String);

impl Purchase {
    /// Whether it says nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// What a book costs whose code says this price, if any does. Without a word on prices nothing is known.
    #[must_use]
    pub fn paid(&self, printed: Option<Money>) -> Option<Money> {
        let price = match self.discount {
            Some(_) => printed.or(self.cover_price),
            None => self.cover_price.and(printed).or(self.cover_price),
        };
        price.map(|price| self.discount.unwrap_or_default().off(price))
    }
}

impl Discount {
    const WHOLE: u16 = 10_000;

    /// From hundredths of a percent; `None` above the whole.
    #[must_use]
    pub fn new(hundredths_of_percent: u16) -> Option<Self> {
        (hundredths_of_percent <= Self::WHOLE).then_some(Self(hundredths_of_percent))
    }

    /// In hundredths of a percent.
    #[must_use]
    pub fn hundredths_of_percent(self) -> u16 {
        self.0
    }

    /// `price` without its share, rounded half up to the minor unit.
    #[must_use]
    pub fn off(self, price: Money) -> Money {
        let whole = i128::from(Self::WHOLE);
        let left = i128::from(price.minor_units) * (whole - i128::from(self.0));
        // At most what the price was, so it always fits.
        let minor_units = i64::try_from((left + whole / 2).div_euclid(whole)).unwrap_or(price.minor_units);
        Money { minor_units, ..price }
    }
}

impl FromStr for Discount {
    type Err = DiscountError;

    /// From a percentage, such as `10 %`, `12.5%` or `10`.
    fn from_str(text: &str) -> Result<Self, DiscountError> {
        let wrong = || DiscountError(text.to_owned());
        let number = text.trim().trim_end_matches('%').trim_end();
        let (whole, part) = number.split_once(['.', ',']).unwrap_or((number, ""));
        let digits = |s: &str| s.bytes().all(|c| c.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(part) || part.len() > 2 {
            return Err(wrong());
        }
        format!("{whole}{part:0<2}").parse().ok().and_then(Self::new).ok_or_else(wrong)
    }
}

impl fmt::Display for Discount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, part) = (self.0 / 100, self.0 % 100);
        match part {
            0 => write!(f, "{whole} %"),
            part if part % 10 == 0 => write!(f, "{whole}.{} %", part / 10),
            part => write!(f, "{whole}.{part:02} %"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentages_are_read_and_shown() {
        for (text, hundredths, shown) in
            [("10", 1000, "10 %"), ("12.5%", 1250, "12.5 %"), (" 0,25 % ", 25, "0.25 %"), ("100 %", 10_000, "100 %")]
        {
            let discount: Discount = text.parse().unwrap();
            assert_eq!(
                (discount.hundredths_of_percent(), discount.to_string().as_str()),
                (hundredths, shown),
                "{text}"
            );
        }
        for text in ["", "%", "-1", "100.01", "101", "1.234", "ten", "1e2", "99999999999"] {
            assert!(text.parse::<Discount>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_discount_is_taken_from_the_printed_price_before_the_usual_one() {
        let money = |text: &str| Some(text.parse::<Money>().unwrap());
        let discount = "10".parse().ok();
        let purchase = Purchase { cover_price: money("4.99 USD"), discount, ..Purchase::default() };
        // 4.491 and 17.991, rounded to cents.
        assert_eq!(purchase.paid(None), money("4.49 USD"));
        assert_eq!(purchase.paid(money("19.99 USD")), money("17.99 USD"));
        assert_eq!(Discount::default().off(money("480 JPY").unwrap()), money("480 JPY").unwrap());
        let only_less = Purchase { discount, ..Purchase::default() };
        assert_eq!((only_less.paid(None), only_less.paid(money("10 USD"))), (None, money("9 USD")));
        assert_eq!(Purchase::default().paid(money("19.99 USD")), None);
    }

    #[test]
    fn halves_are_rounded_up() {
        let half = Discount::new(5000).unwrap();
        assert_eq!(half.off("0.05 GBP".parse().unwrap()), "0.03 GBP".parse().unwrap());
        let most = Money { minor_units: i64::MAX, currency: "GBP".parse().unwrap() };
        assert_eq!(Discount::default().off(most), most);
        assert_eq!(half.off(most).minor_units, i64::MAX / 2 + 1);
    }
}
