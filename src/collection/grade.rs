//! A copy's condition.

use std::fmt;
use std::str::FromStr;

use serde::{Serialize, Serializer};

/// The names on the ten-point scale, in tenths, the best first (common practice).
const NAMES: [(u8, &str); 8] = [
    (100, "mint"),
    (94, "near mint"),
    (80, "very fine"),
    (60, "fine"),
    (40, "very good"),
    (20, "good"),
    (10, "fair"),
    (5, "poor"),
];

/// A copy's condition on the ten-point scale, from 0.5 to 10, in tenths: no float.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Grade(u8);

/// Why text is no condition.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no condition; write it from 0.5 to 10, such as 9.4, or as a name, such as 'near mint'")]
pub struct GradeError(String);

impl Grade {
    /// From tenths; `None` if the scale does not have it.
    #[must_use]
    pub fn new(tenths: u8) -> Option<Self> {
        (NAMES[7].0..=NAMES[0].0).contains(&tenths).then_some(Self(tenths))
    }

    /// In tenths.
    #[must_use]
    pub fn tenths(self) -> u8 {
        self.0
    }

    /// Its name, or the two names that it lies between.
    #[must_use]
    pub fn name(self) -> String {
        let at = NAMES.partition_point(|(tenths, _)| *tenths > self.0);
        match (NAMES.get(at), NAMES.get(at.wrapping_sub(1))) {
            (Some((tenths, name)), _) if *tenths == self.0 => (*name).to_owned(),
            (Some((_, below)), Some((_, above))) => format!("between {below} and {above}"),
            // A grade lies on the scale, so one of the two above holds.
            _ => String::new(),
        }
    }
}

impl FromStr for Grade {
    type Err = GradeError;

    fn from_str(text: &str) -> Result<Self, GradeError> {
        let typed = text.trim();
        if let Some((tenths, _)) = NAMES.iter().find(|(_, name)| name.eq_ignore_ascii_case(typed)) {
            return Ok(Self(*tenths));
        }
        let wrong = || GradeError(typed.to_owned());
        let (whole, part) = typed.split_once(['.', ',']).unwrap_or((typed, "0"));
        let digits = |s: &str, most: usize| (1..=most).contains(&s.len()) && s.bytes().all(|c| c.is_ascii_digit());
        if !digits(whole, 2) || !digits(part, 1) {
            return Err(wrong());
        }
        format!("{whole}{part}").parse().ok().and_then(Self::new).ok_or_else(wrong)
    }
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.0 / 10, self.0 % 10)
    }
}

impl Serialize for Grade {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(f64::from(self.0) / 10.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_has_names_and_places_between() {
        // The names and their numbers: common practice.
        for (text, shown, name) in [
            ("10", "10.0", "mint"),
            ("9.4", "9.4", "near mint"),
            ("Near Mint", "9.4", "near mint"),
            ("8", "8.0", "very fine"),
            ("6.0", "6.0", "fine"),
            ("very good", "4.0", "very good"),
            ("2", "2.0", "good"),
            ("1", "1.0", "fair"),
            ("0,5", "0.5", "poor"),
            ("9.8", "9.8", "between near mint and mint"),
            ("1.8", "1.8", "between fair and good"),
            ("0.6", "0.6", "between poor and fair"),
        ] {
            let grade: Grade = text.parse().unwrap();
            assert_eq!((grade.to_string().as_str(), grade.name().as_str()), (shown, name), "{text}");
        }
        for text in ["", "0", "0.4", "10.1", "11", "9.45", "9.", ".5", "-1", "1e1", "minty"] {
            assert!(text.parse::<Grade>().is_err(), "{text}");
        }
        assert_eq!(serde_json::to_string(&Grade(94)).unwrap(), "9.4");
    }
}
