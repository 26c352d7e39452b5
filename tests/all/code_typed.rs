//! What people type and handheld scanners send.

use boxward::code::*;
use proptest::prelude::*;

use super::code_check_digits::completed;

const UPC: &str = "614141000418";

fn code(text: &str, add_on: Option<&str>, symbology: Symbology) -> Result<Typed, TypedError> {
    Ok(Typed::Code {
        gtin: text.parse().unwrap(),
        add_on: add_on.map(|digits| digits.parse().unwrap()),
        symbology,
        certainty: Certainty::Sure,
        repair: None,
    })
}

fn repaired(text: &str, add_on: Option<&str>, symbology: Symbology, repair: Repair) -> Result<Typed, TypedError> {
    Ok(Typed::Code {
        gtin: text.parse().unwrap(),
        add_on: add_on.map(|digits| digits.parse().unwrap()),
        symbology,
        certainty: Certainty::Confirm,
        repair: Some(repair),
    })
}

#[test]
fn a_upc_a_in_every_writing() {
    let alone = code(UPC, None, Symbology::UpcA);
    for text in [
        "614141000418",
        " 614141000418\r\n",
        "\u{2}614141000418\u{3}",
        "\u{feff}614141000418",
        "6 14141 00041 8",
        "6-14141-00041-8",
        "0614141000418",
        "00614141000418",
        "６１４１４１０００４１８",
        "UPC 614141000418",
        "upc-a: 6 14141 00041 8",
        "]E00614141000418",
        "]E0614141000418",
    ] {
        assert_eq!(parse_typed(text), alone, "{text:?}");
    }
    let five = code(UPC, Some("00411"), Symbology::UpcA);
    for text in [
        "61414100041800411",
        "614141000418 00411",
        "614141000418   00411",
        "614141000418\t00411",
        "614141000418\u{1d}00411",
        "614141000418\u{3000}00411",
        "614141000418-00411",
        "614141000418+00411",
        "614141000418 + 00411",
        "6 14141 00041 8 00411",
        "614141 00041800411",
        "061414100041800411",
        "0614141000418 00411",
        "0061414100041800411",
        "]E3061414100041800411",
        "]E361414100041800411",
        "]E00614141000418]E200411",
    ] {
        assert_eq!(parse_typed(text), five, "{text:?}");
    }
    let two = code(UPC, Some("07"), Symbology::UpcA);
    for text in [
        "61414100041807",
        "614141000418 07",
        "614141000418+07",
        "061414100041807",
        "0614141000418 07",
        "]E3061414100041807",
        "]E00614141000418]E107",
    ] {
        assert_eq!(parse_typed(text), two, "{text:?}");
    }
}

#[test]
fn books_and_european_codes() {
    // ISBN 0-306-40615-2 and 978-0-306-40615-7: Wikipedia, 'ISBN'; 0-8044-2957-X: the same, from memory.
    let book = code("9780306406157", None, Symbology::Ean13);
    for text in ["9780306406157", "978-0-306-40615-7", "0-306-40615-2", "ISBN-10: 0306406152", "ISBN 978-0-306-40615-7"]
    {
        assert_eq!(parse_typed(text), book, "{text:?}");
    }
    let priced = code("9780306406157", Some("51995"), Symbology::Ean13);
    for text in [
        "978030640615751995",
        "978-0-306-40615-7 51995",
        "0-306-40615-2 51995",
        "isbn 0306406152+51995",
        "]E3978030640615751995",
    ] {
        assert_eq!(parse_typed(text), priced, "{text:?}");
    }
    assert_eq!(parse_typed("0-8044-2957-x"), code("9780804429573", None, Symbology::Ean13));
    assert_eq!(parse_typed("977031784700105"), code("9770317847001", Some("05"), Symbology::Ean13));
    // An EAN-8: Wikipedia's 7351 3537, from memory.
    for text in ["73513537", "7351 3537", "7351-3537", "0000073513537", "]E473513537"] {
        assert_eq!(parse_typed(text), code("73513537", None, Symbology::Ean8), "{text:?}");
    }
    assert_eq!(parse_typed("73513537+12"), code("73513537", Some("12"), Symbology::Ean8));
}

#[test]
fn eight_digits_are_told_apart_by_their_check_digit() {
    // Wikipedia, 'Universal Product Code': UPC-E 0 654321 7 is 065100004327.
    assert_eq!(parse_typed("06543217"), code("065100004327", None, Symbology::UpcE));
    assert_eq!(parse_typed("0 654321 7 00111"), code("065100004327", Some("00111"), Symbology::UpcE));
    // Both weigh the digits alike when a UPC-E's sixth digit is 5 to 9: each such code fits as both, and each remedy
    // names one.
    let readings = match parse_typed("01234565") {
        Err(TypedError::Ambiguous(readings)) => readings,
        other => panic!("{other:?}"),
    };
    assert_eq!(readings, ["0000001234565", "012345000065"]);
    let symbologies: Vec<_> = readings
        .iter()
        .map(|reading| match parse_typed(reading) {
            Ok(Typed::Code { symbology, .. }) => symbology,
            other => panic!("{reading}: {other:?}"),
        })
        .collect();
    assert_eq!(symbologies, [Symbology::Ean8, Symbology::UpcA]);
    assert!(matches!(parse_typed("06543218"), Err(TypedError::Eight { .. })));
    assert!(matches!(parse_typed("73513538"), Err(TypedError::CheckDigit { expected: '7', .. })));
}

#[test]
fn add_ons_alone() {
    for (text, add_on) in
        [("00411", "00411"), (" 07 ", "07"), ("+00411", "00411"), ("]E107", "07"), ("]E200411", "00411")]
    {
        assert_eq!(parse_typed(text), Ok(Typed::AddOn(add_on.parse().unwrap())), "{text:?}");
    }
}

#[test]
fn a_lost_zero_is_put_back_and_must_be_confirmed() {
    // A UPC-A that begins with 0: 036000291452, GS1 US's example in many texts (from memory).
    let zero = |add_on| repaired("036000291452", add_on, Symbology::UpcA, Repair::LeadingZero);
    assert_eq!(parse_typed("36000291452"), zero(None));
    assert_eq!(parse_typed("3600029145200411"), zero(Some("00411")));
    assert_eq!(parse_typed("36000291452 00411"), zero(Some("00411")));
    assert!(matches!(parse_typed("36000291453"), Err(TypedError::DigitMissing { .. })));
    assert!(matches!(parse_typed("36000291453 00411"), Err(TypedError::DigitMissing { add_on: Some(_), .. })));
}

#[test]
fn a_blank_in_an_odd_place_must_be_confirmed() {
    // 97803064 is no EAN-8 and no UPC-E: only the whole fits.
    let whole = repaired("9780306406157", None, Symbology::Ean13, Repair::OneNumber);
    assert_eq!(parse_typed("97803064 06157"), whole);
}

#[test]
fn ten_bare_digits_must_be_confirmed() {
    let book = |add_on| repaired("9780306406157", add_on, Symbology::Ean13, Repair::TenDigits);
    assert_eq!(parse_typed("0306406152"), book(None));
    assert_eq!(parse_typed("03064 06152"), book(None));
    assert_eq!(parse_typed("0306406152+51995"), book(Some("51995")));
    assert_eq!(parse_typed("080442957X"), code("9780804429573", None, Symbology::Ean13));
}

#[test]
fn two_readings_are_refused_and_both_are_named() {
    // Fourteen digits with a leading 0 that fit as 12 + 2 and as a GTIN-14.
    let found = (0..100_000u64).find_map(|n| {
        let upc = completed(&format!("{:011}", 1_234_500_000 + n).bytes().map(|b| b - b'0').collect::<Vec<_>>());
        (0..100).find_map(|tail| {
            let text = format!("{}{tail:02}", upc.printed());
            (text.starts_with('0') && text.parse::<Gtin>().is_ok()).then_some((upc, tail, text))
        })
    });
    let (upc, tail, text) = found.unwrap();
    let Err(error @ TypedError::Ambiguous(_)) = parse_typed(&text) else { panic!("{text}") };
    let remedy = format!("{}+{tail:02}", upc.printed());
    assert!(error.to_string().contains(&remedy) && error.to_string().contains("blank"), "{error}");
    let add_on = format!("{tail:02}");
    assert_eq!(parse_typed(&remedy), code(&upc.printed(), Some(&add_on), Symbology::UpcA));
    assert_eq!(parse_typed(&remedy.replace('+', " ")), code(&upc.printed(), Some(&add_on), Symbology::UpcA));
}

#[test]
fn what_is_no_code_says_why() {
    let error = |text: &str| parse_typed(text).unwrap_err();
    assert_eq!(error(""), TypedError::Empty);
    assert_eq!(error(" \t\r\n"), TypedError::Empty);
    assert_eq!(error("-"), TypedError::Empty);
    assert_eq!(error(&"1".repeat(LONGEST_LINE + 1)), TypedError::TooLong);
    assert_eq!(error("6141410O0418"), TypedError::NotADigit('O'));
    assert_eq!(error("٦١٤١٤١٠٠٠٤١٨"), TypedError::NotADigit('٦'), "other scripts' digits are refused by name");
    assert_eq!(error("61414100041X"), TypedError::NotADigit('X'));
    assert_eq!(error("X123456789"), TypedError::NotADigit('X'));
    assert_eq!(error("614141000418+X4"), TypedError::NotADigit('X'));
    assert_eq!(error("1234"), TypedError::Length(4));
    assert_eq!(error("123456789"), TypedError::Length(9));
    assert_eq!(error("12345678901234567890"), TypedError::Length(20));
    assert_eq!(error("123+45"), TypedError::Length(3));
    assert_eq!(error("614141000418+0041"), TypedError::Plus);
    assert_eq!(error("614141000418+"), TypedError::Plus);
    assert_eq!(error("6141+41000418+00"), TypedError::Plus);
    let wrong = TypedError::CheckDigit {
        main: "614141000417".into(),
        add_on: Some(AddOn::Five([0, 0, 4, 1, 1])),
        found: '7',
        expected: '8',
    };
    assert_eq!(error("614141000417 00411"), wrong);
    assert_eq!(error("61414100041700411"), wrong);
    assert!(matches!(error("0306406153"), TypedError::CheckDigit { found: '3', expected: '2', .. }));
    // An ISSN alone (ISSN Manual's 0317-8471; 1050-124X from Wikipedia; both from memory).
    for text in ["0317-8471", "ISSN 0317-8471", "1050-124X"] {
        assert!(matches!(error(text), TypedError::Issn(_)), "{text}");
    }
    // A carton's GTIN-14: GS1's 629104150021 with an indicator before it.
    assert_eq!(error("16291041500210"), TypedError::Carton("16291041500210".into()));
}

#[test]
fn aim_identifiers_are_followed_to_the_letter() {
    let error = |text: &str| parse_typed(text).unwrap_err();
    for (text, symbol) in [
        ("]C1010614141000418", "a Code 128"),
        ("]Q3https", "a QR Code"),
        ("]d2010614141000418", "a Data Matrix"),
        ("]E9614141000418", "an EAN or UPC of unknown form"),
        ("]ß1614141000418", "a symbol not known here"),
        ("]", "a symbol not known here"),
    ] {
        let found = error(text);
        assert!(matches!(found, TypedError::Identifier { symbol: s, .. } if s == symbol), "{text}: {found}");
    }
    assert!(error("]C1010614141000418").to_string().contains("]C1"));
    for text in
        ["]E061414100041800411", "]E100411", "]E207", "]E3614141000418", "]E4614141000418", "]E0", "]E073513537"]
    {
        let found = error(text);
        assert!(matches!(found, TypedError::IdentifierLength { .. }), "{text}: {found}");
    }
    assert!(matches!(error("]E00614141000417"), TypedError::CheckDigit { expected: '8', .. }));
    assert!(matches!(error("]E473513538"), TypedError::CheckDigit { .. }));
    // ]E4 announces an EAN-8, so digits that fit only as UPC-E are wrong.
    assert!(parse_typed("]E406543217").is_err());
    for text in ["]E00614141000418]E00614141000418", "]E107]E107", "]E107]E00614141000418", "]E3061414100041807]E107"] {
        assert!(parse_typed(text).is_err(), "{text}");
    }
}

fn digits(n: usize) -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec(0u8..10, n)
}

fn text_of(digits: &[u8]) -> String {
    digits.iter().map(|&d| char::from(b'0' + d)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Every writing gives the same code, or says that it has another reading; never another code.
    #[test]
    fn writings_agree(body in digits(11), tail in prop_oneof![digits(2), digits(5)]) {
        let gtin = completed(&body);
        prop_assume!(!gtin.is_gtin8());
        let (upc, ean, tail) = (gtin.printed(), gtin.to_string(), text_of(&tail));
        let add_on: AddOn = tail.parse().unwrap();
        let (a, b) = upc.split_at(6);
        let sure = [
            format!("{upc} {tail}"), format!("{upc}+{tail}"), format!("{ean}\t{tail}"), format!("{a} {b} {tail}"),
            format!("{a}-{b}  {tail}"), format!("0{ean} {tail}"), format!("]E3{ean}{tail}"), format!("{ean}{tail}"),
        ];
        for text in sure {
            match parse_typed(&text) {
                Ok(Typed::Code { gtin: g, add_on: Some(a), certainty: Certainty::Sure, .. }) => {
                    prop_assert_eq!((g, a), (gtin, add_on), "{}", text);
                }
                other => prop_assert!(false, "{}: {:?}", text, other),
            }
        }
        for text in [format!("{upc}{tail}"), format!("0{ean}{tail}")] {
            match parse_typed(&text) {
                Ok(Typed::Code { gtin: g, add_on: Some(a), .. }) => prop_assert_eq!((g, a), (gtin, add_on), "{}", text),
                Err(TypedError::Ambiguous(readings)) => {
                    let remedy = format!("{upc}+{tail}");
                    prop_assert!(readings.contains(&remedy));
                }
                other => prop_assert!(false, "{}: {:?}", text, other),
            }
        }
        if let Some(short) = upc.strip_prefix('0') {
            let lost = parse_typed(&format!("{short}+{tail}"));
            let marked = matches!(lost, Ok(Typed::Code { gtin: g, certainty: Certainty::Confirm, repair: Some(Repair::LeadingZero), .. }) if g == gtin);
            prop_assert!(marked, "{:?}", lost);
        }
    }

    /// No digit is lost or invented, wherever blanks stand; and every remedy offered is a code of its own.
    #[test]
    fn digits_are_kept(text in "[0-9]{2,19}", blanks in prop::collection::vec(0usize..20, 0..4), mark in "[ \\-+]") {
        let mut typed = text.clone();
        for at in blanks {
            typed.insert_str(at.min(typed.len()), &mark);
        }
        match parse_typed(&typed) {
            Ok(Typed::AddOn(add_on)) => prop_assert_eq!(add_on.to_string(), text),
            Ok(Typed::Code { gtin, add_on, symbology, .. }) => {
                let tail = add_on.map(|a| a.to_string()).unwrap_or_default();
                let main = text.strip_suffix(&tail).unwrap();
                let main_kept = match symbology {
                    Symbology::UpcE => Some(text_of(&upc_e_compress(gtin).unwrap())) == Some(main.to_owned()),
                    _ if main.len() == 10 => isbn_10_to_gtin(main) == Ok(gtin),
                    _ => main.trim_start_matches('0') == gtin.printed().trim_start_matches('0'),
                };
                prop_assert!(main_kept, "{} became {}", typed, gtin);
            }
            Err(TypedError::Ambiguous(readings)) => {
                let codes: std::collections::HashSet<_> = readings
                    .iter()
                    .map(|reading| match parse_typed(reading) {
                        Ok(Typed::Code { gtin, add_on, repair: None, .. }) => (gtin, add_on),
                        other => panic!("{typed}: {reading}: {other:?}"),
                    })
                    .collect();
                prop_assert_eq!(codes.len(), readings.len());
            }
            Err(_) => {}
        }
    }

    #[test]
    fn any_text_is_answered(text in "\\PC{0,30}|[\\]0-9EX+ -]{0,30}|(?s).{0,90}") {
        let _ = parse_typed(&text);
        let _ = corrections(&text, |_| false);
    }
}
