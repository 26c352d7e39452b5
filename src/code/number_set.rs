//! Number sets: how the bars of each digit are wide, and which set each place of a symbol takes.
//!
//! Source of every table here: GS1 General Specifications, section 'EAN/UPC symbology specification' (number sets A, B
//! and C; left half of an EAN-13; UPC-E; two-digit and five-digit add-on symbols).

use NumberSet::{A, B};

/// One of the three ways in which a digit's seven modules are divided into two bars and two spaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum NumberSet {
    /// Begins with a space, an odd number of dark modules.
    A,
    /// Begins with a space, an even number of dark modules: set C mirrored.
    B,
    /// Begins with a bar: set A with dark and light exchanged. The right half of a symbol.
    C,
}

/// Widths in modules of set A's elements (space, bar, space, bar); set C has the same widths as bar, space, bar, space.
pub const WIDTHS_A_MODULES: [[u8; 4]; 10] = [
    [3, 2, 1, 1],
    [2, 2, 2, 1],
    [2, 1, 2, 2],
    [1, 4, 1, 1],
    [1, 1, 3, 2],
    [1, 2, 3, 1],
    [1, 1, 1, 4],
    [1, 3, 1, 2],
    [1, 2, 1, 3],
    [3, 1, 1, 2],
];

/// Widths in modules of set B's elements (space, bar, space, bar).
pub const WIDTHS_B_MODULES: [[u8; 4]; 10] = [
    [1, 1, 2, 3],
    [1, 2, 2, 2],
    [2, 2, 1, 2],
    [1, 1, 4, 1],
    [2, 3, 1, 1],
    [1, 3, 2, 1],
    [4, 1, 1, 1],
    [2, 1, 3, 1],
    [3, 1, 2, 1],
    [2, 1, 1, 3],
];

/// Sets of an EAN-13's left half, by its first digit, which has no bars of its own.
pub const MAIN_SETS: [[NumberSet; 6]; 10] = [
    [A, A, A, A, A, A],
    [A, A, B, A, B, B],
    [A, A, B, B, A, B],
    [A, A, B, B, B, A],
    [A, B, A, A, B, B],
    [A, B, B, A, A, B],
    [A, B, B, B, A, A],
    [A, B, A, B, A, B],
    [A, B, A, B, B, A],
    [A, B, B, A, B, A],
];

/// Sets of a five-digit add-on, by [`five_digit_value`].
pub const FIVE_DIGIT_SETS: [[NumberSet; 5]; 10] = [
    [B, B, A, A, A],
    [B, A, B, A, A],
    [B, A, A, B, A],
    [B, A, A, A, B],
    [A, B, B, A, A],
    [A, A, B, B, A],
    [A, A, A, B, B],
    [A, B, A, B, A],
    [A, B, A, A, B],
    [A, A, B, A, B],
];

/// Sets of a two-digit add-on, by its number modulo 4.
pub const TWO_DIGIT_SETS: [[NumberSet; 2]; 4] = [[A, A], [A, B], [B, A], [B, B]];

/// Sets of a UPC-E of number system 0, by the check digit; number system 1 exchanges A and B (that one is common
/// practice, the standard knows number system 0 only).
pub const UPC_E_SETS: [[NumberSet; 6]; 10] = [
    [B, B, B, A, A, A],
    [B, B, A, B, A, A],
    [B, B, A, A, B, A],
    [B, B, A, A, A, B],
    [B, A, B, B, A, A],
    [B, A, A, B, B, A],
    [B, A, A, A, B, B],
    [B, A, B, A, B, A],
    [B, A, B, A, A, B],
    [B, A, A, B, A, B],
];

impl NumberSet {
    /// Widths in modules of the four elements of `digit` (0 to 9; of a larger value the last decimal counts).
    #[must_use]
    pub fn widths_modules(self, digit: u8) -> [u8; 4] {
        let place = usize::from(digit % 10);
        match self {
            Self::A | Self::C => WIDTHS_A_MODULES[place],
            Self::B => WIDTHS_B_MODULES[place],
        }
    }

    /// Whether the first of the four elements is a bar.
    #[must_use]
    pub fn begins_dark(self) -> bool {
        self == Self::C
    }

    /// The seven modules of `digit`, true for dark.
    #[must_use]
    pub fn modules(self, digit: u8) -> [bool; 7] {
        let mut modules = [false; 7];
        let mut dark = self.begins_dark();
        let mut at = 0;
        for width in self.widths_modules(digit) {
            for _ in 0..width {
                modules[at] = dark;
                at += 1;
            }
            dark = !dark;
        }
        modules
    }
}

/// Sets of an EAN-13's left half by its first digit (0 to 9; of a larger value the last decimal counts). A UPC-A is an
/// EAN-13 that begins with 0.
#[must_use]
pub fn main_sets(first_digit: u8) -> [NumberSet; 6] {
    MAIN_SETS[usize::from(first_digit % 10)]
}

/// The value (0 to 9) that chooses a five-digit add-on's sets: weights 3 and 9, modulo 10.
#[must_use]
pub fn five_digit_value(digits: &[u8; 5]) -> u8 {
    let [a, b, c, d, e] = digits.map(u32::from);
    ((3 * (a + c + e) + 9 * (b + d)) % 10) as u8
}

/// Sets of a five-digit add-on.
#[must_use]
pub fn five_digit_sets(digits: &[u8; 5]) -> [NumberSet; 5] {
    FIVE_DIGIT_SETS[usize::from(five_digit_value(digits))]
}

/// Sets of a two-digit add-on.
#[must_use]
pub fn two_digit_sets(digits: &[u8; 2]) -> [NumberSet; 2] {
    TWO_DIGIT_SETS[(usize::from(digits[0]) * 10 + usize::from(digits[1])) % 4]
}

/// Sets of a UPC-E's six digits; `None` for a number system other than 0 and 1, or a check digit above 9.
#[must_use]
pub fn upc_e_sets(number_system: u8, check_digit: u8) -> Option<[NumberSet; 6]> {
    let sets = *UPC_E_SETS.get(usize::from(check_digit))?;
    match number_system {
        0 => Some(sets),
        1 => Some(sets.map(|set| if set == A { B } else { A })),
        _ => None,
    }
}
