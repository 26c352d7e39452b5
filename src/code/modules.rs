//! Whole symbols as modules, the unit that every bar and space is a whole number of.
//!
//! Source: GS1 General Specifications, 'EAN/UPC symbology specification' (symbol formats). Quiet zones are left out.

use super::number_set::{NumberSet, five_digit_sets, main_sets, two_digit_sets, upc_e_sets};
use super::{AddOn, Gtin, upc_e};

const GUARD: [bool; 3] = [true, false, true];
const CENTRE: [bool; 5] = [false, true, false, true, false];
const UPC_E_END: [bool; 6] = [false, true, false, true, false, true];
const ADD_ON_GUARD: [bool; 4] = [true, false, true, true];
const ADD_ON_SEPARATOR: [bool; 2] = [false, true];

/// The 95 modules of the EAN-13 that carries `gtin`, true for dark. For a GTIN-12 that is its UPC-A.
#[must_use]
pub fn main_modules(gtin: Gtin) -> [bool; 95] {
    let [first, rest @ ..] = gtin.digits();
    let sets = main_sets(first).into_iter().chain([NumberSet::C; 6]);
    halves(rest.into_iter().zip(sets), 6)
}

/// The 67 modules of the EAN-8 that carries `gtin`; `None` if that is no GTIN-8.
#[must_use]
pub fn ean_8_modules(gtin: Gtin) -> Option<[bool; 67]> {
    let digits = gtin.gtin8()?;
    let sets = [[NumberSet::A; 4], [NumberSet::C; 4]].concat();
    Some(halves(digits.into_iter().zip(sets), 4))
}

/// The 51 modules of the UPC-E that carries `gtin`; `None` if it can't be zero-suppressed.
#[must_use]
pub fn upc_e_modules(gtin: Gtin) -> Option<[bool; 51]> {
    let [system, body @ .., check] = upc_e::compress(gtin)?;
    let sets = upc_e_sets(system, check)?;
    let digits = body.into_iter().zip(sets).flat_map(|(digit, set)| set.modules(digit));
    Some(filled(GUARD.into_iter().chain(digits).chain(UPC_E_END)))
}

/// The modules of an add-on, true for dark: 20 for two digits, 47 for five.
#[must_use]
pub fn add_on_modules(add_on: AddOn) -> Vec<bool> {
    let sets = match &add_on {
        AddOn::Two(digits) => two_digit_sets(digits).to_vec(),
        AddOn::Five(digits) => five_digit_sets(digits).to_vec(),
    };
    let mut modules = ADD_ON_GUARD.to_vec();
    for (place, (&digit, set)) in add_on.digits().iter().zip(sets).enumerate() {
        if place > 0 {
            modules.extend(ADD_ON_SEPARATOR);
        }
        modules.extend(set.modules(digit));
    }
    modules
}

/// Guard, `half` digits, centre, the other digits, guard.
fn halves<const N: usize>(digits: impl Iterator<Item = (u8, NumberSet)>, half: usize) -> [bool; N] {
    let mut modules = GUARD.to_vec();
    for (place, (digit, set)) in digits.enumerate() {
        if place == half {
            modules.extend(CENTRE);
        }
        modules.extend(set.modules(digit));
    }
    modules.extend(GUARD);
    filled(modules)
}

fn filled<const N: usize>(modules: impl IntoIterator<Item = bool>) -> [bool; N] {
    let mut array = [false; N];
    array.iter_mut().zip(modules).for_each(|(to, from)| *to = from);
    array
}
