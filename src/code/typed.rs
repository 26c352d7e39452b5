//! What a person typed or a handheld scanner sent, as a code.
//!
//! Never a wrong code in silence: a line that fits two codes is refused with both written out, and what had to be
//! repaired is marked and needs confirming.

use std::fmt;

use super::line::{Line, X, tidy};
use super::upc_e::UpcEError;
use super::{AddOn, Certainty, Gtin, Issn, Symbology, check_digit, isbn_10_to_gtin, mod_11_check_digit, upc_e_expand};

/// A line that was understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Typed {
    /// Two or five digits alone: an add-on whose main code is known already.
    AddOn(AddOn),
    /// A main code, with or without add-on.
    Code {
        /// The main code.
        gtin: Gtin,
        /// The add-on, if one was typed.
        add_on: Option<AddOn>,
        /// The symbol that such digits stand under.
        symbology: Symbology,
        /// `Confirm` whenever something was repaired.
        certainty: Certainty,
        /// What was repaired.
        repair: Option<Repair>,
    },
}

/// A change or an assumption without which a line would be no code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Repair {
    /// The leading 0 of a UPC-A was missing; a spreadsheet loses it, and some scanners do.
    LeadingZero,
    /// The blank before the last digits was no border to an add-on: only together do the digits fit.
    OneNumber,
    /// Ten bare digits were taken for an ISBN-10. They may be the middle of a UPC-A whose small outer digits were
    /// overlooked, and one in eleven of those fits.
    TenDigits,
}

impl fmt::Display for Repair {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::LeadingZero => "the leading 0 was missing",
            Self::OneNumber => "the blank is inside the number",
            Self::TenDigits => "ten digits taken for an ISBN-10",
        })
    }
}

/// Why a line is no code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TypedError {
    /// Nothing in it.
    #[error("there are no digits: type those under the bars, then a blank, then those of the add-on")]
    Empty,
    /// More characters than any code needs.
    #[error("the line is longer than {max} characters: one code a line", max = super::LONGEST_LINE)]
    TooLong,
    /// A character that is no digit from 0 to 9.
    #[error("'{0}' is no digit from 0 to 9")]
    NotADigit(char),
    /// A plus sign without two or five digits behind it, or a second one.
    #[error("behind the '+' belong the two or five digits of the add-on")]
    Plus,
    /// No code has so many digits.
    #[error(
        "no code has {0} digits: 12 stand under a UPC-A, 13 under an EAN-13, 8 under a short symbol, and 2 or 5 more \
         under an add-on"
    )]
    Length(usize),
    /// The check digit does not fit.
    #[error("the check digit of {main} is {found}, but {expected} would fit: look at the digits again")]
    CheckDigit {
        /// The main code's digits.
        main: String,
        /// The add-on behind them.
        add_on: Option<AddOn>,
        /// The digit that stands there.
        found: char,
        /// The digit that the others call for.
        expected: char,
    },
    /// Eleven digits that fit with no 0 before them.
    #[error("{main} has eleven digits and does not fit with a leading 0: one digit is missing")]
    DigitMissing {
        /// The eleven digits.
        main: String,
        /// The add-on behind them.
        add_on: Option<AddOn>,
    },
    /// Eight digits that are neither an EAN-8 nor a UPC-E.
    #[error("{main} fits neither as EAN-8 nor as UPC-E: {upc_e}")]
    Eight {
        /// The eight digits.
        main: String,
        /// The add-on behind them.
        add_on: Option<AddOn>,
        /// Why it is no UPC-E.
        upc_e: UpcEError,
    },
    /// More than one code fits.
    #[error("this fits more than one code: {}", remedy(.0))]
    Ambiguous(Vec<String>),
    /// A number of a carton.
    #[error("{0} is the number of a carton (GTIN-14): type the digits on the book itself")]
    Carton(String),
    /// An ISSN alone.
    #[error("{0} is an ISSN, it names no single issue: type the 13 digits under the bars, they begin with 977")]
    Issn(Issn),
    /// An AIM symbology identifier of another symbol.
    #[error("the scanner reports {identifier}, {symbol}: only ]E0 to ]E4 (EAN and UPC) hold such a code")]
    Identifier {
        /// The identifier as sent.
        identifier: String,
        /// The symbol that it stands for.
        symbol: &'static str,
    },
    /// Digits that the AIM symbology identifier before them does not allow.
    #[error("behind {identifier} belong {expected}, this has {found} digits: check how the scanner is set")]
    IdentifierLength {
        /// The identifier as sent.
        identifier: String,
        /// What it announces.
        expected: &'static str,
        /// How many digits there are.
        found: usize,
    },
}

/// One way to read a main code's digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct MainReading {
    pub gtin: Gtin,
    pub symbology: Symbology,
    pub repair: Option<Repair>,
}

/// Every code that `main` can be, its check digit right.
pub(super) fn main_readings(main: &[u8]) -> Vec<MainReading> {
    let reading = |gtin, symbology| MainReading { gtin, symbology, repair: None };
    let mut found = Vec::new();
    match main.len() {
        8 => {
            found.extend(Gtin::from_digits(main).ok().map(|gtin| reading(gtin, Symbology::Ean8)));
            let digits = <[u8; 8]>::try_from(main).ok();
            found.extend(digits.and_then(|d| upc_e_expand(&d).ok()).map(|gtin| reading(gtin, Symbology::UpcE)));
        }
        10 => found.extend(isbn_10_to_gtin(&text_of(main)).ok().map(|gtin| reading(gtin, Symbology::Ean13))),
        11 => {
            // A leading 0 weighs nothing, so the eleven digits must fit by themselves.
            let gtin = Gtin::from_digits(&[&[0], main].concat()).ok();
            found.extend(gtin.map(|gtin| MainReading {
                gtin,
                symbology: Symbology::UpcA,
                repair: Some(Repair::LeadingZero),
            }));
        }
        12 => found.extend(Gtin::from_digits(main).ok().map(|gtin| reading(gtin, Symbology::UpcA))),
        13 | 14 => found.extend(Gtin::from_digits(main).ok().map(|gtin| reading(gtin, Symbology::usual(gtin)))),
        _ => {}
    }
    found
}

/// Understands one typed or scanned line.
///
/// Accepted: 12 or 13 digits, with 2 or 5 more in the same run or behind a blank, hyphen, tab or '+'; 8 digits (EAN-8
/// or UPC-E, the latter expanded); an ISBN-10; 14 digits that begin with 0; a UPC-A that lost its leading 0; an add-on
/// alone; and all of these with the words ISBN, EAN or UPC before them. AIM symbology identifiers ]E0 to ]E4 are
/// followed to the letter (ISO/IEC 15424; GS1 General Specifications, 'symbology identifiers'; from memory).
///
/// # Errors
/// If the line is no code or more than one.
pub fn parse_typed(text: &str) -> Result<Typed, TypedError> {
    let whole = tidy(text)?;
    if whole.starts_with(']') {
        return identified(&whole);
    }
    let text = without_word(&whole);
    if let Some(issn) = issn_alone(text) {
        return Err(TypedError::Issn(issn));
    }
    let line = Line::scan(text)?;
    let n = line.digits.len();
    let ends: Vec<usize> = match (line.plus, line.tail_apart()) {
        _ if n == 0 => return Err(TypedError::Empty),
        (None | Some(0), _) if matches!(n, 2 | 5) => return Ok(Typed::AddOn(add_on_of(&line.digits)?)),
        (Some(at), _) if at > 0 && matches!(n - at, 2 | 5) => match at {
            8 | 10..=14 => vec![at],
            _ => return Err(TypedError::Length(at)),
        },
        (Some(_), _) => return Err(TypedError::Plus),
        // People break numbers where they like, so a blank decides only if a main code can end there. An EAN-13 and an
        // ISBN-10 are broken often enough to be tried whole as well.
        (None, Some(at)) if can_end(at, n) => {
            if matches!(n, 10 | 13) {
                vec![at, n]
            } else {
                vec![at]
            }
        }
        (None, _) => ends_unbroken(n).ok_or(TypedError::Length(n))?.to_vec(),
    };
    let apart = line.plus.or(line.tail_apart()).filter(|at| ends.first() == Some(at));
    let mut fitting = Vec::new();
    for &end in &ends {
        let add_on = if end < n { Some(add_on_of(&line.digits[end..])?) } else { None };
        let assumed = if apart.is_some() && Some(end) != apart {
            Some(Repair::OneNumber)
        } else if end == 10 && !shows_isbn_10(&whole, &line) {
            Some(Repair::TenDigits)
        } else {
            None
        };
        fitting.extend(
            main_readings(&line.digits[..end])
                .into_iter()
                .map(|reading| (MainReading { repair: reading.repair.or(assumed), ..reading }, add_on)),
        );
    }
    let carton =
        (apart.is_none() && n == 14 && line.digits[0] != 0 && fits(&line.digits)).then(|| text_of(&line.digits));
    match (fitting.as_slice(), carton) {
        (&[(MainReading { gtin, symbology, repair }, add_on)], None) => {
            let certainty = if repair.is_some() { Certainty::Confirm } else { Certainty::Sure };
            Ok(Typed::Code { gtin, add_on, symbology, certainty, repair })
        }
        ([], Some(carton)) => Err(TypedError::Carton(carton)),
        ([], None) => Err(misfit(&line, ends.first().copied().unwrap_or(n))),
        (several, _) => {
            Err(TypedError::Ambiguous(several.iter().map(|(r, add_on)| spelled(r.gtin, *add_on)).collect()))
        }
    }
}

/// Whether a main code of `at` digits can have the rest of `n` as its add-on. Books have five-digit add-ons only.
fn can_end(at: usize, n: usize) -> bool {
    matches!(at, 8 | 11..=14) || at == 10 && n == 15
}

/// Where the main code can end in `n` digits that nothing divides, the likelier end first.
pub(super) fn ends_unbroken(n: usize) -> Option<&'static [usize]> {
    Some(match n {
        8 => &[8],
        10 => &[10],
        11 => &[11],
        12 => &[12],
        13 => &[13],
        14 => &[12, 14],
        15 => &[13],
        16 => &[11, 14],
        17 => &[12],
        18 => &[13],
        19 => &[14],
        _ => return None,
    })
}

/// Why the digits before `end` are no code.
fn misfit(line: &Line, end: usize) -> TypedError {
    let main = &line.digits[..end];
    let add_on = AddOn::from_digits(&line.digits[end..]);
    let text = text_of(main);
    let x_is_check = matches!(end, 8 | 10) && !main[..end - 1].contains(&X);
    if main.contains(&X) && !x_is_check {
        return TypedError::NotADigit('X');
    }
    let Some((&last, body)) = main.split_last() else { return TypedError::Empty };
    let found = if last == X { 'X' } else { char::from(b'0' + last) };
    let by_10 = char::from(b'0' + check_digit(body));
    match end {
        8 => {
            if let Ok(issn) = text.parse::<Issn>() {
                return TypedError::Issn(issn);
            }
            match <[u8; 8]>::try_from(main).map(|digits| upc_e_expand(&digits)) {
                _ if last == X => TypedError::NotADigit('X'),
                Ok(Err(upc_e)) if main[0] <= 1 => TypedError::Eight { main: text, add_on, upc_e },
                _ => TypedError::CheckDigit { main: text, add_on, found, expected: by_10 },
            }
        }
        10 => TypedError::CheckDigit { main: text, add_on, found, expected: mod_11_check_digit(body) },
        11 => TypedError::DigitMissing { main: text, add_on },
        14 if main[0] != 0 && fits(main) => TypedError::Carton(text),
        _ => TypedError::CheckDigit { main: text, add_on, found, expected: by_10 },
    }
}

/// A line that begins with an AIM symbology identifier: ']', a letter for the symbology, a modifier.
fn identified(text: &str) -> Result<Typed, TypedError> {
    let mut main: Option<(MainReading, Option<AddOn>)> = None;
    let mut alone: Option<AddOn> = None;
    for part in text.split(']').skip(1) {
        let data_at = part.char_indices().nth(2).map_or(part.len(), |(at, _)| at);
        let (kind, data) = part.split_at(data_at);
        let identifier = format!("]{kind}");
        let modifier = match kind {
            "E0" | "E1" | "E2" | "E3" | "E4" => kind.as_bytes()[1],
            _ => return Err(TypedError::Identifier { symbol: symbol_name(kind), identifier }),
        };
        let line = Line::scan(data)?;
        let n = line.digits.len();
        if line.plus.is_some() {
            return Err(TypedError::Plus);
        }
        // Some scanners leave out the 0 before a UPC-A although the standard's packet has it.
        let (end, expected) = match modifier {
            b'0' => (matches!(n, 12 | 13).then_some(n), "13 digits"),
            b'1' => ((n == 2).then_some(0), "the two digits of an add-on"),
            b'2' => ((n == 5).then_some(0), "the five digits of an add-on"),
            b'3' => (
                match n {
                    14 | 17 => Some(12),
                    15 | 18 => Some(13),
                    _ => None,
                },
                "13 digits and the 2 or 5 of an add-on",
            ),
            _ => ((n == 8).then_some(8), "8 digits"),
        };
        let end = end.ok_or(TypedError::IdentifierLength { identifier: identifier.clone(), expected, found: n })?;
        let add_on = if end < n { Some(add_on_of(&line.digits[end..])?) } else { None };
        let main_wanted = end > 0;
        if main_wanted && (main.is_some() || alone.is_some()) || !main_wanted && alone.is_some() {
            return Err(TypedError::IdentifierLength { identifier, expected: "one code a line", found: n });
        }
        if main_wanted {
            let reading = main_readings(&line.digits[..end]).into_iter().find(|r| r.symbology != Symbology::UpcE);
            main = Some((reading.ok_or_else(|| misfit(&line, end))?, add_on));
        } else {
            alone = add_on;
        }
    }
    match (main, alone) {
        (Some((_, Some(_))), Some(_)) => Err(TypedError::Plus),
        (Some((MainReading { gtin, symbology, .. }, add_on)), alone) => {
            Ok(Typed::Code { gtin, add_on: add_on.or(alone), symbology, certainty: Certainty::Sure, repair: None })
        }
        (None, Some(add_on)) => Ok(Typed::AddOn(add_on)),
        (None, None) => Err(TypedError::Empty),
    }
}

/// What an AIM symbology identifier's letter stands for (ISO/IEC 15424, from memory).
fn symbol_name(kind: &str) -> &'static str {
    match kind.chars().next() {
        Some('A') => "a Code 39",
        Some('C') => "a Code 128",
        Some('d') => "a Data Matrix",
        Some('E') => "an EAN or UPC of unknown form",
        Some('e') => "a GS1 DataBar",
        Some('F') => "a Codabar",
        Some('G') => "a Code 93",
        Some('I') => "an Interleaved 2 of 5",
        Some('L') => "a PDF417",
        Some('Q') => "a QR Code",
        Some('U') => "a MaxiCode",
        Some('z') => "an Aztec Code",
        _ => "a symbol not known here",
    }
}

/// Whether ten digits are written as an ISBN-10 is: with the word, an X, or the check digit apart.
fn shows_isbn_10(whole: &str, line: &Line) -> bool {
    let word = whole.get(..4).is_some_and(|head| head.eq_ignore_ascii_case("ISBN"));
    word || line.digits[9] == X || line.breaks.contains(&9)
}

/// An ISSN in its usual writing, a hyphen in the middle. Its eight digits may fit as an EAN-8 by chance.
fn issn_alone(text: &str) -> Option<Issn> {
    let (left, right) = text.split_once('-')?;
    if left.len() == 4 && right.len() == 4 { text.parse().ok() } else { None }
}

/// The text behind a leading ISBN, ISSN, EAN or UPC, as copied from a page.
pub(super) fn without_word(text: &str) -> &str {
    const WORDS: [&str; 8] = ["ISSN", "ISBN-13", "ISBN-10", "ISBN", "EAN-13", "EAN", "UPC-A", "UPC"];
    let behind = |word: &str| {
        let head = text.get(..word.len())?;
        // 'ISBN-10' only counts as a word if a digit does not follow at once: ISBN 10…
        let rest = &text[word.len()..];
        (head.eq_ignore_ascii_case(word) && !(word.ends_with(|c: char| c.is_ascii_digit()) && starts_with_digit(rest)))
            .then_some(rest)
    };
    WORDS.into_iter().find_map(behind).map_or(text, |rest| rest.trim_start().trim_start_matches(':').trim_start())
}

fn starts_with_digit(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

/// A form of the code that has no other reading.
fn spelled(gtin: Gtin, add_on: Option<AddOn>) -> String {
    let main = if gtin.is_gtin12() { gtin.printed() } else { gtin.to_string() };
    add_on.map_or(main.clone(), |add_on| format!("{main}+{add_on}"))
}

/// How to type each of `readings` so that nothing else fits.
fn remedy(readings: &[String]) -> String {
    let hint = if readings.iter().any(|r| r.contains('+')) { "put a blank or + before the add-on and " } else { "" };
    format!("{hint}type {}", readings.join(" or "))
}

fn fits(digits: &[u8]) -> bool {
    digits.split_last().is_some_and(|(&last, body)| last == check_digit(body))
}

fn add_on_of(digits: &[u8]) -> Result<AddOn, TypedError> {
    if digits.contains(&X) {
        return Err(TypedError::NotADigit('X'));
    }
    AddOn::from_digits(digits).ok_or(TypedError::Length(digits.len()))
}

fn text_of(digits: &[u8]) -> String {
    digits.iter().map(|&d| if d == X { 'X' } else { char::from(b'0' + d) }).collect()
}
