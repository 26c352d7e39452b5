//! A typed line as digits, with the places where they stand apart. What the digits are is left to [`super::typed`].

use super::typed::TypedError;

/// Most characters that a line may have: a code with every blank, hyphen and identifier takes about forty.
pub const LONGEST_LINE: usize = 80;

/// The value that stands for X, the check digit ten of an ISBN-10.
pub(super) const X: u8 = 10;

/// Digit values in order, and the positions in them where something stood between.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Line {
    /// Values 0 to 9, or [`X`].
    pub digits: Vec<u8>,
    /// How many digits stand before each blank or hyphen, ascending.
    pub breaks: Vec<usize>,
    /// How many digits stand before the '+'.
    pub plus: Option<usize>,
}

/// The line without control characters, invisible marks and surrounding blanks; full-width characters made narrow.
///
/// Scanners frame a line in control characters (STX, ETX, GS, CR), and pasted text carries byte-order and direction
/// marks. Whatever stands between digits becomes one blank, so nothing that was apart grows together.
pub(super) fn tidy(text: &str) -> Result<String, TypedError> {
    if text.chars().nth(LONGEST_LINE).is_some() {
        return Err(TypedError::TooLong);
    }
    let narrow = text.chars().filter_map(|c| match c {
        '\u{feff}' | '\u{200b}'..='\u{200f}' | '\u{2060}' => None,
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(u32::from(c) - 0xfee0),
        '\u{ad}' | '\u{2010}'..='\u{2015}' | '\u{2212}' => Some('-'),
        c if c.is_control() || c.is_whitespace() => Some(' '),
        c => Some(c),
    });
    Ok(narrow.collect::<String>().trim().to_owned())
}

impl Line {
    /// Digits of a tidied text.
    pub fn scan(text: &str) -> Result<Self, TypedError> {
        let mut line = Self::default();
        for c in text.chars() {
            let here = line.digits.len();
            match c {
                '0'..='9' => line.digits.push(c as u8 - b'0'),
                'x' | 'X' if here > 0 => line.digits.push(X),
                ' ' | '-' if line.breaks.last() == Some(&here) => {}
                ' ' | '-' => line.breaks.push(here),
                '+' if line.plus.is_none() => line.plus = Some(here),
                '+' => return Err(TypedError::Plus),
                c => return Err(TypedError::NotADigit(c)),
            }
        }
        Ok(line)
    }

    /// Where the last two or five digits begin, if they stand apart from the others.
    pub fn tail_apart(&self) -> Option<usize> {
        let &at = self.breaks.iter().rev().find(|&&at| at < self.digits.len())?;
        (at > 0 && matches!(self.digits.len() - at, 2 | 5)).then_some(at)
    }
}
