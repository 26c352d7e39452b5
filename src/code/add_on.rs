//! The add-on symbol of two or five digits to the right of a UPC-A or EAN-13.

use std::fmt;
use std::str::FromStr;

/// The digits of an add-on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum AddOn {
    /// Two digits.
    Two([u8; 2]),
    /// Five digits.
    Five([u8; 5]),
}

/// What was seen in the add-on's place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AddOnState {
    /// It was read.
    Read(AddOn),
    /// The space right of the symbol is blank or ends: there is none.
    Absent,
    /// Something is there that could not be read for certain.
    Unread,
}

/// Why text is no add-on.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AddOnError {
    /// Not two or five digits.
    #[error("an add-on has two or five digits, '{0}' has not")]
    Length(String),
    /// A character that is no digit.
    #[error("'{0}' is no digit")]
    NotADigit(char),
}

impl AddOn {
    /// The digit values.
    #[must_use]
    pub fn digits(&self) -> &[u8] {
        match self {
            Self::Two(d) => d,
            Self::Five(d) => d,
        }
    }

    /// From two or five digit values (0 to 9); `None` for any other count or value.
    #[must_use]
    pub fn from_digits(digits: &[u8]) -> Option<Self> {
        match digits.len() {
            _ if digits.iter().any(|&d| d > 9) => None,
            2 => digits.try_into().ok().map(Self::Two),
            5 => digits.try_into().ok().map(Self::Five),
            _ => None,
        }
    }
}

impl AddOnState {
    /// The add-on, if it was read.
    #[must_use]
    pub fn read(self) -> Option<AddOn> {
        match self {
            Self::Read(add_on) => Some(add_on),
            Self::Absent | Self::Unread => None,
        }
    }

    /// `read`, `absent` or `unread`: the words of the JSON output and of the store.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Read(_) => "read",
            Self::Absent => "absent",
            Self::Unread => "unread",
        }
    }
}

impl FromStr for AddOn {
    type Err = AddOnError;

    fn from_str(text: &str) -> Result<Self, AddOnError> {
        let digits = text
            .chars()
            .map(|c| c.to_digit(10).map(|d| d as u8).ok_or(AddOnError::NotADigit(c)))
            .collect::<Result<Vec<u8>, _>>()?;
        Self::from_digits(&digits).ok_or_else(|| AddOnError::Length(text.to_owned()))
    }
}

impl fmt::Display for AddOn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.digits().iter().try_for_each(|d| write!(f, "{d}"))
    }
}

impl serde::Serialize for AddOn {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for AddOn {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}
