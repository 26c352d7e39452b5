//! Keys under which names are found again however they were typed, and numbers as they are kept.

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

/// An issue's number as it is kept: no blanks around it, no '#', no leading zeros, a minus sign as '-'.
#[must_use]
pub fn issue_number(text: &str) -> String {
    let text = text.trim_start_matches(|c: char| c == '#' || c.is_whitespace()).trim_end();
    if let Some(positive) =
        text.strip_prefix(['-', '\u{2212}']).filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
    {
        return format!("-{}", issue_number(positive));
    }
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
    fn issue_numbers_lose_what_means_nothing() {
        for (typed, kept) in [
            ("#012", "12"),
            (" 12 ", "12"),
            ("000", "0"),
            ("# Annual 1", "Annual 1"),
            ("# #12", "12"),
            (" # ", ""),
            ("0.5", "0.5"),
            ("00A", "0A"),
            ("\u{2212}01", "-1"),
            ("-A", "-A"),
            ("", ""),
        ] {
            assert_eq!(issue_number(typed), kept, "{typed}");
        }
    }
}
