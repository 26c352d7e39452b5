//! The filing order: a rule that the collector sets, and the keys that follow from it.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use smallvec::SmallVec;

use crate::collection::{CopyId, IssueNumber, Title, search_key};

/// What titles are ordered by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// The publisher's name.
    Publisher,
    /// The family or character that a title belongs to.
    Family,
    /// The title's name without a leading article, numbers in it by value.
    Title,
    /// The volume, then the year in which it began.
    Volume,
}

/// What the copies of a title are ordered by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Within {
    /// The issue in the order of the trade: -1, 0, ½, 1, 1A, 2.
    Issue,
    /// The cover.
    Cover,
    /// The printing.
    Printing,
}

/// Where issues stand that have a name instead of a number: annuals, specials.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Annuals {
    /// Behind the numbered issues.
    #[default]
    Behind,
    /// Before them.
    Before,
    /// Behind the numbered issue that came out last before them, by the dates on their covers; where those are not known,
    /// behind all.
    Dated,
}

/// The order in which copies stand. Total and stable: what it leaves open, the records' own numbers decide.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilingRule {
    titles: Vec<Level>,
    copies: Vec<Within>,
    annuals: Annuals,
}

/// Why text is no filing rule.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RuleError {
    /// A word that is none of the rule's.
    #[error("'{0}' is nothing to order by; there are publisher, family, title, volume, issue, cover and printing")]
    Word(String),
    /// The same word twice.
    #[error("'{0}' stands in the order twice")]
    Twice(String),
    /// Title or issue is missing.
    #[error("the order has no '{0}'; such as: publisher, title, volume, issue, cover, printing")]
    Missing(&'static str),
    /// Titles would be torn apart.
    #[error("'{0}' stands behind issue, cover or printing, but copies of a title stay together; put it before them")]
    TitleTorn(String),
    /// Neither behind nor before.
    #[error(
        "annuals stand 'behind' or 'before' the numbered issues or, by their cover dates, 'dated' among them; not '{0}'"
    )]
    Annuals(String),
}

/// What is compared byte by byte. The usual key of a copy takes no memory of its own: a wall may have a million.
pub type KeyBytes = SmallVec<[u8; 16]>;

/// A copy's place in the order: keys compare byte by byte.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FilingKey(KeyBytes);

impl Default for FilingRule {
    fn default() -> Self {
        Self {
            titles: vec![Level::Publisher, Level::Title, Level::Volume],
            copies: vec![Within::Issue, Within::Cover, Within::Printing],
            annuals: Annuals::default(),
        }
    }
}

impl Level {
    const ALL: [Self; 4] = [Self::Publisher, Self::Family, Self::Title, Self::Volume];

    fn word(self) -> &'static str {
        match self {
            Self::Publisher => "publisher",
            Self::Family => "family",
            Self::Title => "title",
            Self::Volume => "volume",
        }
    }
}

impl Within {
    const ALL: [Self; 3] = [Self::Issue, Self::Cover, Self::Printing];

    fn word(self) -> &'static str {
        match self {
            Self::Issue => "issue",
            Self::Cover => "cover",
            Self::Printing => "printing",
        }
    }
}

impl FromStr for Annuals {
    type Err = RuleError;

    fn from_str(text: &str) -> Result<Self, RuleError> {
        match text {
            "behind" => Ok(Self::Behind),
            "before" => Ok(Self::Before),
            "dated" => Ok(Self::Dated),
            other => Err(RuleError::Annuals(other.to_owned())),
        }
    }
}

impl fmt::Display for Annuals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Behind => "behind",
            Self::Before => "before",
            Self::Dated => "dated",
        })
    }
}

impl FromStr for FilingRule {
    type Err = RuleError;

    /// From its words in order, such as `publisher, title, volume, issue, cover, printing`; annuals stand behind.
    fn from_str(text: &str) -> Result<Self, RuleError> {
        let mut rule = Self { titles: Vec::new(), copies: Vec::new(), annuals: Annuals::default() };
        for word in text.split(',').map(str::trim) {
            if let Some(level) = Level::ALL.into_iter().find(|level| level.word() == word) {
                if rule.titles.contains(&level) {
                    return Err(RuleError::Twice(word.to_owned()));
                }
                if !rule.copies.is_empty() {
                    return Err(RuleError::TitleTorn(word.to_owned()));
                }
                rule.titles.push(level);
            } else if let Some(within) = Within::ALL.into_iter().find(|within| within.word() == word) {
                if rule.copies.contains(&within) {
                    return Err(RuleError::Twice(word.to_owned()));
                }
                rule.copies.push(within);
            } else {
                return Err(RuleError::Word(word.to_owned()));
            }
        }
        if !rule.titles.contains(&Level::Title) {
            return Err(RuleError::Missing("title"));
        }
        if !rule.copies.contains(&Within::Issue) {
            return Err(RuleError::Missing("issue"));
        }
        Ok(rule)
    }
}

impl fmt::Display for FilingRule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = self.titles.iter().map(|level| level.word()).chain(self.copies.iter().map(|within| within.word()));
        f.write_str(&words.collect::<Vec<_>>().join(", "))
    }
}

impl FilingRule {
    /// The same order with annuals elsewhere.
    #[must_use]
    pub fn with_annuals(self, annuals: Annuals) -> Self {
        Self { annuals, ..self }
    }

    /// Where annuals stand.
    #[must_use]
    pub fn annuals(&self) -> Annuals {
        self.annuals
    }

    /// Whether families count, but behind titles: then those of a family don't stand together, and no divider can be theirs.
    #[must_use]
    pub fn tears_families(&self) -> bool {
        self.titles.contains(&Level::Family) && !self.keeps_families()
    }

    /// Whether titles of a family stand together.
    #[must_use]
    pub fn keeps_families(&self) -> bool {
        let place = |level| self.titles.iter().position(|&l| l == level);
        place(Level::Family).is_some_and(|family| place(Level::Title).is_none_or(|title| family < title))
    }

    /// The part of a copy's key that its title makes.
    #[must_use]
    pub fn title_key(&self, title: &Title, family: Option<&str>) -> KeyBytes {
        let mut key = KeyBytes::new();
        for level in &self.titles {
            match level {
                Level::Publisher => known(&mut key, title.publisher.as_deref()),
                Level::Family => known(&mut key, family),
                Level::Title => text(&mut key, &search_key(&title.name)),
                Level::Volume => {
                    text(&mut key, &search_key(&title.volume));
                    // An unknown year stands behind all others.
                    key.extend(title.year.map_or(u16::MAX, |year| year.cast_unsigned()).to_be_bytes());
                }
            }
        }
        key.extend(title.id.number().to_be_bytes());
        key
    }

    /// The part that its issue (by its sort key), cover and printing make.
    #[must_use]
    pub fn copy_key(&self, issue_key: &str, cover: &str, printing: u32) -> KeyBytes {
        self.copy_key_behind(None, issue_key, cover, printing)
    }

    /// As [`FilingRule::copy_key`], of an annual that stands behind a numbered issue, by that issue's sort key.
    #[must_use]
    pub fn copy_key_behind(&self, behind: Option<&str>, issue_key: &str, cover: &str, printing: u32) -> KeyBytes {
        let is_numbered = is_numbered(issue_key);
        let mut key = KeyBytes::new();
        let rest = Within::ALL.iter().filter(|within| !self.copies.contains(within));
        for within in self.copies.iter().chain(rest) {
            match within {
                Within::Issue => {
                    key.push(match (self.annuals, is_numbered || behind.is_some()) {
                        (Annuals::Behind | Annuals::Dated, true) | (Annuals::Before, false) => 1,
                        (Annuals::Behind | Annuals::Dated, false) | (Annuals::Before, true) => 2,
                    });
                    if let Some(behind) = behind {
                        // Behind all copies of that issue, whose keys end in 0, and before 12A, which goes on in letters.
                        key.extend(behind.bytes().filter(|&b| b > 1));
                        key.push(1);
                    }
                    bytes(&mut key, issue_key);
                    key.push(0);
                }
                // Most covers are a digit.
                Within::Cover if cover.bytes().all(|b| b.is_ascii_digit()) => text(&mut key, cover),
                Within::Cover => text(&mut key, &cover.to_lowercase()),
                // In one byte, as far as it goes: so the usual key is short enough to take no memory of its own.
                Within::Printing => match u8::try_from(printing) {
                    Ok(few) if few < u8::MAX => key.push(few),
                    _ => {
                        key.push(u8::MAX);
                        key.extend_from_slice(&printing.to_be_bytes());
                    }
                },
            }
        }
        key
    }

    /// A copy's whole key.
    #[must_use]
    pub fn key(
        &self,
        title: &Title,
        family: Option<&str>,
        issue: &IssueNumber,
        cover: &str,
        printing: u32,
        copy: CopyId,
    ) -> FilingKey {
        let mut key = self.title_key(title, family);
        key.extend(self.copy_key(issue.sort_key(), cover, printing));
        key.extend(copy.number().to_be_bytes());
        FilingKey(key)
    }
}

/// Whether an issue has a number and not a name, by its sort key. A whole book has neither and stands first.
#[must_use]
pub fn is_numbered(issue_key: &str) -> bool {
    let number = issue_key.strip_prefix('-').unwrap_or(issue_key);
    number.is_empty() || number.starts_with(|c: char| c.is_ascii_digit())
}

/// A name; one that is not known stands behind all others.
fn known(key: &mut KeyBytes, name: Option<&str>) {
    match name.map(search_key).filter(|name| !name.is_empty()) {
        Some(name) => {
            key.push(1);
            text(key, &name);
        }
        None => key.push(2),
    }
}

/// Text as it is, without the byte that ends it.
fn bytes(key: &mut KeyBytes, text: &str) {
    if text.bytes().all(|b| b != 0) {
        key.extend_from_slice(text.as_bytes());
    } else {
        key.extend(text.bytes().filter(|&b| b != 0));
    }
}

/// Text with numbers by value, and an end that lies before any letter.
fn text(key: &mut KeyBytes, text: &str) {
    if let &[digit @ b'1'..=b'9'] = text.as_bytes() {
        // As below, for nearly every cover.
        return key.extend_from_slice(&[b'0' + 1, digit, 0]);
    }
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        if digits == 0 {
            key.extend(rest[..c.len_utf8()].bytes().filter(|&b| b != 0));
            rest = &rest[c.len_utf8()..];
            continue;
        }
        let number = rest[..digits].trim_start_matches('0');
        // How many digits, then the digits: still before any letter.
        key.push(b'0' + number.len().min(40) as u8);
        key.extend(number.bytes());
        rest = &rest[digits..];
    }
    key.push(0);
}
