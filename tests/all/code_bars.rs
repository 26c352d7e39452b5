//! Number sets and whole symbols: against the standard's worked example, and bar by bar against the bar-code
//! generator zint.
#![allow(clippy::print_stdout, reason = "a skipped comparison must be seen")]

use boxward::code::NumberSet::{A, B, C};
use boxward::code::*;

use super::code_check_digits::completed;
use super::code_reference::{Seeded, ask, missing};

#[test]
fn five_digit_worked_example() {
    // GS1 General Specifications, release 18, figure 5.2.2.5.2-1: 86104 has the value 3, so B A A A B.
    assert_eq!(five_digit_value(&[8, 6, 1, 0, 4]), 3);
    assert_eq!(five_digit_sets(&[8, 6, 1, 0, 4]), [B, A, A, A, B]);
}

#[test]
fn two_digit_sets_follow_the_remainder() {
    // GS1 General Specifications, two-digit add-on: multiples of 4 take A A, then A B, B A, B B.
    for (digits, sets) in [([0, 0], [A, A]), ([1, 3], [A, B]), ([3, 4], [B, A]), ([9, 9], [B, B])] {
        assert_eq!(two_digit_sets(&digits), sets, "{digits:?}");
    }
}

#[test]
fn sets_mirror_and_invert_each_other() {
    // GS1 General Specifications: each digit is seven modules; set C is set A inverted; set B is set C mirrored; set A
    // has an odd and set B an even number of dark modules.
    for digit in 0..10 {
        let (a, b, c) = (A.modules(digit), B.modules(digit), C.modules(digit));
        assert_eq!(a.map(|m| !m), c);
        let mut mirrored = c;
        mirrored.reverse();
        assert_eq!(b, mirrored);
        let dark = |modules: [bool; 7]| modules.iter().filter(|&&m| m).count();
        assert_eq!((dark(a) % 2, dark(b) % 2, dark(c) % 2), (1, 0, 0));
        assert_eq!(A.widths_modules(digit).iter().sum::<u8>(), 7);
        assert_eq!((a[0], b[0], c[0]), (false, false, true));
    }
    assert_eq!(main_sets(0), [A; 6]);
    assert_eq!(upc_e_sets(2, 0), None);
    assert_eq!(upc_e_sets(1, 0), Some([A, A, A, B, B, B]));
}

/// The modules that zint draws for each line, blanks at the end left out.
fn zint(kind: &str, lines: &[String]) -> Vec<Vec<bool>> {
    let folder = tempfile::tempdir().unwrap();
    let input = folder.path().join("lines.txt");
    std::fs::write(&input, lines.join("\n") + "\n").unwrap();
    let args = ["--barcode", kind, "--batch", "--dump", "--height=1", "--input", input.to_str().unwrap()];
    let text = ask("zint", &args, "").unwrap();
    let drawn: Vec<_> = text
        .lines()
        .map(|line| {
            let bit = |c: char| (0..4).rev().map(move |i| c.to_digit(16).unwrap() >> i & 1 == 1);
            let modules: Vec<bool> = line.chars().filter(|c| *c != ' ').flat_map(bit).collect();
            modules[..=modules.iter().rposition(|&dark| dark).unwrap()].to_vec()
        })
        .collect();
    assert_eq!(drawn.len(), lines.len(), "zint drew as many symbols as it was asked for");
    drawn
}

fn with_add_on(gtin: Gtin, add_on: Option<AddOn>) -> String {
    // zint works out the check digit itself, so its own arithmetic is compared as well.
    let main = if gtin.is_gtin12() { gtin.printed() } else { gtin.to_string() };
    let body = &main[..main.len() - 1];
    add_on.map_or(body.to_owned(), |add_on| format!("{body}+{add_on}"))
}

#[test]
fn bars_are_those_of_zint() {
    if missing("zint", ask("zint", &["--version"], "").is_some()) {
        return;
    }
    let mut random = Seeded(0x0614_1410);
    for (kind, length) in [("UPCA", 11), ("EANX", 12)] {
        let codes: Vec<(Gtin, Option<AddOn>)> = (0..300)
            .map(|i| {
                let mut body = random.digits(length);
                // Enough leading digits other than 0 that each is a UPC-A or EAN-13, not something shorter.
                body[0] = 1 + body[0] % 9;
                (completed(&body), AddOn::from_digits(&random.digits([0, 2, 5][i % 3])))
            })
            .collect();
        let lines: Vec<String> = codes.iter().map(|&(gtin, add_on)| with_add_on(gtin, add_on)).collect();
        for (drawn, ((gtin, add_on), line)) in zint(kind, &lines).iter().zip(codes.iter().zip(&lines)) {
            let (main, behind) = drawn.split_at(95);
            assert_eq!(main, main_modules(*gtin), "{line}");
            let gap = behind.iter().take_while(|&&dark| !dark).count();
            assert_eq!(&behind[gap..], add_on.map(add_on_modules).unwrap_or_default(), "add-on of {line}");
        }
    }

    let eights: Vec<Gtin> = (0..200).map(|_| completed(&random.digits(7))).collect();
    let lines: Vec<String> = eights.iter().map(|gtin| gtin.printed()[..7].to_owned()).collect();
    for (drawn, gtin) in zint("EANX", &lines).iter().zip(&eights) {
        assert_eq!(drawn.as_slice(), ean_8_modules(*gtin).unwrap(), "{gtin}");
    }

    let mut shorts: Vec<[u8; 8]> = Vec::new();
    while shorts.len() < 400 {
        let mut eight: [u8; 8] = random.digits(8).try_into().unwrap();
        eight[0] %= 2;
        if let Err(UpcEError::CheckDigit { expected, .. }) = upc_e_expand(&eight) {
            eight[7] = expected;
        }
        shorts.extend(upc_e_expand(&eight).is_ok().then_some(eight));
    }
    let lines: Vec<String> = shorts.iter().map(|d| d[..7].iter().map(|d| d.to_string()).collect()).collect();
    for (drawn, eight) in zint("UPCE", &lines).iter().zip(&shorts) {
        let gtin = upc_e_expand(eight).unwrap();
        assert_eq!(drawn.as_slice(), upc_e_modules(gtin).unwrap(), "{eight:?}");
    }
}
