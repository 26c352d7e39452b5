//! Issue numbers in the forms of the trade, in the order in which they stand in a box.

use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::iter::Peekable;
use std::str::Chars;

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::issue_number;

/// Decimal places that a fraction is compared by: enough to tell any two of a cover's fractions apart.
const PLACES: usize = 8;

/// An issue's number as it stands on the cover: 12, 0, ½, -1, 1.5, 1A, Annual 2. Empty for a whole book.
///
/// Numbers are the same issue if their keys are: 012 and 12, ½ and 1/2 and 0.5, ANNUAL 2 and Annual 2. They stand by value,
/// then by what follows (1, 1.5, 1A, 2), names after all of them. A typed slash is a fraction in 1/2 alone: 3/4 is a
/// double issue.
#[derive(Debug, Clone)]
pub struct IssueNumber {
    text: String,
    key: String,
}

impl IssueNumber {
    /// From what a person typed or a file holds.
    #[must_use]
    pub fn new(text: &str) -> Self {
        let text = issue_number(text);
        let key = key(&text);
        Self { text, key }
    }

    /// As it is shown.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The key that collections are sorted and searched by.
    #[must_use]
    pub fn sort_key(&self) -> &str {
        &self.key
    }

    /// The number, if it is a plain one.
    #[must_use]
    pub fn whole(&self) -> Option<u32> {
        self.text.parse().ok()
    }

    /// Whether it begins with a number rather than a name.
    #[must_use]
    pub fn is_numeric(&self) -> bool {
        self.key.strip_prefix('-').unwrap_or(&self.key).starts_with(|c: char| c.is_ascii_digit())
    }
}

impl fmt::Display for IssueNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl PartialEq for IssueNumber {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

impl Eq for IssueNumber {}

impl Hash for IssueNumber {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.key.hash(state);
    }
}

impl Ord for IssueNumber {
    fn cmp(&self, other: &Self) -> Ordering {
        self.key.cmp(&other.key)
    }
}

impl PartialOrd for IssueNumber {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

fn key(text: &str) -> String {
    let folded = folded(text);
    let negative = folded.strip_prefix('-').filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit() || c == '.'));
    let mut rest = negative.unwrap_or(&folded).chars().peekable();
    let mut key = String::new();
    if negative.is_some()
        && let Some((whole, part)) = number(&mut rest)
    {
        // Nine's complement: -2 stands before -1, and '~' behind it lets -1.5 stand before -1.
        let complement = |c: char| char::from_digit(9 - c.to_digit(10).unwrap_or(0), 10).unwrap_or('0');
        key = format!("-{}.{}~", whole.chars().map(complement).collect::<String>(), {
            part.chars().map(complement).collect::<String>()
        });
    }
    while rest.peek().is_some() {
        match number(&mut rest) {
            Some((whole, part)) if part.is_empty() => key.push_str(&whole),
            Some((whole, part)) => key.push_str(&format!("{whole}.{part}")),
            None => key.extend(rest.next()),
        }
    }
    key
}

/// Accents and case folded; a fraction's one character as `n⁄d`, apart from a number before it.
fn folded(text: &str) -> String {
    let mut folded = String::new();
    for c in text.chars() {
        let start = folded.len();
        folded.extend(std::iter::once(c).nfkd().filter(|&c| !is_combining_mark(c)).flat_map(char::to_lowercase));
        let stands_behind_digit = folded[..start].ends_with(|c: char| c.is_ascii_digit());
        let is_fraction = c != '\u{2044}' && folded[start..].contains('\u{2044}');
        if is_fraction && stands_behind_digit {
            folded.insert(start, ' ');
        }
    }
    folded
}

/// Takes a number that begins here: its whole part in eight digits, and what stands behind the point.
fn number(rest: &mut Peekable<Chars<'_>>) -> Option<(String, String)> {
    let mut ahead = rest.clone();
    let mut whole = digits(&mut ahead);
    if whole.is_empty() && ahead.peek() != Some(&'.') {
        return None;
    }
    let (part, ahead) = if let Some(found) = fraction(&whole, &ahead) {
        whole.clear();
        found
    } else if let Some(found) = mixed(&ahead).or_else(|| decimals(&ahead)) {
        found
    } else if whole.is_empty() {
        return None;
    } else {
        (String::new(), ahead)
    };
    *rest = ahead;
    Some((format!("{:0>8}", whole.trim_start_matches('0')), part))
}

fn digits(rest: &mut Peekable<Chars<'_>>) -> String {
    let mut digits = String::new();
    while let Some(c) = rest.next_if(char::is_ascii_digit) {
        digits.push(c);
    }
    digits
}

/// `/2` behind a 1, or the denominator behind any numerator of a fraction's one character.
fn fraction<'a>(numerator: &str, behind: &Peekable<Chars<'a>>) -> Option<(String, Peekable<Chars<'a>>)> {
    let mut ahead = behind.clone();
    let typed = match ahead.next()? {
        '/' => true,
        '\u{2044}' => false,
        _ => return None,
    };
    let denominator = digits(&mut ahead);
    if typed && (numerator, denominator.as_str()) != ("1", "2") {
        return None;
    }
    let (n, d) = (numerator.parse::<u64>().ok()?, denominator.parse::<u64>().ok()?);
    if n >= d {
        return None;
    }
    let mut left = n;
    let part = std::iter::from_fn(|| {
        let digit = left.checked_mul(10)? / d;
        left = left * 10 % d;
        u32::try_from(digit).ok().and_then(|digit| char::from_digit(digit, 10))
    });
    Some((part.take(PLACES).collect::<String>().trim_end_matches('0').to_owned(), ahead))
}

/// ` 1/2` behind a whole number.
fn mixed<'a>(behind: &Peekable<Chars<'a>>) -> Option<(String, Peekable<Chars<'a>>)> {
    let mut ahead = behind.clone();
    ahead.next_if_eq(&' ')?;
    let numerator = digits(&mut ahead);
    fraction(&numerator, &ahead)
}

/// `.5` behind a whole number or none.
fn decimals<'a>(behind: &Peekable<Chars<'a>>) -> Option<(String, Peekable<Chars<'a>>)> {
    let mut ahead = behind.clone();
    ahead.next_if_eq(&'.')?;
    let part = digits(&mut ahead);
    (!part.is_empty()).then_some((part, ahead))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_as_in_a_box() {
        let ordered = [
            "",
            "-2",
            "-1.5",
            "-1",
            "0",
            "\u{00bc}",
            "\u{00bd}",
            "\u{00be}",
            "1",
            "1.1",
            "1.10",
            "1.5",
            "1A",
            "1B",
            "2",
            "2\u{00bd}",
            "3",
            "3/4",
            "10",
            "99",
            "100",
            "999999",
            "1000000",
            "Annual 1",
            "Annual 2",
            "Annual 10",
            "Special",
        ];
        let numbers = ordered.map(IssueNumber::new);
        for (at, one) in numbers.iter().enumerate() {
            for (other_at, other) in numbers.iter().enumerate() {
                assert_eq!(one.cmp(other), at.cmp(&other_at), "{one:?} and {other:?}");
            }
        }
    }

    #[test]
    fn spellings_of_one_number_are_the_same() {
        for same in [
            &["\u{00bd}", "1/2", "0.5", ".5", "#\u{00bd}", "1\u{2044}2"][..],
            &["2\u{00bd}", "2 1/2", "2.5"],
            &["-1", "#-1", "\u{2212}1", "-01"],
            &["12", "012", "# 12", " 12 "],
            &["Annual 2", "ANNUAL 2", "annual 02"],
            &["1a", "1A"],
        ] {
            for spelling in same {
                assert_eq!(IssueNumber::new(spelling), IssueNumber::new(same[0]), "{spelling}");
            }
        }
        assert_ne!(IssueNumber::new("3/4"), IssueNumber::new("\u{00be}"));
        assert_ne!(IssueNumber::new("1.1"), IssueNumber::new("1.10"));
        assert_ne!(IssueNumber::new(""), IssueNumber::new("0"));
    }

    #[test]
    fn numbers_are_told_from_names() {
        for (text, numeric, whole) in [
            ("12", true, Some(12)),
            ("-1", true, None),
            ("\u{00bd}", true, None),
            (".5", true, None),
            ("1A", true, None),
            ("Annual 2", false, None),
            ("-", false, None),
            ("", false, None),
        ] {
            let number = IssueNumber::new(text);
            assert_eq!((number.is_numeric(), number.whole()), (numeric, whole), "{text}");
        }
    }

    #[test]
    fn odd_text_has_a_key_too() {
        for text in
            ["1/0", "\u{00bd}\u{00bd}", "...", "1..2", "-", "--1", "99999999999999999999/2", "1.2.3", "\u{2044}2"]
        {
            let number = IssueNumber::new(text);
            assert_eq!(number, IssueNumber::new(number.as_str()), "{text}");
        }
    }
}
