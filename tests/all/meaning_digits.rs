//! What digits mean.

use boxward::code::{AddOn, Gtin};
use boxward::meaning::*;
use proptest::prelude::*;

fn gtin(text: &str) -> Gtin {
    text.parse().unwrap()
}

fn add_on(text: &str) -> Option<AddOn> {
    Some(text.parse().unwrap())
}

#[test]
fn a_comic_under_each_layout() {
    // Common practice: 00411 is issue 4, cover 1, printing 1 under IIICP.
    let title = gtin("614141000418");
    let iiicp = Reading { layout: Layout::Iiicp, issue: 4, cover: 1, printing: 1 };
    let iiccp = Reading { layout: Layout::Iiccp, issue: 0, cover: 41, printing: 1 };
    let of = |layout| meaning(title, add_on("00411"), layout);
    assert_eq!(of(Some(Layout::Iiicp)), Meaning::Issue { title, reading: iiicp });
    assert_eq!(of(Some(Layout::Iiccp)), Meaning::Issue { title, reading: iiccp });
    assert_eq!(of(None), Meaning::EitherIssue { title, iiicp, iiccp });
    let Meaning::Issue { reading, .. } = meaning(title, add_on("98732"), Some(Layout::Iiicp)) else { panic!() };
    assert_eq!((reading.issue, reading.cover, reading.printing), (987, 3, 2));
    let Meaning::Issue { reading, .. } = meaning(title, add_on("98732"), Some(Layout::Iiccp)) else { panic!() };
    assert_eq!((reading.issue, reading.cover, reading.printing), (98, 73, 2));
}

#[test]
fn a_comic_with_less_in_its_add_on() {
    let title = gtin("614141000418");
    assert_eq!(meaning(title, add_on("07"), Some(Layout::Iiicp)), Meaning::MonthOrNumber { title, value: 7 });
    assert_eq!(meaning(title, None, None), Meaning::Title { title });
    let european = gtin("9520000000011");
    assert_eq!(meaning(european, None, None), Meaning::Title { title: european });
}

#[test]
fn issue_numbers_beyond_the_digits() {
    let three = Reading::new([0, 1, 2, 1, 1], Layout::Iiicp);
    assert_eq!((three.issue_near(11), three.issue_near(1010), three.issue_near(700)), (12, 1012, 1012));
    assert_eq!((three.issue_near(0), three.issue_near(512), three.issue_near(513)), (12, 12, 1012));
    assert_eq!(
        (three.with_base(0), three.with_base(12), three.with_base(13), three.with_base(1000)),
        (12, 12, 1012, 1012)
    );
    let two = Reading::new([0, 5, 0, 1, 1], Layout::Iiccp);
    assert_eq!((two.issue_near(99), two.issue_near(203), two.with_base(100)), (105, 205, 105));
}

#[test]
fn layouts_are_named() {
    for layout in Layout::ALL {
        assert_eq!(layout.to_string().parse(), Ok(layout));
        assert_eq!(serde_json::to_string(&layout).unwrap(), format!("\"{layout}\""));
    }
    assert_eq!(" iiccp".parse(), Ok(Layout::Iiccp));
    let error = "IICP".parse::<Layout>().unwrap_err().to_string();
    assert!(error.contains("'IICP'") && error.contains("IIICP") && error.contains("IICCP"), "{error}");
}

#[test]
fn a_book_and_its_price() {
    // Hyphens: ISBN Users' Manual (978-92-95055-02-5, from memory) and Wikipedia (978-0-306-40615-7).
    for (digits, isbn) in [("9780306406157", "978-0-306-40615-7"), ("9789295055025", "978-92-95055-02-5")] {
        let Meaning::Book(book) = meaning(gtin(digits), None, None) else { panic!("{digits} is a book") };
        assert_eq!((book.isbn.as_str(), book.price), (isbn, None));
    }
    // Book Industry Study Group's guideline, from memory; 51995 is USD 19.95 and 59999 'at least' in vendors' manuals.
    let price = |digits| match meaning(gtin("9780306406157"), add_on(digits), None) {
        Meaning::Book(book) => book.price.map(|price| price.to_string()),
        _ => panic!("a book"),
    };
    for (digits, expected) in [
        ("51995", Some("USD 19.95")),
        ("62499", Some("CAD 24.99")),
        ("30500", Some("AUD 5.00")),
        ("41000", Some("NZD 10.00")),
        ("00799", Some("GBP 7.99")),
        ("11299", Some("GBP 12.99")),
        ("59999", Some("USD 99.99+")),
        ("90000", None),
        ("50000", None),
        ("99990", None),
        ("21995", None),
        ("75000", None),
        ("85000", None),
        ("12", None),
    ] {
        assert_eq!(price(digits).as_deref(), expected, "{digits}");
    }
    for currency in Currency::ALL {
        assert_eq!(currency.code().parse(), Ok(currency));
        assert_eq!(serde_json::to_string(&currency).unwrap(), format!("\"{currency}\""));
    }
    assert!("XYZ".parse::<Currency>().is_err());
}

#[test]
fn numbers_that_are_no_comic() {
    // ISSN Manual's 0317-8471 (from memory) as a bar code, variant 00 and another.
    let Meaning::Serial(serial) = meaning(gtin("9770317847001"), add_on("05"), None) else { panic!() };
    assert_eq!((serial.issn.to_string().as_str(), serial.variant, serial.add_on), ("0317-8471", 0, add_on("05")));
    let other = serial.issn.to_gtin([1, 2]).unwrap();
    let Meaning::Serial(serial) = meaning(other, None, None) else { panic!() };
    assert_eq!((serial.variant, serial.add_on), (12, None));
    // ISMN 979-0-2600-0043-8: ISMN Users' Manual, from memory.
    assert_eq!(meaning(gtin("9790260000438"), None, None), Meaning::Music { ismn: gtin("9790260000438") });
    let kinds = [("20", Meaning::InStore), ("05", Meaning::Coupon), ("192", Meaning::SecondTier)];
    for (prefix, expected) in kinds {
        let mut body = super::code_check_digits::digits_of(prefix);
        body.resize(12, 3);
        assert_eq!(meaning(super::code_check_digits::completed(&body), add_on("00111"), None), expected);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn issue_numbers_end_in_their_digits(digits in prop::array::uniform5(0u8..10), near: u32, three: bool) {
        let layout = if three { Layout::Iiicp } else { Layout::Iiccp };
        let reading = Reading::new(digits, layout);
        let modulus = layout.modulus();
        let nearest = reading.issue_near(near);
        let based = reading.with_base(near);
        prop_assert_eq!(nearest % modulus, reading.issue);
        prop_assert_eq!(based % modulus, reading.issue);
        if (modulus..u32::MAX - modulus).contains(&near) {
            prop_assert!(near.abs_diff(nearest) <= modulus / 2);
            prop_assert!((near..near + modulus).contains(&based));
        }
    }
}
