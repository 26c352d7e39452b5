//! Keys under which names are found again however they were typed, and numbers stand in the order people expect.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Words that a title may or may not be typed with (common practice: they are skipped when sorting, too).
const ARTICLES: [&str; 3] = ["the", "a", "an"];

/// The key under which a name is searched: accents folded, case folded, '&' as 'and', punctuation dropped, one space
/// between words, no leading article.
#[must_use]
pub fn search_key(name: &str) -> String {
    let words = words(name);
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
