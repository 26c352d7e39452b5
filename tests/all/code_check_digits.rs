//! Check digits, prefixes and zero suppression against worked examples of the standards.

use boxward::code::*;
use proptest::prelude::*;

fn gtin(text: &str) -> Gtin {
    text.parse().unwrap()
}

/// A GTIN from its digits without the check digit.
pub fn completed(body: &[u8]) -> Gtin {
    let mut digits = body.to_vec();
    digits.push(check_digit(body));
    Gtin::from_digits(&digits).unwrap()
}

pub fn digits_of(text: &str) -> Vec<u8> {
    text.bytes().map(|b| b - b'0').collect()
}

#[test]
fn gs1_worked_example() {
    // GS1 General Specifications, 'standard check digit calculations': 629104150021 and 3.
    assert_eq!(check_digit(&digits_of("629104150021")), 3);
    assert_eq!(gtin("6291041500213").to_string(), "6291041500213");
    assert_eq!("6291041500214".parse::<Gtin>(), Err(GtinError::CheckDigit { found: 4, expected: 3 }));
    // Wikipedia's EAN-8 example, from memory.
    assert!(gtin("73513537").is_gtin8());
}

#[test]
fn lengths_are_told_apart() {
    let upc = gtin("614141000418");
    assert!(upc.is_gtin12() && !upc.is_gtin8());
    assert_eq!(upc.printed(), "614141000418");
    assert_eq!(upc.gtin12(), Some([6, 1, 4, 1, 4, 1, 0, 0, 0, 4, 1, 8]));
    assert_eq!(gtin("0614141000418"), upc);
    assert_eq!(gtin("00614141000418"), upc);
    assert_eq!(gtin("73513537").printed(), "73513537");
    assert_eq!(gtin("6291041500213").gtin12(), None);
    assert_eq!("16141410004185".parse::<Gtin>(), Err(GtinError::Length(14)));
    assert_eq!(Gtin::from_digits(&[11, 0, 0, 0, 0, 0, 0, 0]), Err(GtinError::Value(11)));
}

#[test]
fn mod_11_worked_examples() {
    // ISO 3297 / ISSN Manual: 0317-8471 (from memory); its bar code 977 0317847 00 and a check digit.
    let issn: Issn = "0317-8471".parse().unwrap();
    assert_eq!(issn.check_digit(), '1');
    assert_eq!(issn.to_string(), "0317-8471");
    assert_eq!(issn.to_gtin([0, 0]).unwrap().to_string(), "9770317847001");
    assert_eq!(Issn::from_gtin(gtin("9770317847001")), Ok(issn));
    assert_eq!("0317-8472".parse::<Issn>(), Err(BookNumberError::CheckDigit { found: '2', expected: '1' }));
    // An X: 1050-124X, from memory (Wikipedia, 'ISSN').
    assert_eq!("1050-124x".parse::<Issn>().unwrap().to_string(), "1050-124X");
    assert_eq!("X050-1240".parse::<Issn>(), Err(BookNumberError::NotADigit('X')));
    assert!(Issn::from_gtin(gtin("614141000418")).is_err());

    // ISBN Users' Manual: 90-70002-34-5 is 978-90-70002-34-3; Wikipedia: 0-306-40615-2, 0-8044-2957-X (from memory).
    assert_eq!(isbn_10_to_gtin("90-70002-34-5"), Ok(gtin("9789070002343")));
    assert_eq!(isbn_10_to_gtin("0-306-40615-2"), Ok(gtin("9780306406157")));
    assert!(isbn_10_to_gtin("0-8044-2957-X").is_ok());
    assert_eq!(isbn_10_to_gtin("0306406153"), Err(BookNumberError::CheckDigit { found: '3', expected: '2' }));
    assert_eq!(isbn_10_to_gtin("030640615"), Err(BookNumberError::Length { found: 9, expected: 10 }));
    assert_eq!(isbn_10_to_gtin(""), Err(BookNumberError::Length { found: 0, expected: 10 }));
}

#[test]
fn prefixes() {
    // GS1 General Specifications, 'GS1 prefixes'.
    use PrefixKind::*;
    let cases = [
        ("02", InStore),
        ("04", InStore),
        ("20", InStore),
        ("29", InStore),
        ("30", General),
        ("03", General),
        ("05", Coupon),
        ("06", General),
        ("0614141", Example),
        ("0614142", General),
        ("952", Example),
        ("953", General),
        ("977", Issn),
        ("978", Isbn),
        ("9790", Ismn),
        ("9791", Isbn),
        ("9798", Isbn),
        ("981", Coupon),
        ("99", Coupon),
        ("190", General),
        ("191", JapaneseSecondTier),
        ("192", JapaneseSecondTier),
        ("193", General),
    ];
    for (prefix, kind) in cases {
        for filler in [1, 7] {
            let mut body = digits_of(prefix);
            body.resize(12, filler);
            assert_eq!(prefix_kind(completed(&body)), kind, "{prefix}");
        }
    }
    assert_eq!(prefix_kind(completed(&digits_of("2123456"))), InStore, "EAN-8 prefix 2");
    assert_eq!(prefix_kind(completed(&digits_of("0123456"))), InStore, "EAN-8 prefix 0");
    assert_eq!(prefix_kind(gtin("73513537")), General);
}

#[test]
fn upc_e_worked_examples() {
    // Wikipedia, 'Universal Product Code': 654321 of number system 0 is 065100004327; the others follow the table of
    // GS1 General Specifications, 'UPC-E symbol', one for each row.
    for (short, long) in [
        ("06543217", "065100004327"),
        ("04252614", "042100005264"),
        ("01234531", "012300000451"),
        ("01234543", "012340000053"),
        ("01234565", "012345000065"),
    ] {
        let eight: [u8; 8] = digits_of(short).try_into().unwrap();
        assert_eq!(upc_e_expand(&eight), Ok(gtin(long)), "{short}");
        assert_eq!(upc_e_compress(gtin(long)), Some(eight), "{long}");
    }
    assert_eq!(upc_e_expand(&[2, 6, 5, 4, 3, 2, 1, 7]), Err(UpcEError::NumberSystem(2)));
    assert_eq!(upc_e_expand(&[0, 6, 5, 4, 3, 2, 1, 8]), Err(UpcEError::CheckDigit { found: 8, expected: 7 }));
    // 3 as the last digit is for a third digit of 3 to 9: this has to be written with another last digit.
    let check = check_digit(&digits_of("01210000045"));
    assert_eq!(
        upc_e_expand(&[0, 1, 2, 1, 4, 5, 3, check]),
        Err(UpcEError::NotShortest(completed(&digits_of("01210000045"))))
    );
    assert_eq!(upc_e_compress(gtin("614141000418")), None);
}

fn digits(n: usize) -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec(0u8..10, n)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_wrong_digit_is_noticed(body in prop_oneof![digits(7), digits(11), digits(12)], at in 0usize..13, by in 1u8..10) {
        let mut typed = body.clone();
        typed.push(check_digit(&body));
        let at = at % typed.len();
        typed[at] = (typed[at] + by) % 10;
        let noticed = matches!(Gtin::from_digits(&typed), Err(GtinError::CheckDigit { .. }));
        prop_assert!(noticed);
    }

    #[test]
    fn numbers_and_text_come_back(body in digits(12)) {
        let gtin = completed(&body);
        prop_assert_eq!(Gtin::from_number(gtin.number()), Ok(gtin));
        prop_assert_eq!(gtin.to_string().parse(), Ok(gtin));
        prop_assert_eq!(gtin.printed().parse(), Ok(gtin));
    }

    #[test]
    fn upc_e_comes_back(system in 0u8..2, six in digits(6), check in 0u8..10) {
        let eight: [u8; 8] = [&[system], six.as_slice(), &[check]].concat().try_into().unwrap();
        match upc_e_expand(&eight) {
            Ok(gtin) => prop_assert_eq!(upc_e_compress(gtin), Some(eight)),
            Err(UpcEError::NotShortest(gtin)) => {
                let short = upc_e_compress(gtin).unwrap();
                prop_assert_ne!(short, eight);
                prop_assert_eq!(upc_e_expand(&short), Ok(gtin));
            }
            Err(UpcEError::CheckDigit { expected, .. }) => {
                let mut right = eight;
                right[7] = expected;
                let mended = matches!(upc_e_expand(&right), Ok(_) | Err(UpcEError::NotShortest(_)));
                prop_assert!(mended);
            }
            Err(other) => prop_assert!(false, "{}", other),
        }
    }

    #[test]
    fn mod_11_notices_wrong_and_swapped_digits(body in digits(9), at in 0usize..8, by in 1u8..10) {
        let text = |body: &[u8]| body.iter().map(|&d| char::from(b'0' + d)).collect::<String>();
        let check = mod_11_check_digit(&body);
        let gtin = isbn_10_to_gtin(&format!("{}{check}", text(&body)));
        prop_assert!(gtin.is_ok());
        let mut wrong = body.clone();
        wrong[at] = (wrong[at] + by) % 10;
        let noticed = isbn_10_to_gtin(&format!("{}{check}", text(&wrong))).is_err();
        prop_assert!(noticed);
        let mut swapped = body.clone();
        swapped.swap(at, at + 1);
        let accepted = isbn_10_to_gtin(&format!("{}{check}", text(&swapped))).is_ok();
        prop_assert_eq!(accepted, swapped == body);
    }
}
