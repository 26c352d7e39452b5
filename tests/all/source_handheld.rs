//! A handheld scanner's packets, joined.

use boxward::code::{AddOnState, Certainty, Symbology};
use boxward::source::handheld::{ADD_ON_WAIT, Handheld, HandheldError, Heard};
use jiff::{SignedDuration, Timestamp};

/// UPC-A from GS1 US's example prefix, and what follows it on a cover.
const MAIN: &str = "614141000418";
const OTHER: &str = "0614141000425";

fn at(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(1_700_000_000_000 + ms).unwrap()
}

fn shown(heard: &Heard) -> String {
    let add_on = heard.code.add_on.read().map(|a| a.to_string()).unwrap_or_else(|| heard.code.add_on.word().to_owned());
    format!("{} {add_on}", heard.code.gtin)
}

/// Plays (ms, line) pairs and the end; one text for each code or error.
fn play(lines: &[(i64, &str)]) -> Vec<String> {
    let mut scanner = Handheld::new(ADD_ON_WAIT);
    let mut all = Vec::new();
    for (ms, line) in lines {
        all.extend(scanner.line(at(*ms), line).into_iter().map(|h| match h {
            Ok(heard) => shown(&heard),
            Err(HandheldError::StrayAddOn(add_on)) => format!("stray {add_on}"),
            Err(HandheldError::NotACode(_)) => "no code".to_owned(),
        }));
    }
    all.extend(scanner.finish().as_ref().map(shown));
    all
}

#[test]
fn one_packet_or_two_give_the_same() {
    let expected = ["0614141000418 00411"];
    for lines in [
        &[(0, "61414100041800411")][..],
        &[(0, "614141000418 00411")],
        &[(0, MAIN), (30, "00411")],
        &[(0, "]E00614141000418"), (30, "]E200411")],
        &[(0, "]E3061414100041800411")],
        &[(0, "\u{2}614141000418\r"), (30, "00411\r\n")],
        &[(0, MAIN), (30, ""), (30, "00411")],
    ] {
        assert_eq!(play(lines), expected, "{lines:?}");
    }
    assert_eq!(play(&[(0, MAIN), (10, "11")]), ["0614141000418 11"]);
}

#[test]
fn a_missing_add_on_is_unread_and_never_absent() {
    assert_eq!(play(&[(0, MAIN)]), ["0614141000418 unread"]);
    assert_eq!(play(&[(0, "]E00614141000418")]), ["0614141000418 unread"]);
    assert_eq!(play(&[(0, MAIN), (50, OTHER), (80, "00511")]), ["0614141000418 unread", "0614141000425 00511"]);
}

#[test]
fn an_add_on_that_comes_too_late_is_nobodys() {
    let late = ADD_ON_WAIT.as_millis() as i64 + 1;
    assert_eq!(play(&[(0, MAIN), (late - 1, "00411")]), ["0614141000418 00411"]);
    assert_eq!(play(&[(0, MAIN), (late, "00411")]), ["0614141000418 unread", "stray 00411"]);
    assert_eq!(play(&[(0, "00411")]), ["stray 00411"]);
    assert_eq!(play(&[(0, MAIN), (9, "00411"), (18, "00411")]), ["0614141000418 00411", "stray 00411"]);
    assert_eq!(play(&[(0, MAIN), (9, "]C1xyz"), (18, "00411")]), ["0614141000418 unread", "no code", "stray 00411"]);
}

#[test]
fn the_clock_completes_what_waits() {
    let mut scanner = Handheld::new(SignedDuration::from_millis(500));
    assert_eq!(scanner.due(), None);
    assert!(scanner.line(at(0), MAIN).is_empty());
    assert_eq!(scanner.due(), Some(at(500)));
    assert_eq!(scanner.tick(at(500)), None);
    let heard = scanner.tick(at(501)).unwrap();
    assert_eq!((heard.code.add_on, heard.symbology, heard.at), (AddOnState::Unread, Symbology::UpcA, at(0)));
    assert_eq!(scanner.tick(at(9_000)), None);
    assert_eq!(scanner.finish(), None);
}

#[test]
fn what_was_repaired_waits_for_a_person() {
    let mut scanner = Handheld::new(ADD_ON_WAIT);
    assert!(scanner.line(at(0), "06141410004 18").is_empty());
    let heard = scanner.finish().unwrap();
    assert_eq!((shown(&heard).as_str(), heard.certainty), ("0614141000418 unread", Certainty::Confirm));
}
