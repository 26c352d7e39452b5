//! Single cells: prices, numbers and codes as lists write them.

use crate::code::{AddOn, Certainty, Gtin, PrefixKind, Repair, Typed, parse_typed, prefix_kind};
use crate::collection::{Currency, Money};

/// A price: an amount, with its currency before or behind it, or with the list's.
pub(super) fn price(text: &str, currency: Option<Currency>) -> Result<Money, String> {
    let wrong = || format!("'{text}' is no price");
    let letters: String = text.chars().filter(|c| c.is_alphabetic()).collect();
    let sign = text.chars().find(|c| matches!(c, '$' | '\u{20ac}' | '\u{a3}' | '\u{a5}'));
    let amount: String =
        text.chars().filter(|&c| !c.is_alphabetic() && !c.is_whitespace() && Some(c) != sign).collect();
    let said = if letters.is_empty() { None } else { Some(letters.parse::<Currency>().map_err(|_| wrong())?) };
    let of_sign = match sign {
        Some('\u{20ac}') => "EUR".parse().ok(),
        Some('\u{a3}') => "GBP".parse().ok(),
        // Several countries' sign.
        _ => None,
    };
    let Some(currency) = said.or(of_sign).or(currency) else {
        return Err(format!("'{text}' has no currency; say which one the list's prices have"));
    };
    let plain = grouped(&amount).ok_or_else(wrong)?;
    format!("{plain} {currency}").parse().map_err(|_| wrong())
}

/// An amount without the marks that part thousands: `1,299.00` and `1.299,00`.
fn grouped(amount: &str) -> Option<String> {
    let (comma, point) = (amount.rfind(','), amount.rfind('.'));
    let (Some(comma), Some(point)) = (comma, point) else { return Some(amount.to_owned()) };
    let group = if comma < point { ',' } else { '.' };
    let end = amount.find(if group == ',' { '.' } else { ',' })?;
    let mut groups = amount[..end].split(group);
    let first = groups.next().is_some_and(|first| (1..=3).contains(&first.len()));
    (first && groups.all(|group| group.len() == 3)).then(|| amount.replace(group, ""))
}

/// A number from 1, perhaps with a word behind it: `2`, `2nd printing`, `32 pages`.
pub(super) fn counted(text: &str, words: &[&str]) -> Result<u32, String> {
    let text = text.trim();
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    let rest = rest.trim_end_matches('.').to_lowercase();
    let known = rest.split_whitespace().all(|word| words.contains(&word));
    match digits.parse() {
        Ok(number) if number > 0 && known => Ok(number),
        _ => Err(format!("'{text}' is no number from 1")),
    }
}

/// A main code, with its add-on if it has one, from one cell or two.
pub(super) fn code(text: &str, beside: Option<&str>) -> Result<(Gtin, Option<AddOn>), (bool, String)> {
    let main = |problem: String| (true, problem);
    if text.contains(['E', 'e']) && text.parse::<f64>().is_ok() {
        return Err(main(format!("'{text}' was shortened by a spreadsheet; format the column as text")));
    }
    let (gtin, add_on) = match parse_typed(text) {
        Ok(Typed::Code { gtin, add_on, certainty, repair, .. }) => {
            // A spreadsheet loses a leading 0, and the check digit tells; nothing else is made up for.
            if certainty == Certainty::Confirm && repair != Some(Repair::LeadingZero) {
                return Err(main(format!("'{text}' is a code only after a repair; give all its digits")));
            }
            (gtin, add_on)
        }
        Ok(Typed::AddOn(add_on)) => return Err(main(format!("{add_on} is an add-on alone"))),
        Err(error) => return Err(main(error.to_string())),
    };
    match prefix_kind(gtin) {
        PrefixKind::Isbn | PrefixKind::Issn | PrefixKind::General | PrefixKind::Example => {}
        PrefixKind::InStore | PrefixKind::Coupon | PrefixKind::JapaneseSecondTier | PrefixKind::Ismn => {
            return Err(main(format!("{} is no code of a comic or a book", gtin.printed())));
        }
    }
    let Some(beside) = beside else {
        // Sixteen digits and more in one number: a spreadsheet keeps fifteen and writes 0 for the rest.
        let digits = text.bytes().filter(u8::is_ascii_digit).count();
        if digits >= 16 && digits == text.trim().len() && text.trim().ends_with("00") {
            let problem =
                "a spreadsheet may have made its last digits 0; format the column as text, or part the add-on";
            return Err(main(format!("'{text}': {problem}")));
        }
        return Ok((gtin, add_on));
    };
    let typed: AddOn = add_on_digits(beside).parse().map_err(|error| (false, format!("{error}")))?;
    match add_on {
        Some(other) if other != typed => {
            Err((false, format!("'{beside}' is not {other}, which stands behind the code")))
        }
        _ => Ok((gtin, Some(typed))),
    }
}

/// With the leading zeros that a spreadsheet loses: one digit is of two, three and four are of five.
fn add_on_digits(text: &str) -> String {
    match text.trim() {
        one if one.len() == 1 => format!("{one:0>2}"),
        some if matches!(some.len(), 3 | 4) => format!("{some:0>5}"),
        whole => whole.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_have_a_currency_from_somewhere() {
        let usd = "USD".parse().ok();
        for (text, currency, expected) in [
            ("3.99", usd, "3.99 USD"),
            ("$3.99", usd, "3.99 USD"),
            ("3,99", usd, "3.99 USD"),
            ("3.5", usd, "3.50 USD"),
            ("\u{a3}2.50", usd, "2.50 GBP"),
            ("3,99 \u{20ac}", None, "3.99 EUR"),
            ("USD 3.99", None, "3.99 USD"),
            ("3.99 CAD", usd, "3.99 CAD"),
            ("1,299.00", usd, "1299.00 USD"),
            ("1.299,00", usd, "1299.00 USD"),
            ("0", usd, "0.00 USD"),
        ] {
            assert_eq!(price(text, currency).unwrap().to_string(), expected, "{text}");
        }
        for text in ["x.99", "", "3.999", "1,299", "-1", "12,99.00", "3.99 dollars", "3.99 3.99", "1.2.3"] {
            assert!(price(text, usd).is_err(), "{text}");
        }
        assert!(price("$3.99", None).unwrap_err().contains("no currency"));
    }

    #[test]
    fn numbers_may_have_their_word_behind_them() {
        let words = ["st", "nd", "rd", "th", "printing"];
        for (text, expected) in [("2", 2), ("2nd", 2), ("2nd printing", 2), (" 11th ", 11), ("3 Printing", 3)] {
            assert_eq!(counted(text, &words), Ok(expected));
        }
        for text in ["", "0", "two", "2 or 3", "-1", "1.5", "99999999999"] {
            assert!(counted(text, &words).is_err(), "{text}");
        }
    }

    #[test]
    fn codes_are_whole_or_refused() {
        let read = |text: &str, beside| {
            code(text, beside).map(|(gtin, add_on)| (gtin.printed(), add_on.map(|a| a.to_string())))
        };
        let tide = ("614141001040".to_owned(), Some("01211".to_owned()));
        for (text, beside) in [
            ("614141001040 01211", None),
            ("61414100104001211", None),
            ("0614141001040-01211", None),
            ("614141001040", Some("01211")),
            ("614141001040", Some("1211")),
            ("614141001040 01211", Some("1211")),
        ] {
            assert_eq!(read(text, beside).unwrap(), tide, "{text}");
        }
        assert_eq!(read("614141001040", Some("8")).unwrap().1.as_deref(), Some("08"));
        assert_eq!(read("614141001040", None).unwrap().1, None);
        for (text, beside, at_code) in [
            ("61414100104001200", None, true),
            ("6.14141E+16", None, true),
            ("614141001041", None, true),
            ("2012345678900", None, true),
            ("614141001040", Some("x"), false),
            ("614141001040 01211", Some("01311"), false),
        ] {
            assert_eq!(read(text, beside).unwrap_err().0, at_code, "{text}");
        }
    }
}
