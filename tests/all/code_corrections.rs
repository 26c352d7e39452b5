//! Corrections of codes that fail their check.

use boxward::code::*;
use proptest::prelude::*;

use super::code_check_digits::completed;

fn gtin(text: &str) -> Gtin {
    text.parse().unwrap()
}

#[test]
fn what_the_collection_knows_comes_first() {
    // 614141000418 with its fourth digit wrong.
    let typed = "614441000418";
    let strangers = corrections(typed, |_| false);
    assert_eq!(strangers.len(), MOST_UNKNOWN);
    assert!(strangers.iter().all(|c| !c.known));
    let known = corrections(typed, |g| g == gtin("614141000418"));
    assert_eq!(
        known[0],
        Correction {
            gtin: gtin("614141000418"),
            add_on: None,
            kind: CorrectionKind::OneDigit { at: 3, expected: '1' },
            known: true
        }
    );
    assert!(known[1..].iter().all(|c| !c.known));
    assert_eq!(known.len(), MOST_UNKNOWN + 1);
}

#[test]
fn likelier_slips_come_first() {
    // Two swapped neighbours, then the check digit, then one other digit: see the source at `CorrectionKind`.
    let found = every_correction("614140100418", |_| false);
    assert_eq!(found[0].gtin, gtin("614141000418"));
    assert_eq!(found[0].kind, CorrectionKind::Swapped { at: 5 });
    let order = |kind: &CorrectionKind| match kind {
        CorrectionKind::Swapped { .. } => 0,
        CorrectionKind::CheckDigit { .. } => 1,
        CorrectionKind::OneDigit { .. } => 2,
        CorrectionKind::Doubled { .. } => 3,
        CorrectionKind::Missing { .. } => 4,
    };
    assert!(found.is_sorted_by_key(|c| order(&c.kind)));
    let check: Vec<_> = found.iter().filter(|c| matches!(c.kind, CorrectionKind::CheckDigit { .. })).collect();
    let expected = check_digit(&[6, 1, 4, 1, 4, 0, 1, 0, 0, 4, 1]);
    assert_eq!(check.len(), 1);
    assert_eq!(check[0].kind, CorrectionKind::CheckDigit { expected: char::from(b'0' + expected) });
}

#[test]
fn codes_that_fit_need_none() {
    for text in ["614141000418", "61414100041800411", "614141000418 07", "0-306-40615-2", "", "abc", "12"] {
        assert_eq!(corrections(text, |_| true), [], "{text}");
    }
}

#[test]
fn an_isbn_10_is_corrected_too() {
    // 0-306-40615-2: Wikipedia, 'ISBN'.
    let found = corrections("0-306-40651-2 51995", |g| g == gtin("9780306406157"));
    assert_eq!((found[0].kind, found[0].add_on), (CorrectionKind::Swapped { at: 7 }, "51995".parse().ok()));
    let found = corrections("0804429570", |_| false);
    assert!(found.iter().any(|c| c.kind == CorrectionKind::CheckDigit { expected: 'X' }), "{found:?}");
}

#[test]
fn slips_are_described_by_counting_from_one() {
    for (kind, text) in [
        (CorrectionKind::Swapped { at: 5 }, "digits 6 and 7 swapped"),
        (CorrectionKind::CheckDigit { expected: '8' }, "check digit is 8"),
        (CorrectionKind::OneDigit { at: 3, expected: '1' }, "digit 4 is 1"),
        (CorrectionKind::Doubled { at: 0 }, "digit 1 typed twice"),
        (CorrectionKind::Missing { at: 0, expected: '6' }, "6 missing as digit 1"),
    ] {
        assert_eq!(kind.to_string(), text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the slip, the true code is found, and comes first if the collection knows it alone.
    #[test]
    fn the_true_code_is_among_them(
        body in prop_oneof![prop::collection::vec(0u8..10, 11), prop::collection::vec(0u8..10, 12)],
        slip in 0..4, at in 0usize..13, by in 1u8..10, tail in prop::sample::select(vec!["", "00411", " 00411", "+00411", "+07", " 07"]),
    ) {
        let truth = completed(&body);
        let mut typed = body.clone();
        typed.push(check_digit(&body));
        let at = at % typed.len();
        match slip {
            0 => typed[at] = (typed[at] + by) % 10,
            1 if at + 1 < typed.len() => typed.swap(at, at + 1),
            2 => { typed.remove(at); }
            _ => typed.insert(at, typed[at]),
        }
        let text: String = typed.iter().map(|&d| char::from(b'0' + d)).collect::<String>() + tail;
        // A slip that happens to fit is nobody's to find.
        prop_assume!(!matches!(parse_typed(&text), Ok(Typed::Code { repair: None, .. }) | Err(TypedError::Ambiguous(_))));
        let found = every_correction(&text, |_| false);
        prop_assert!(found.iter().any(|c| c.gtin == truth), "{} of {}: {:?}", text, truth, found);
        let known = corrections(&text, |g| g == truth);
        let tail: Option<AddOn> = tail.trim_matches([' ', '+']).parse().ok();
        // A run of digits may divide in two ways, so the code can come twice, once with another add-on.
        let trues = known.iter().take_while(|c| c.known).map(|c| (c.gtin, c.add_on)).collect::<Vec<_>>();
        prop_assert!(trues.contains(&(truth, tail)));
        prop_assert!(trues.iter().all(|(gtin, _)| *gtin == truth));
        prop_assert!(known.len() - trues.len() <= MOST_UNKNOWN);
    }
}
