//! The renderer's bar patterns against `zint` (an independent encoder; Debian package `zint`, release 2.11), bar by
//! bar, and against worked examples of the standard.

use crate::render::random::Random;
use crate::render::symbol::{ADD_ON_TOP_MODULES, BAR_HEIGHT_MODULES, GUARD_DROP_MODULES, Symbol, check, digits};
use std::process::Command;

/// Whether to go on without a reference program: says so, or fails where all of them are required.
pub fn missing(program: &str) -> bool {
    let absent = Command::new(program).arg("--version").output().is_err();
    if absent {
        let required = std::env::var_os("BOXWARD_REQUIRE_REFERENCES").is_some_and(|value| value == "1");
        assert!(!required, "{program} is required and not installed");
        println!("skipped: {program} is not installed");
    }
    absent
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    UpcA,
    Ean13,
    UpcE,
    Ean8,
}

fn zint(kind: Kind, data: &str, gap: usize, rest: &[&str]) -> String {
    // EANX draws EAN-8 or EAN-13 by the number of digits.
    let name = match kind {
        Kind::UpcA => "UPCA",
        Kind::Ean13 | Kind::Ean8 => "EANX",
        Kind::UpcE => "UPCE",
    };
    let gap = format!("--addongap={gap}");
    let output = Command::new("zint").args(["-b", name, "-d", data, &gap]).args(rest).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "zint {name} {data}: {}", String::from_utf8_lossy(&output.stderr));
    text
}

/// A row of modules that zint writes as hexadecimal digits, four modules each, filled up with light ones.
fn dumped(text: &str) -> Vec<bool> {
    let nibbles = text.lines().next().unwrap().chars().filter_map(|c| c.to_digit(16));
    nibbles.flat_map(|n| (0..4).rev().map(move |bit| n >> bit & 1 == 1)).collect()
}

/// The UPC-A number, without its check digit, that a UPC-E with number system `n` and six digits stands for (GS1
/// General Specifications, 'UPC-E: zero suppression').
fn expanded(n: u8, d: [u8; 6]) -> [u8; 11] {
    match d[5] {
        0..=2 => [n, d[0], d[1], d[5], 0, 0, 0, 0, d[2], d[3], d[4]],
        3 => [n, d[0], d[1], d[2], 0, 0, 0, 0, 0, d[3], d[4]],
        4 => [n, d[0], d[1], d[2], d[3], 0, 0, 0, 0, 0, d[4]],
        last => [n, d[0], d[1], d[2], d[3], d[4], 0, 0, 0, 0, last],
    }
}

/// Whether zero suppression would give these six digits: shorter endings come first (same source).
fn suppressible(d: &[u8; 6]) -> bool {
    match d[5] {
        0..=2 => true,
        3 => d[2] > 2,
        4 => d[3] > 0,
        _ => d[4] > 0,
    }
}

/// The symbol and what zint is given for it.
fn main_symbol(kind: Kind, first: u8, random: &mut Random) -> (Symbol, String) {
    fn with_check<const N: usize>(body: &[u8]) -> [u8; N] {
        std::array::from_fn(|i| body.get(i).copied().unwrap_or_else(|| check(body)))
    }
    let text = |digits: &[u8]| digits.iter().map(|&d| char::from(b'0' + d)).collect::<String>();
    match kind {
        Kind::UpcA => {
            let body: [u8; 11] = random.digits();
            (Symbol::upc_a(with_check(&body)), text(&body))
        }
        Kind::Ean13 => {
            let mut body: [u8; 12] = random.digits();
            body[0] = first;
            (Symbol::ean_13(with_check(&body)), text(&body))
        }
        Kind::Ean8 => {
            let body: [u8; 7] = random.digits();
            (Symbol::ean_8(with_check(&body)), text(&body))
        }
        Kind::UpcE => {
            let system = first % 2;
            let six = std::iter::repeat_with(|| random.digits()).find(suppressible).unwrap();
            let last = check(&expanded(system, six));
            let all: [u8; 8] = std::array::from_fn(|i| match i {
                0 => system,
                7 => last,
                _ => six[i - 1],
            });
            (Symbol::upc_e(all), text(&all[..7]))
        }
    }
}

#[test]
fn every_bar_is_where_zint_draws_it() {
    if missing("zint") {
        return;
    }
    let mut random = Random::new(20_260_101);
    for kind in [Kind::UpcA, Kind::Ean13, Kind::UpcE, Kind::Ean8] {
        for i in 0..40u8 {
            let (main, data) = main_symbol(kind, i % 10, &mut random);
            let gap = 7 + usize::from(i % 6);
            // UPC-A and UPC-E allow no gap below 9.
            let gap = if matches!(kind, Kind::UpcA | Kind::UpcE) { gap.max(9) } else { gap };
            let (two, five): ([u8; 2], [u8; 5]) = (random.digits(), random.digits());
            let with_gap = Symbol { gap, ..main.clone() };
            let cases = [
                (main, data.clone()),
                (with_gap.clone().with_two(two), format!("{data}+{}{}", two[0], two[1])),
                (
                    with_gap.with_five(five),
                    format!("{data}+{}", five.map(|d| char::from(b'0' + d)).iter().collect::<String>()),
                ),
            ];
            for (symbol, data) in cases {
                let theirs = dumped(&zint(kind, &data, gap, &["--dump", "--notext"]));
                let ours = symbol.modules();
                assert!(theirs.len() >= ours.len(), "{kind:?} {data}: zint's is narrower");
                let (bars, rest) = theirs.split_at(ours.len());
                assert_eq!(bars, ours, "{kind:?} {data}");
                assert!(!rest.contains(&true), "{kind:?} {data}: zint's is wider");
            }
        }
    }
}

/// Which modules' bars reach below the others, and that the add-on's bars begin lower than the main symbol's. (Where
/// the add-on's bars end is not compared: zint 2.11 ends them with the ordinary bars, this renderer with the guards.)
#[test]
fn long_bars_are_those_that_zint_draws_long() {
    if missing("zint") {
        return;
    }
    let cases = [
        (Kind::UpcA, "61414100104+01211", Symbol::upc_a(digits("614141001040")).with_five([0, 1, 2, 1, 1])),
        (Kind::Ean13, "952123400417+58", Symbol::ean_13(digits("9521234004172")).with_two([5, 8])),
        (Kind::Ean8, "9526543+58", Symbol::ean_8(digits("95265436")).with_two([5, 8])),
    ];
    for (kind, data, symbol) in cases {
        let svg = zint(kind, data, symbol.gap, &["--direct", "--filetype=SVG"]);
        // Two units a module; the first rectangle is the paper.
        let bars: Vec<[f32; 4]> = svg.lines().filter(|l| l.contains("<rect")).skip(1).map(rectangle).collect();
        let left = bars[0][0];
        let lowest = bars.iter().map(|b| b[1] + b[3]).fold(0.0, f32::max);
        let (mut long, mut lower) = (0, 0);
        for [x, y, width, height] in bars {
            for module in ((x - left) / 2.0) as usize..((x - left + width) / 2.0) as usize {
                if let Some(&is_long) = symbol.long.get(module) {
                    assert_eq!(y + height == lowest, is_long, "{kind:?}: module {module}, to {height} of {lowest}");
                    assert_eq!(y, 0.0);
                    long += 1;
                } else {
                    assert!(y >= 2.0 * 8.0, "{kind:?}: no room for digits above the add-on's bars, which begin at {y}");
                    lower += 1;
                }
            }
        }
        assert!(long > 20 && lower > 5, "{kind:?}: {long} modules of main bars, {lower} of the add-on's");
    }
}

fn rectangle(line: &str) -> [f32; 4] {
    ["x", "y", "width", "height"].map(|name| {
        let rest = line.split_once(&format!(" {name}=\"")).unwrap().1;
        rest.split_once('"').unwrap().0.parse().unwrap()
    })
}

/// GS1 General Specifications, release 18, figure 5.2.2.5.2-1: 86104 has the value 3, hence the sets B A A A B.
#[test]
fn the_standards_example_of_an_add_on() {
    let symbol = Symbol::default().with_five([8, 6, 1, 0, 4]);
    let bits: String = symbol.add_on.iter().map(|&dark| if dark { '1' } else { '0' }).collect();
    // Start 1011; the digits 8, 6, 1, 0, 4 with 01 between; sets as named there, modules as in figure 5.2.1.2-1.
    assert_eq!(bits, ["1011", "0001001", "01", "0101111", "01", "0011001", "01", "0001101", "01", "0011101"].concat());
}

/// Sizes by GS1 General Specifications, section 5.2, at the nominal module of 0.33 mm: a UPC-A and an EAN-13 are 95
/// modules wide, an EAN-8 67, a UPC-E 51, a two-digit add-on 20, a five-digit one 47.
#[test]
fn sizes_are_the_standards() {
    assert_eq!(Symbol::upc_a([0; 12]).main.len(), 95);
    assert_eq!(Symbol::ean_13([0; 13]).main.len(), 95);
    assert_eq!(Symbol::ean_8([0; 8]).main.len(), 67);
    assert_eq!(Symbol::upc_e([0; 8]).main.len(), 51);
    assert_eq!(Symbol::default().with_two([0; 2]).add_on.len(), 20);
    assert_eq!(Symbol::default().with_five([0; 5]).add_on.len(), 47);
    assert!((BAR_HEIGHT_MODULES * 0.33 - 22.85).abs() < 0.01);
    assert!((GUARD_DROP_MODULES * 0.33 - 1.65).abs() < 0.01);
    // Room for digits of 2.75 mm above the add-on's bars.
    const { assert!(ADD_ON_TOP_MODULES * 0.33 > 2.75) };
}

/// GS1's worked example of a check digit: 629104150021 → 3.
#[test]
fn the_standards_example_of_a_check_digit() {
    assert_eq!(check(&digits::<12>("629104150021")), 3);
}
