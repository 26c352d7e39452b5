//! A comic's five-digit add-on: issue, cover, printing (common practice).

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// How a title's five-digit add-on is laid out; one title keeps one layout for its whole run (common practice).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Layout {
    /// Three digits issue, one cover, one printing.
    #[serde(rename = "IIICP")]
    Iiicp,
    /// Two digits issue, two cover, one printing.
    #[serde(rename = "IICCP")]
    Iiccp,
}

/// Why text is no layout.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no layout: IIICP (three digits issue, one cover, one printing) or IICCP (two, two, one)")]
pub struct LayoutError(pub String);

impl Layout {
    /// Both layouts.
    pub const ALL: [Self; 2] = [Self::Iiicp, Self::Iiccp];

    /// The only layout under which all of these add-ons make sense, if there is one.
    #[must_use]
    pub fn likely(add_ons: &[[u8; 5]]) -> Option<Self> {
        let likely = |layout: &Self| add_ons.iter().all(|&digits| Reading::new(digits, *layout).is_likely());
        let fitting: Vec<_> = Self::ALL.into_iter().filter(likely).collect();
        match fitting[..] {
            [layout] => Some(layout),
            _ => None,
        }
    }

    /// The issue number after which the issue digits begin again at 0.
    #[must_use]
    pub fn modulus(self) -> u32 {
        match self {
            Self::Iiicp => 1000,
            Self::Iiccp => 100,
        }
    }
}

impl FromStr for Layout {
    type Err = LayoutError;

    fn from_str(text: &str) -> Result<Self, LayoutError> {
        let named = |layout: &Self| layout.to_string().eq_ignore_ascii_case(text.trim());
        Self::ALL.into_iter().find(named).ok_or_else(|| LayoutError(text.to_owned()))
    }
}

impl fmt::Display for Layout {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Iiicp => "IIICP",
            Self::Iiccp => "IICCP",
        })
    }
}

/// A five-digit add-on read under a layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub struct Reading {
    /// The layout.
    pub layout: Layout,
    /// The issue digits: the issue number, or what is left of it beyond [`Layout::modulus`].
    pub issue: u32,
    /// The cover's number, from 1.
    pub cover: u8,
    /// The printing's number, from 1.
    pub printing: u8,
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "issue {}, cover {}, printing {}", self.issue, self.cover, self.printing)
    }
}

impl Reading {
    /// The add-on's `digits` under `layout`.
    #[must_use]
    pub fn new(digits: [u8; 5], layout: Layout) -> Self {
        let [a, b, c, d, printing] = digits.map(|d| d % 10);
        let tens = |high: u8, low: u8| high * 10 + low;
        match layout {
            Layout::Iiicp => Self { layout, issue: u32::from(tens(a, b)) * 10 + u32::from(c), cover: d, printing },
            Layout::Iiccp => Self { layout, issue: u32::from(tens(a, b)), cover: tens(c, d), printing },
        }
    }

    /// Whether the digits make sense: numbers from 1, and no more covers than nearly every issue has.
    fn is_likely(self) -> bool {
        const MOST_COVERS: u8 = 20;
        self.issue > 0 && (1..=MOST_COVERS).contains(&self.cover) && self.printing > 0
    }

    /// The issue number at or after `base` (which the title's record holds) that ends in the issue digits.
    #[must_use]
    pub fn with_base(self, base: u32) -> u32 {
        let modulus = self.layout.modulus();
        let ahead = (self.issue % modulus + modulus - base % modulus) % modulus;
        base.checked_add(ahead).unwrap_or_else(|| base - (modulus - ahead))
    }

    /// The issue number nearest to `near` (such as the issue expected next) that ends in the issue digits; of two
    /// equally near the lower one.
    #[must_use]
    pub fn issue_near(self, near: u32) -> u32 {
        let modulus = self.layout.modulus();
        let above = self.with_base(near);
        match above.checked_sub(modulus) {
            Some(below) if near.abs_diff(below) <= near.abs_diff(above) => below,
            _ => above,
        }
    }
}
