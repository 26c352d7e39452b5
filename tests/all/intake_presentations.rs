//! What frames of a stack add up to: scripted presentations, and properties over random ones.

use std::collections::BTreeSet;

use boxward::code::{AddOn, AddOnState, Certainty, Code, Gtin, Symbology};
use boxward::intake::{
    AGREEING_FRAMES, BLANK_FRAMES, Glimpse, HOLD_STILL_AFTER, LEFT_AFTER, MISSING_FRAMES, Note, Presentations, Taken,
    Turn,
};
use jiff::Timestamp;
use proptest::prelude::*;

use crate::workflow_support::upc;

/// 30 frames a second.
const FRAME_MS: i64 = 33;
/// So long the empty desk must be seen, or a little longer.
const GONE_MS: i64 = LEFT_AFTER.as_millis() as i64 + 2 * FRAME_MS;

fn at(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(1_700_000_000_000 + ms).unwrap()
}

fn gtin(item: u32) -> Gtin {
    upc(item).parse().unwrap()
}

/// What a frame shows of a book's add-on.
fn add_on(text: &str) -> AddOnState {
    match text {
        "" => AddOnState::Absent,
        "~" => AddOnState::Unread,
        digits => AddOnState::Read(digits.parse().unwrap()),
    }
}

fn glimpse(item: u32, text: &str, sure: bool) -> Glimpse<u32> {
    Glimpse {
        code: Code { gtin: gtin(item), add_on: add_on(text) },
        symbology: Symbology::UpcA,
        certainty: if sure { Certainty::Sure } else { Certainty::Confirm },
        middle: [320.0, 240.0],
        width_px: 200.0,
        picture: 0,
    }
}

/// A frame's moment and what it shows: item, add-on, and whether it is certain.
type Shot<'a> = (i64, &'a [(u32, &'a str, bool)]);

fn note(note: &Note<u32>) -> String {
    match note {
        Note::HoldStill { gtin } => format!("hold still {}", &gtin.to_string()[7..12]),
        Note::Taken(taken) => taken_in_words(taken),
    }
}

fn taken_in_words(taken: &Taken<u32>) -> String {
    let add_on = taken.code.add_on.read().map_or(taken.code.add_on.word().to_owned(), |add_on| add_on.to_string());
    let doubt = if taken.certainty == Certainty::Sure { "" } else { "?" };
    let turn = match taken.turn {
        Turn::First => "",
        Turn::SameBook => " same",
        Turn::SecondCopy => " second",
    };
    format!("{} {add_on}{doubt}{turn}", &taken.code.gtin.to_string()[7..12])
}

/// Between shots the camera goes on and shows the empty desk.
fn play(shots: &[Shot]) -> Vec<String> {
    let mut all = Presentations::new();
    let mut notes = Vec::new();
    let mut next_ms = 0;
    for (ms, seen) in shots {
        while next_ms < *ms {
            notes.extend(all.frame(at(next_ms), &[]));
            next_ms += FRAME_MS;
        }
        next_ms = ms + FRAME_MS;
        let glimpses: Vec<_> = seen.iter().map(|(item, add_on, sure)| glimpse(*item, add_on, *sure)).collect();
        notes.extend(all.frame(at(*ms), &glimpses));
    }
    notes.extend(all.finish());
    notes.iter().map(note).collect()
}

/// The same frame again and again from `from_ms` on.
fn still<'a>(from_ms: i64, frames: usize, seen: &'a [(u32, &'a str, bool)]) -> Vec<Shot<'a>> {
    (0..frames as i64).map(|n| (from_ms + n * FRAME_MS, seen)).collect()
}

#[test]
fn one_certain_frame_is_enough_and_more_change_nothing() {
    let book: &[_] = &[(1, "00111", true)];
    assert_eq!(play(&still(0, 1, book)), ["00001 00111"]);
    assert_eq!(play(&still(0, 90, book)), ["00001 00111"]);
}

#[test]
fn uncertain_frames_must_agree() {
    let book: &[_] = &[(1, "00111", false)];
    assert_eq!(play(&still(0, AGREEING_FRAMES, book)), ["00001 00111"]);
    // Fewer wait for a person, and nothing is said of the add-on.
    assert_eq!(play(&still(0, AGREEING_FRAMES - 1, book)), ["00001 unread?"]);
}

#[test]
fn uncertain_codes_at_one_place_are_nothing() {
    let (a, b): (&[_], &[_]) = (&[(1, "00111", false)], &[(2, "00211", false)]);
    let shots: Vec<Shot> = (0..20).map(|n| (n * FRAME_MS, if n % 2 == 0 { a } else { b })).collect();
    assert_eq!(play(&shots), [""; 0]);
    // A certain one among them counts, and the other is nothing.
    let mut shots = shots;
    shots.push((20 * FRAME_MS, &[(1, "00111", true)]));
    assert_eq!(play(&shots), ["00001 00111"]);
}

#[test]
fn main_code_and_add_on_of_different_frames_of_one_presentation_are_one_code() {
    let mut shots = still(0, 5, &[(1, "~", true)]);
    shots.extend(still(200, AGREEING_FRAMES, &[(1, "00111", false)]));
    assert_eq!(play(&shots), ["00001 00111"]);
}

#[test]
fn an_add_on_never_crosses_to_another_presentation() {
    let mut shots = still(0, 2, &[(1, "~", true)]);
    // Seen too seldom to be certain, in a presentation of its own.
    shots.extend(still(FRAME_MS + GONE_MS, AGREEING_FRAMES - 1, &[(1, "00111", false)]));
    assert_eq!(play(&shots), ["00001 unread", "00001 unread?"]);
}

#[test]
fn a_person_is_asked_once_to_hold_still() {
    let frames = HOLD_STILL_AFTER.as_millis() as usize / FRAME_MS as usize + 2;
    let mut shots = still(0, 3 * frames, &[(1, "~", true)]);
    assert_eq!(play(&shots), ["hold still 00001", "00001 unread"]);
    shots.extend(still(3 * frames as i64 * FRAME_MS, 1, &[(1, "00111", true)]));
    assert_eq!(play(&shots), ["hold still 00001", "00001 00111"]);
}

#[test]
fn blank_paper_must_be_seen_often_and_alone() {
    assert_eq!(play(&still(0, BLANK_FRAMES, &[(1, "", true)])), ["00001 absent"]);
    assert_eq!(play(&still(0, BLANK_FRAMES - 1, &[(1, "", true)])), ["00001 unread"]);
    let mut shots = still(0, 1, &[(1, "~", true)]);
    shots.extend(still(FRAME_MS, BLANK_FRAMES, &[(1, "", true)]));
    assert_eq!(play(&shots), ["00001 unread"]);
}

#[test]
fn frames_that_show_nothing_for_a_moment_end_nothing() {
    let book: &[_] = &[(1, "00111", true)];
    let late = LEFT_AFTER.as_millis() as i64;
    assert_eq!(play(&[(0, book), (late / 2, &[]), (late, book)]), ["00001 00111"]);
    assert_eq!(play(&[(0, book), (GONE_MS, book)]), ["00001 00111", "00001 00111 same"]);
}

#[test]
fn a_camera_that_is_slow_ends_nothing() {
    let mut all = Presentations::new();
    let book = [glimpse(1, "00111", true)];
    let slow_ms = 3 * LEFT_AFTER.as_millis() as i64;
    let notes: Vec<_> = (0..9).flat_map(|n| all.frame(at(n * slow_ms), &book)).collect();
    assert_eq!(notes.iter().map(note).collect::<Vec<_>>(), ["00001 00111"]);
    // It takes more than one frame without it, however long after.
    for n in 9..9 + MISSING_FRAMES as i64 - 1 {
        all.frame(at(n * slow_ms), &[]);
    }
    assert_eq!(all.frame(at(20 * slow_ms), &book), []);
    // Another issue of the title may have come in the meantime, so its add-on completes nothing from before.
    let taken = all.frame(at(21 * slow_ms), &[glimpse(1, "00211", true)]);
    assert_eq!(taken.iter().map(note).collect::<Vec<_>>(), ["00001 00211"]);
    let weak = |n: i64| (21 + n, [glimpse(2, if n == 1 { "~" } else { "00111" }, n == 1)]);
    let notes: Vec<_> = (1..=4).map(weak).flat_map(|(n, seen)| all.frame(at(n * slow_ms), &seen)).collect();
    assert_eq!(notes.iter().map(note).collect::<Vec<_>>(), ["hold still 00002"]);
}

#[test]
fn a_second_copy_is_one_only_after_another_book() {
    let (a, b): (&[_], &[_]) = (&[(1, "00111", true)], &[(2, "00211", true)]);
    let shots = [(0, a), (GONE_MS, a), (2 * GONE_MS, b), (3 * GONE_MS, a), (4 * GONE_MS, b)];
    let notes = ["00001 00111", "00001 00111 same", "00002 00211", "00001 00111 second", "00002 00211 second"];
    assert_eq!(play(&shots), notes);
}

#[test]
fn another_issue_that_slides_into_place_is_another_book() {
    let mut shots = still(0, 10, &[(1, "00111", true)]);
    shots.extend(still(10 * FRAME_MS, AGREEING_FRAMES - 1, &[(1, "00211", true)]));
    assert_eq!(play(&shots), ["00001 00111"], "a flicker");
    shots.extend(still(12 * FRAME_MS, 5, &[(1, "00211", true)]));
    assert_eq!(play(&shots), ["00001 00111", "00001 00211"]);
}

#[test]
fn two_books_in_one_frame_are_two() {
    let mut all = Presentations::new();
    let (left, mut right) = (glimpse(1, "00111", true), glimpse(1, "00111", true));
    right.middle = [900.0, 240.0];
    let mut notes = Vec::new();
    for n in 0..10 {
        notes.extend(all.frame(at(n * FRAME_MS), &[right.clone(), left.clone()]));
    }
    notes.extend(all.finish());
    assert_eq!(notes.iter().map(note).collect::<Vec<_>>(), ["00001 00111", "00001 00111 same"]);
}

#[test]
fn the_price_symbol_under_a_japanese_book_is_no_book() {
    let mut price = glimpse(1, "", true);
    price.code.gtin = "1920979005004".parse().unwrap_or_else(|_| {
        let body = "192097900500".bytes().map(|b| b - b'0').collect::<Vec<_>>();
        format!("192097900500{}", boxward::code::check_digit(&body)).parse().unwrap()
    });
    let mut all = Presentations::new();
    let notes = (0..40).flat_map(|n| all.frame(at(n * FRAME_MS), std::slice::from_ref(&price))).count();
    assert_eq!((notes, all.finish().len()), (0, 0));
}

#[test]
fn scanner_and_camera_on_one_book_are_one() {
    let heard = |all: &mut Presentations<u32>, text: &str| {
        let code = Code { gtin: gtin(1), add_on: add_on(text) };
        all.heard(code, Symbology::UpcA, Certainty::Sure).map(|taken| taken_in_words(&taken))
    };
    // The camera was first.
    let mut all = Presentations::new();
    assert_eq!(all.frame(at(0), &[glimpse(1, "00111", true)]).len(), 1);
    assert_eq!(heard(&mut all, "00111"), None);
    assert_eq!(heard(&mut all, "~"), None);
    // The scanner was; the book comes into the picture a while later.
    let mut all = Presentations::new();
    assert_eq!(heard(&mut all, "00111").as_deref(), Some("00001 00111"));
    assert_eq!(all.frame(at(0), &[glimpse(1, "00111", true)]), []);
    // The scanner says what the camera does not make out.
    let mut all = Presentations::new();
    assert_eq!(all.frame(at(0), &[glimpse(1, "~", true)]), []);
    assert_eq!(heard(&mut all, "00111").as_deref(), Some("00001 00111"));
    assert_eq!(all.finish(), []);
    // The scanner twice.
    assert_eq!(heard(&mut all, "00111").as_deref(), Some("00001 00111 same"));
}

#[test]
fn what_was_taken_back_is_new_when_it_is_shown_again() {
    let mut all = Presentations::new();
    let book = [glimpse(1, "00111", true)];
    all.frame(at(0), &book);
    all.forget(book[0].code);
    assert_eq!(all.frame(at(FRAME_MS), &book), [], "not while it stays in the picture");
    for n in 0..MISSING_FRAMES as i64 {
        all.frame(at(GONE_MS + n * FRAME_MS), &[]);
    }
    let notes = all.frame(at(2 * GONE_MS), &book);
    assert_eq!(notes.iter().map(note).collect::<Vec<_>>(), ["00001 00111"]);
}

/// A frame of a random presentation: what it shows of the add-on ('!' stands for the book's own), and its certainty.
type Take = Option<(&'static str, bool)>;

#[derive(Debug, Clone)]
struct Shown {
    item: u32,
    issue: u32,
    takes: Vec<Take>,
}

impl Shown {
    fn add_on(&self) -> String {
        format!("{:03}11", self.issue)
    }
}

fn shown() -> impl Strategy<Value = Shown> {
    let take = prop_oneof![
        3 => Just(None),
        3 => Just(Some(("!", true))),
        3 => Just(Some(("!", false))),
        2 => Just(Some(("~", true))),
        2 => Just(Some(("~", false))),
    ];
    (1..4_u32, 1..4_u32, prop::collection::vec(take, 1..15)).prop_map(|(item, issue, takes)| Shown {
        item,
        issue,
        takes,
    })
}

/// Every presentation's frames, well apart from the next one's; the notes with the presentation that each came in.
fn play_all(stack: &[Shown], start_ms: i64) -> Vec<(usize, Note<u32>)> {
    let mut all = Presentations::new();
    let mut notes = Vec::new();
    let mut ms = start_ms;
    for (n, shown) in stack.iter().enumerate() {
        for take in &shown.takes {
            let glimpse = take.map(|(text, sure)| match text {
                "!" => glimpse(shown.item, &shown.add_on(), sure),
                other => glimpse(shown.item, other, sure),
            });
            notes.extend(all.frame(at(ms), glimpse.as_slice()).into_iter().map(|note| (n, note)));
            ms += FRAME_MS;
        }
        for _ in 0..=GONE_MS / FRAME_MS {
            notes.extend(all.frame(at(ms), &[]).into_iter().map(|note| (n, note)));
            ms += FRAME_MS;
        }
    }
    notes
}

fn count(shown: &Shown, is: impl Fn(&'static str, bool) -> bool) -> usize {
    shown.takes.iter().flatten().filter(|(text, sure)| is(text, *sure)).count()
}

proptest! {
    #[test]
    fn each_presentation_gives_its_own_book_at_most_once(stack in prop::collection::vec(shown(), 1..12)) {
        let notes = play_all(&stack, 0);
        for (n, shown) in stack.iter().enumerate() {
            let taken: Vec<&Taken<u32>> = notes.iter().filter(|(of, _)| *of == n).filter_map(|(_, note)| match note {
                Note::Taken(taken) => Some(taken),
                Note::HoldStill { .. } => None,
            }).collect();
            prop_assert!(taken.len() <= 1, "{shown:?} gave {taken:?}");
            let seen = shown.takes.iter().flatten().count();
            prop_assert_eq!(taken.len(), usize::from(seen > 0));
            let Some(taken) = taken.first() else { continue };
            prop_assert_eq!(taken.code.gtin, gtin(shown.item));
            let main_is_certain = count(shown, |_, sure| sure) > 0 || seen >= AGREEING_FRAMES;
            prop_assert_eq!(taken.certainty == Certainty::Sure, main_is_certain);
            let own = AddOnState::Read(shown.add_on().parse::<AddOn>().unwrap());
            let add_on_is_certain =
                count(shown, |text, sure| text == "!" && sure) > 0 || count(shown, |text, _| text == "!") >= AGREEING_FRAMES;
            let expected = if main_is_certain && add_on_is_certain { own } else { AddOnState::Unread };
            prop_assert_eq!(taken.code.add_on, expected, "{:?}", shown);
        }
    }

    #[test]
    fn turns_follow_the_order_of_whole_codes(stack in prop::collection::vec(shown(), 1..12)) {
        let mut before: BTreeSet<(u32, u32)> = BTreeSet::new();
        let mut last = None;
        for (n, note) in play_all(&stack, 0) {
            let Note::Taken(taken) = note else { continue };
            let book = (stack[n].item, stack[n].issue);
            let whole = taken.code.add_on != AddOnState::Unread;
            let expected = match () {
                () if whole && last == Some(book) => Turn::SameBook,
                () if whole && before.contains(&book) => Turn::SecondCopy,
                () => Turn::First,
            };
            prop_assert_eq!(taken.turn, expected);
            last = whole.then_some(book);
            if whole {
                before.insert(book);
            }
        }
    }

    #[test]
    fn the_hour_does_not_matter(stack in prop::collection::vec(shown(), 1..8), start_ms in 0..100_000_000_000_i64) {
        prop_assert_eq!(play_all(&stack, 0), play_all(&stack, start_ms));
    }

    #[test]
    fn frames_without_a_symbol_change_nothing_that_is_taken(stack in prop::collection::vec(shown(), 1..8)) {
        let seen: Vec<Shown> = stack.iter().cloned().map(|mut shown| {
            // The same frames at the same times, the empty ones left out.
            if let Some(first) = shown.takes.iter().position(Option::is_some) {
                shown.takes.drain(..first);
            }
            shown
        }).filter(|shown| shown.takes[0].is_some()).collect();
        let codes = |stack: &[Shown]| play_all(stack, 0).into_iter().map(|(_, note)| note).collect::<Vec<_>>();
        let whole: Vec<Shown> = stack.into_iter().filter(|shown| shown.takes.iter().any(Option::is_some)).collect();
        prop_assert_eq!(codes(&seen), codes(&whole));
    }

    /// Whatever comes, nothing is taken for certain that no frame showed, and nothing panics.
    #[test]
    fn nothing_is_made_up(frames in prop::collection::vec(
        (0..900_i64, prop::collection::vec((1..4_u32, 1..4_u32, any::<bool>(), 0..4_u32), 0..3)), 0..60,
    )) {
        let mut all = Presentations::new();
        let mut shown: BTreeSet<(Gtin, Option<String>)> = BTreeSet::new();
        let mut ms = 0;
        let mut notes = Vec::new();
        for (gap, symbols) in frames {
            ms += gap;
            let glimpses: Vec<_> = symbols.iter().map(|(item, issue, sure, kind)| {
                let own = format!("{issue:03}11");
                let text = match kind { 0 => "", 1 => "~", _ => own.as_str() };
                let mut seen = glimpse(*item, text, *sure);
                seen.middle[0] += 150.0 * *kind as f32;
                seen
            }).collect();
            shown.extend(glimpses.iter().map(|g| (g.code.gtin, g.code.add_on.read().map(|a| a.to_string()))));
            notes.extend(all.frame(at(ms), &glimpses));
        }
        notes.extend(all.finish());
        for note in notes {
            if let Note::Taken(Taken { code, .. }) = note
                && let Some(add_on) = code.add_on.read()
            {
                prop_assert!(shown.contains(&(code.gtin, Some(add_on.to_string()))));
            }
        }
    }
}
