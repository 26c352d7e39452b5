//! UPC-A, EAN-13, UPC-E and EAN-8 with add-ons, as dark and light modules.
//!
//! The tables are this renderer's own, written as bit strings after GS1 General Specifications, section 5.2 'Linear
//! bar codes: EAN/UPC symbology specifications'; the library keeps widths. Neither is derived from the other, and
//! `tests/all/render_symbol.rs` holds this one against a third implementation.

/// Number set A of the digits 0 to 9, 1 is dark. Set C is its complement, set B is set C read backwards.
const SET_A: [&str; 10] =
    ["0001101", "0011001", "0010011", "0111101", "0100011", "0110001", "0101111", "0111011", "0110111", "0001011"];
/// EAN-13: the sets of the left half, by the first digit.
const LEADING: [&str; 10] =
    ["AAAAAA", "AABABB", "AABBAB", "AABBBA", "ABAABB", "ABBAAB", "ABBBAA", "ABABAB", "ABABBA", "ABBABA"];
/// UPC-E with number system 0: the sets of the six digits, by the check digit. Number system 1 swaps A and B.
const SUPPRESSED: [&str; 10] =
    ["BBBAAA", "BBABAA", "BBAABA", "BBAAAB", "BABBAA", "BAABBA", "BAAABB", "BABABA", "BABAAB", "BAABAB"];
/// Five-digit add-on: the sets, by its weighted sum.
const FIVE: [&str; 10] = ["BBAAA", "BABAA", "BAABA", "BAAAB", "ABBAA", "AABBA", "AAABB", "ABABA", "ABAAB", "AABAB"];
/// Two-digit add-on: the sets, by its value modulo 4.
const TWO: [&str; 4] = ["AA", "AB", "BA", "BB"];

/// The height of EAN-13 and UPC-A bars: 22.85 mm at a module of 0.33 mm (GS1 General Specifications, section 5.2).
pub const BAR_HEIGHT_MODULES: f32 = 69.24;
/// How far guard bars reach below the others, in modules (same source).
pub const GUARD_DROP_MODULES: f32 = 5.0;
/// From the last guard bar to the add-on, in modules: 7 to 12 are allowed for EAN-13, 9 to 12 for UPC-A (same source).
pub const GAP_MODULES: usize = 9;
/// How much lower than the main bars the add-on's bars begin: their digits stand above them. The bars end with the
/// guard bars (from memory; some printers end them with the ordinary bars).
pub const ADD_ON_TOP_MODULES: f32 = 9.0;

/// A bar code as it is printed, in modules from the left edge of its first bar.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Symbol {
    /// The main symbol's modules; `true` is dark.
    pub main: Vec<bool>,
    /// The main symbol's modules whose bars reach down between the digits.
    pub long: Vec<bool>,
    /// Light modules between the main symbol and the add-on.
    pub gap: usize,
    /// The add-on's modules; empty: none.
    pub add_on: Vec<bool>,
    /// The height of the main symbol's ordinary bars.
    pub height: f32,
    /// What a person reads: each character, the module its centre stands on, and whether it stands above the add-on.
    pub text: Vec<(char, f32, bool)>,
}

impl Symbol {
    /// UPC-A. The last digit is printed as given, so that a wrong check digit can be tried.
    pub fn upc_a(digits: [u8; 12]) -> Self {
        let mut symbol = Self::halves(&digits[..6], &digits[6..], "AAAAAA");
        // A UPC-A's first and last digit stand outside, and their bars are as long as the guards.
        for i in (3..10).chain(85..92) {
            symbol.long[i] = true;
        }
        symbol.write(&digits[..1], -9.0, 7.0);
        symbol.write(&digits[1..6], 10.0, 7.0);
        symbol.write(&digits[6..11], 50.0, 7.0);
        symbol.write(&digits[11..], 97.0, 7.0);
        symbol
    }

    /// EAN-13.
    pub fn ean_13(digits: [u8; 13]) -> Self {
        let mut symbol = Self::halves(&digits[1..7], &digits[7..], LEADING[usize::from(digits[0])]);
        symbol.write(&digits[..1], -10.0, 7.0);
        symbol.write(&digits[1..7], 3.0, 7.0);
        symbol.write(&digits[7..], 50.0, 7.0);
        symbol
    }

    /// EAN-8.
    pub fn ean_8(digits: [u8; 8]) -> Self {
        let mut symbol = Self::halves(&digits[..4], &digits[4..], "AAAA");
        symbol.height = 55.24;
        symbol.write(&digits[..4], 3.0, 7.0);
        symbol.write(&digits[4..], 36.0, 7.0);
        symbol
    }

    /// UPC-E: number system (0 or 1), the six digits, and the check digit of the UPC-A that it stands for.
    pub fn upc_e(digits: [u8; 8]) -> Self {
        let mut symbol = Self { height: BAR_HEIGHT_MODULES, ..Self::default() };
        symbol.guard("101");
        for (&digit, set) in digits[1..7].iter().zip(SUPPRESSED[usize::from(digits[7])].chars()) {
            let set = if digits[0] == 0 { set } else { swap(set) };
            symbol.digit(digit, set);
        }
        symbol.guard("010101");
        symbol.write(&digits[..1], -9.0, 7.0);
        symbol.write(&digits[1..7], 3.0, 7.0);
        symbol.write(&digits[7..], 53.0, 7.0);
        symbol
    }

    /// Bars of a bit string, of no known symbology: for pictures in which nothing may be read.
    pub fn pattern(bits: &str) -> Self {
        let main: Vec<bool> = bits.chars().map(|c| c == '1').collect();
        Self { long: vec![false; main.len()], main, height: BAR_HEIGHT_MODULES, ..Self::default() }
    }

    /// With a two-digit add-on.
    pub fn with_two(self, digits: [u8; 2]) -> Self {
        let value = usize::from(digits[0]) * 10 + usize::from(digits[1]);
        self.with_add_on(&digits, TWO[value % 4])
    }

    /// With a five-digit add-on.
    pub fn with_five(self, digits: [u8; 5]) -> Self {
        let d = digits.map(usize::from);
        let value = (3 * (d[0] + d[2] + d[4]) + 9 * (d[1] + d[3])) % 10;
        self.with_add_on(&digits, FIVE[value])
    }

    /// Every module from the first bar to the last, the gap included.
    pub fn modules(&self) -> Vec<bool> {
        let gap = if self.add_on.is_empty() { 0 } else { self.gap };
        self.main.iter().copied().chain(std::iter::repeat_n(false, gap)).chain(self.add_on.iter().copied()).collect()
    }

    /// The width in modules, from the first bar to the last.
    pub fn width(&self) -> f32 {
        let add_on = if self.add_on.is_empty() { 0 } else { self.gap + self.add_on.len() };
        (self.main.len() + add_on) as f32
    }

    fn halves(left: &[u8], right: &[u8], sets: &str) -> Self {
        let mut symbol = Self { height: BAR_HEIGHT_MODULES, ..Self::default() };
        symbol.guard("101");
        for (&digit, set) in left.iter().zip(sets.chars()) {
            symbol.digit(digit, set);
        }
        symbol.guard("01010");
        for &digit in right {
            symbol.digit(digit, 'C');
        }
        symbol.guard("101");
        symbol
    }

    fn with_add_on(mut self, digits: &[u8], sets: &str) -> Self {
        if self.gap == 0 {
            self.gap = GAP_MODULES;
        }
        let bits = |text: &str| text.chars().map(|c| c == '1').collect::<Vec<bool>>();
        self.add_on = bits("1011");
        let start = (self.main.len() + self.gap) as f32;
        for (i, (&digit, set)) in digits.iter().zip(sets.chars()).enumerate() {
            if i > 0 {
                self.add_on.extend(bits("01"));
            }
            let centre = start + self.add_on.len() as f32 + 3.5;
            self.text.push((char::from(b'0' + digit), centre, true));
            self.add_on.extend(modules(digit, set));
        }
        self
    }

    fn guard(&mut self, bits: &str) {
        self.main.extend(bits.chars().map(|c| c == '1'));
        self.long.resize(self.main.len(), true);
    }

    fn digit(&mut self, digit: u8, set: char) {
        self.main.extend(modules(digit, set));
        self.long.resize(self.main.len(), false);
    }

    fn write(&mut self, digits: &[u8], left: f32, step: f32) {
        for (i, &digit) in digits.iter().enumerate() {
            self.text.push((char::from(b'0' + digit), left + step * (i as f32 + 0.5), false));
        }
    }
}

/// The digit that belongs behind `body`: 3 and 1 by turns from the right, up to the next ten (GS1 General
/// Specifications, 'standard check digit calculations').
pub fn check(body: &[u8]) -> u8 {
    let mut sum = 0;
    for (i, &digit) in body.iter().rev().enumerate() {
        sum += u32::from(digit) * if i % 2 == 0 { 3 } else { 1 };
    }
    (sum.next_multiple_of(10) - sum) as u8
}

/// The digits of `text`, for codes written out in a list. A sign that is no digit counts as 0.
pub fn digits<const N: usize>(text: &str) -> [u8; N] {
    let mut signs = text.bytes().filter(u8::is_ascii_digit);
    std::array::from_fn(|_| signs.next().map_or(0, |c| c - b'0'))
}

fn swap(set: char) -> char {
    if set == 'A' { 'B' } else { 'A' }
}

fn modules(digit: u8, set: char) -> Vec<bool> {
    let a = SET_A[usize::from(digit)].chars().map(|c| c == '1');
    match set {
        'A' => a.collect(),
        'B' => a.rev().map(|dark| !dark).collect(),
        _ => a.map(|dark| !dark).collect(),
    }
}
