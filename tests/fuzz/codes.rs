//! Digits as typed by hand or by a handheld scanner.

use boxward::code::{AddOn, Gtin, Typed, every_correction, parse_typed};
use boxward::meaning::{Layout, meaning};
use boxward::source::handheld::{ADD_ON_WAIT, Handheld};
use jiff::Timestamp;

use super::{Target, texts};

pub const TARGET: Target = Target {
    name: "codes",
    check,
    seeds,
    words: &["614141001040", "0614141001040", "+01211", "]E0", "]E4", "978", "977", "UPC-A "],
};

fn check(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(Typed::Code { gtin, add_on, .. }) = parse_typed(&text) {
        assert_sound(gtin, add_on);
        let add_on = add_on.map(|add_on| format!(" {add_on}")).unwrap_or_default();
        let again = parse_typed(&format!("{gtin}{add_on}"));
        assert!(matches!(again, Ok(Typed::Code { gtin: same, .. }) if same == gtin), "{gtin}{add_on}: {again:?}");
    }
    for correction in every_correction(&text, |_| false) {
        assert_sound(correction.gtin, correction.add_on);
    }
    let mut scanner = Handheld::new(ADD_ON_WAIT);
    for line in text.lines() {
        for heard in scanner.line(Timestamp::UNIX_EPOCH, line).into_iter().flatten() {
            assert_sound(heard.code.gtin, heard.code.add_on.read());
        }
    }
}

/// A code passes its own check, and the digits mean something or nothing, but never a panic.
fn assert_sound(gtin: Gtin, add_on: Option<AddOn>) {
    assert_eq!(gtin.to_string().parse(), Ok(gtin));
    for layout in [None, Some(Layout::Iiicp), Some(Layout::Iiccp)] {
        let _ = meaning(gtin, add_on, layout);
    }
}

fn seeds() -> Vec<Vec<u8>> {
    texts(&[
        "614141001040 01211",
        "0614141001040+01211",
        "61414100104001211",
        "]E00614141001040\n]E401211\n",
        "614141001041",
        "01234565",
        "9780306406157 90000",
        "0-306-40615-2",
        "9770317847001 08",
        "6141410O1O40",
    ])
}
