//! Keys under which names are found again however they were typed, and numbers stand in the order people expect.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Words that a title may or may not be typed with (common practice: they are skipped when sorting, too).
const ARTICLES: [&str; 3] = ["the", "a", "an"];

/// The key under which a name is searched: accents folded, case folded, '&' as 'and', punctuation dropped, one space
/// between words, no leading article. A name of nothing but punctuation is its own key.
#[must_use]
pub fn search_key(name: &str) -> String {
    let words = words(name);
    if words.is_empty() {
        return name.trim().to_owned();
    }
    let skip = usize::from(words.len() > 1 && ARTICLES.contains(&words[0].as_str()));
    words[skip..].join(" ")
}

/// The words of a name, folded as in [`search_key`].
#[must_use]
pub fn words(name: &str) -> Vec<String> {
    let mut folded = String::with_capacity(name.len());
    for c in name.nfkd().filter(|&c| !is_combining_mark(c)).flat_map(char::to_lowercase) {
        match c {
            '&' => folded.push_str(" and "),
            // An apostrophe stands inside a word ("Ferryman's"), any other mark between words.
            '\'' | '\u{2019}' => {}
            c if c.is_alphanumeric() => folded.push(c),
            _ => folded.push(' '),
        }
    }
    folded.split_whitespace().map(str::to_owned).collect()
}

/// A text that sorts as people count: runs of digits by value ('2' before '10'), the rest by its folded letters.
#[must_use]
pub fn sort_key(number: &str) -> String {
    let mut key = String::new();
    let mut digits = String::new();
    for c in number.nfkd().filter(|&c| !is_combining_mark(c)).flat_map(char::to_lowercase).chain(std::iter::once('\0'))
    {
        if c.is_ascii_digit() {
            digits.push(c);
            continue;
        }
        if !digits.is_empty() {
            key.push_str(&format!("{:0>8}", digits.trim_start_matches('0')));
            digits.clear();
        }
        if c != '\0' {
            key.push(c);
        }
    }
    key
}

/// An issue's number as it is kept: no blanks around it, no '#', no leading zeros.
#[must_use]
pub fn issue_number(text: &str) -> String {
    let text = text.trim().trim_start_matches('#').trim_start();
    let bare = text.trim_start_matches('0');
    match bare.chars().next() {
        Some(c) if c.is_ascii_digit() => bare.to_owned(),
        _ if bare.len() < text.len() => format!("0{bare}"),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_meet_in_one_key() {
        for name in
            ["The Night & Ferry", "the  night and ferry!", "NIGHT-AND-FERRY", "Nïght and Férry", "Ｎight and ferry"]
        {
            assert_eq!(search_key(name), "night and ferry", "{name}");
        }
        assert_eq!(search_key("Ferryman\u{2019}s Song"), search_key("Ferryman's song"));
        // An article alone is a name, and only a leading one is dropped.
        assert_eq!(search_key("The"), "the");
        assert_eq!(search_key("Song of the Ferry"), "song of the ferry");
        assert_eq!(search_key(" !? "), "!?");
        assert_eq!(search_key("  "), "");
        assert_eq!(search_key("夜の船"), "夜の船");
    }

    #[test]
    fn numbers_sort_as_people_count() {
        let mut numbers = ["10", "2", "1/2", "Annual 10", "2.1", "Annual 9", "0", "100", "2b"];
        numbers.sort_by_key(|number| sort_key(number));
        assert_eq!(numbers, ["0", "1/2", "2", "2.1", "2b", "10", "100", "Annual 9", "Annual 10"]);
        assert_eq!(sort_key("007"), sort_key("7"));
        assert_eq!(sort_key("ANNUAL 1"), sort_key("Annual 1"));
        assert_ne!(sort_key(""), sort_key("0"));
    }

    #[test]
    fn issue_numbers_lose_what_means_nothing() {
        for (typed, kept) in [
            ("#012", "12"),
            (" 12 ", "12"),
            ("000", "0"),
            ("# Annual 1", "Annual 1"),
            ("0.5", "0.5"),
            ("00A", "0A"),
            ("", ""),
        ] {
            assert_eq!(issue_number(typed), kept, "{typed}");
        }
    }
}
