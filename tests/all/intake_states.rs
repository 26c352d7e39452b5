//! The queue's states: every pair of them, and how a further sighting fits.

use boxward::code::{AddOnState, Certainty, Code};
use boxward::intake::{ItemState, state_of};

/// Every legal step, written out once more by hand: rows are from, columns are to (waiting, incomplete, accepted,
/// dropped).
const LEGAL: [(ItemState, [bool; 4]); 4] = [
    (ItemState::Waiting, [true, true, true, true]),
    (ItemState::Incomplete, [true, true, false, true]),
    (ItemState::Accepted, [false, false, false, false]),
    (ItemState::Dropped, [false, false, false, false]),
];

#[test]
fn every_step_is_legal_or_refused_as_the_table_says() {
    for (from, row) in LEGAL {
        for (to, legal) in ItemState::ALL.into_iter().zip(row) {
            assert_eq!(from.step(to).is_ok(), legal, "{from} to {to}");
        }
    }
    let refused = ItemState::Accepted.step(ItemState::Waiting).unwrap_err();
    assert!(refused.to_string().contains("accepted can't become waiting"), "{refused}");
}

#[test]
fn words_of_states_read_back() {
    for state in ItemState::ALL {
        assert_eq!(state.word().parse(), Ok(state));
        assert_eq!(serde_json::to_value(state).unwrap(), state.word());
    }
    assert!("lost".parse::<ItemState>().is_err());
}

#[test]
fn a_code_waits_only_if_nothing_is_missing() {
    // ISBN: the ISBN Users' Manual's example 978-92-95055-12-4. The others: prefix 0614141, computed.
    let comic = "0614141000418".parse().unwrap();
    let book = "9789295055124".parse().unwrap();
    let five = AddOnState::Read("00411".parse().unwrap());
    for (gtin, add_on, certainty, state) in [
        (comic, five, Certainty::Sure, ItemState::Waiting),
        (comic, five, Certainty::Confirm, ItemState::Incomplete),
        (comic, AddOnState::Absent, Certainty::Sure, ItemState::Waiting),
        (comic, AddOnState::Unread, Certainty::Sure, ItemState::Incomplete),
        (book, AddOnState::Unread, Certainty::Sure, ItemState::Waiting),
        (book, AddOnState::Absent, Certainty::Confirm, ItemState::Incomplete),
    ] {
        assert_eq!(state_of(Some(Code { gtin, add_on }), certainty), state, "{gtin} {add_on:?} {certainty:?}");
    }
    assert_eq!(state_of(None, Certainty::Sure), ItemState::Incomplete);
}
