//! Answers to the questions of a queue.

use std::cell::OnceCell;

use boxward::code::{AddOnState, Certainty, Code, Symbology};
use boxward::resolve::Answers;
use boxward::source::{Origin, Sighting};
use boxward::store::Store;
use boxward::workflow::{self, ResolveOptions, Select, Session, WorkflowError};
use jiff::Timestamp;
use tempfile::TempDir;

use super::{Target, folder, texts};

pub const TARGET: Target = Target {
    name: "answers",
    check,
    seeds,
    words: &[
        "\"ask\":\"title\"",
        "\"ask\":\"code\"",
        "\"ask\":\"add_on\"",
        "\"ask\":\"count\"",
        "\"ask\":\"which\"",
        "\"ask\":\"issue\"",
        "\"ask\":\"repeat\"",
        "\"items\":[1]",
        "\"item\":2",
        "\"title\":\"",
        "\"layout\":\"IIICP\"",
        "\"issue_base\":",
        "\"copies\":",
        "\"drop\":true",
        "\"keep\":false",
        "\"means\":\"counts_on\"",
        "\"volume\":",
        "\"year\":",
        "null",
        "4294967295",
        "-1",
        "1e308",
    ],
};

/// What is asked about: titles with five and two digits beside, without, a book, a packet, one that is uncertain.
const SEEN: [(&str, Option<&str>); 8] = [
    ("0614141001040", Some("01211")),
    ("0614141001040", Some("01211")),
    ("0614141001040", Some("99911")),
    ("0614141023103", Some("08")),
    ("0614141055913", None),
    ("9780306406157", Some("90000")),
    ("0614141023660", Some("10411")),
    ("2012345678903", None),
];

thread_local! {
    static QUEUE: OnceCell<(TempDir, Store)> = const { OnceCell::new() };
}

fn queue() -> (TempDir, Store) {
    let folder = folder();
    let store = Store::open(&folder.path().join("queue.sqlite")).unwrap();
    let mut session = Session::new();
    for (number, (gtin, add_on)) in SEEN.iter().enumerate() {
        let add_on = add_on.map_or(AddOnState::Unread, |digits| AddOnState::Read(digits.parse().unwrap()));
        let gtin = gtin.parse().unwrap();
        let sighting = Sighting {
            code: Some(Code { gtin, add_on }),
            symbology: Some(Symbology::usual(gtin)),
            certainty: if number == 6 { Certainty::Confirm } else { Certainty::Sure },
            origin: Origin::Typed,
            seen_at: Timestamp::UNIX_EPOCH,
            evidence: None,
        };
        session.stage(&store, &sighting, Timestamp::UNIX_EPOCH).unwrap();
    }
    (folder, store)
}

/// The same after two titles are named.
pub fn settled() -> (TempDir, Store) {
    let (folder, store) = queue();
    let answers = Answers::parse(NAMED).unwrap();
    let options = ResolveOptions::default();
    workflow::resolve(&store, &answers, &options, None, Timestamp::UNIX_EPOCH).unwrap();
    assert!(workflow::have(&store, "tide wardens").is_ok_and(|found| !found.titles.is_empty()));
    (folder, store)
}

const NAMED: &str = "{\"ask\":\"title\",\"items\":[1,2,3],\"title\":\"Tide Wardens\",\"publisher\":\"Lantern Row\",\"year\":2023,\"layout\":\"IIICP\"}\n\
    {\"ask\":\"repeat\",\"item\":1,\"copies\":2}\n\
    {\"ask\":\"title\",\"items\":[7],\"title\":\"Moth Parliament\",\"publisher\":\"Brass Heron\",\"year\":2016,\"layout\":\"IIICP\"}\n";

fn check(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let Ok(answers) = Answers::parse(&text) else { return };
    QUEUE.with(|queue_| {
        let (_, store) = queue_.get_or_init(queue);
        // Nothing is written: what answers would do is taken back.
        match workflow::preview(store, &answers, Select::All) {
            Ok(report) => assert!(report.decided.len() + report.open.len() <= 2 * SEEN.len() + 8, "{report:?}"),
            Err(WorkflowError::Store(error)) => panic!("{error:?}"),
            Err(_) => {}
        }
        assert_eq!(store.titles(0, 10).unwrap(), [], "a preview wrote");
    });
}

fn seeds() -> Vec<Vec<u8>> {
    texts(&[
        NAMED,
        "[{\"ask\":\"title\",\"items\":[1,2,3],\"title\":\"Tide Wardens\",\"layout\":\"IICCP\",\"issue_base\":1000}]",
        "{\"ask\":\"add_on\",\"item\":5,\"add_on\":\"none\"}\n{\"ask\":\"code\",\"item\":5,\"drop\":true}\n",
        "{\"ask\":\"code\",\"item\":7,\"code\":\"614141023660 10411\"}\n",
        "{\"ask\":\"title\",\"items\":[4],\"title\":\"Captain Umber\",\"year\":1984}\n{\"ask\":\"issue\",\"item\":4,\"issue\":\"58\",\"cover\":\"1\",\"printing\":1}\n",
        "{\"ask\":\"book\",\"items\":[6],\"title\":\"Salt Roads\",\"volume\":\"2\",\"publisher\":\"Lantern Row\"}\n",
        "{\"ask\":\"keep\",\"item\":8,\"keep\":false}\n{\"ask\":\"which\",\"items\":[1],\"title\":1}\n{\"ask\":\"count\",\"items\":[3],\"means\":\"new_volume\",\"year\":2024}\n",
    ])
}
