//! Questions as printed are answers as taken; what is wrong names its line and field.

use boxward::resolve::{Answers, Question};
use serde_json::{Value, json};

use crate::workflow_support::{ferry, home, upc};

/// One open question of (nearly) every kind.
fn questions() -> (crate::workflow_support::Home, Vec<Question>) {
    let home = home();
    home.stack(&format!("{0} 99811\n{0} 00511\n{1} 00411", upc(41), upc(43)));
    let open = home.resolve(&Answers::none()).open;
    home.resolve(&crate::workflow_support::fill(&open[..1], &[ferry()]));
    home.stack("");
    home.stack(&format!(
        "{0} ~\n{0} 00111\n{0} 99811\n{0} 12\n{1} 00111\n{1} 00111\n9789295055124 51995\n0400000000015\n{1} 00611?",
        upc(41),
        upc(42)
    ));
    let open = home.resolve(&Answers::none()).open;
    (home, open)
}

#[test]
fn what_is_printed_reads_back() {
    let (_home, open) = questions();
    let mut kinds: Vec<_> = open.iter().map(Question::ask).collect();
    kinds.sort_unstable();
    kinds.dedup();
    assert_eq!(kinds, ["add_on", "another_copy", "book", "code", "count", "issue", "keep", "repeat", "title"]);
    let printed: Vec<Value> = open.iter().map(|q| serde_json::to_value(q).unwrap()).collect();
    let lines: String = printed.iter().map(|q| format!("{q}\n")).collect();
    // Untouched questions are no answers, in lines and as an array.
    assert!(Answers::parse(&lines).unwrap().is_empty());
    assert!(Answers::parse(&Value::Array(printed.clone()).to_string()).unwrap().is_empty());
    // Filled in, they are what was filled in, and nothing is lost on the way.
    let fills = [
        ("code", json!({"code": upc(41)})),
        ("add_on", json!({"add_on": "none"})),
        ("title", json!({"title": "Harbour Lights", "layout": "IICCP", "year": 1984})),
        ("book", json!({"title": "Harbour Lights", "volume": "1"})),
        ("count", json!({"means": "counts_on"})),
        ("issue", json!({"issue": "12"})),
        ("repeat", json!({"copies": 2})),
        ("another_copy", json!({"accept": true})),
        ("keep", json!({"keep": false})),
    ];
    let from_lines = crate::workflow_support::fill(&open, &fills);
    assert_eq!(from_lines.len(), open.len());
    let filled: Vec<Value> = printed
        .iter()
        .map(|q| {
            let asked = q["ask"].clone();
            let mut q = q.clone();
            for (_, fields) in fills.iter().filter(|(ask, _)| asked == *ask) {
                q.as_object_mut().unwrap().extend(fields.as_object().unwrap().clone());
            }
            q
        })
        .collect();
    let given: Vec<Value> = from_lines.questions().map(|q| serde_json::to_value(q).unwrap()).collect();
    assert_eq!(given, filled);
}

#[test]
fn answers_as_printed_settle_everything_and_again_change_nothing() {
    let (home, open) = questions();
    let answers = crate::workflow_support::fill(
        &open,
        &[
            ("code", json!({"drop": true})),
            ("add_on", json!({"add_on": "99611"})),
            ("title", json!({"title": "Harbour Lights", "layout": "IICCP", "year": 1984})),
            ("book", json!({"title": "Harbour Lights Collected"})),
            ("count", json!({"means": "counts_on"})),
            ("issue", json!({"issue": "12"})),
            ("repeat", json!({"copies": 2})),
            ("another_copy", json!({"accept": false})),
            ("keep", json!({"keep": false})),
        ],
    );
    let report = home.resolve(&answers);
    assert!(report.open.is_empty(), "{:?}", report.open);
    let settled = home.dump();
    assert_eq!(home.resolve(&answers).decided, []);
    assert_eq!(home.dump(), settled);
}

#[test]
fn an_error_names_line_and_field() {
    for (text, line, field, problem) in [
        ("{\"ask\":\"title\",\"items\":[1],\"title\":5}", 1, Some("title"), "invalid type"),
        ("\n\n{\"ask\":\"title\",\"items\":[1],\"layout\":\"IIICP\"}", 3, Some("title"), "null"),
        ("{\"ask\":\"title\",\"items\":[1],\"title\":\"x\",\"layout\":\"ABC\"}", 1, Some("layout"), "unknown variant"),
        ("{\"ask\":\"title\",\"title\":\"x\"}", 1, Some("items"), "null"),
        ("{\"ask\":\"title\",\"items\":[1],\"titel\":\"x\"}", 1, Some("titel"), "no such field"),
        ("{\"ask\":\"titles\"}", 1, Some("ask"), "no question"),
        ("{\"item\":1}", 1, Some("ask"), "null"),
        (
            "{\"ask\":\"keep\",\"items\":[1]}\n{\"ask\":\"code\",\"item\":1,\"code\":\"0614141000419\"}",
            2,
            Some("code"),
            "check digit",
        ),
        ("{\"ask\":\"add_on\",\"item\":1,\"add_on\":\"123\"}", 1, Some("add_on"), "two or five"),
        ("{\"ask\":\"repeat\",\"item\":1,\"copies\":0}", 1, Some("copies"), "0"),
        ("{\"ask\":\"repeat\",\"item\":1,\"copies\":-1}", 1, Some("copies"), "invalid value"),
        ("{\"ask\":\"issue\",\"item\":1,\"cover\":\"2\"}", 1, Some("issue"), "empty"),
        ("{\"ask\":\"count\",\"items\":[1],\"means\":\"new_volume\"}", 1, Some("volume"), "needs"),
        ("{\"ask\":\"keep\",\n \"items\":[1],\n \"keep\":maybe}", 3, None, "no JSON"),
        ("[1]", 1, None, "object"),
        ("{\"ask\":", 1, None, "no JSON"),
    ] {
        let error = Answers::parse(text).unwrap_err();
        assert_eq!((error.line, error.field.as_deref()), (line, field), "{text}: {error}");
        assert!(error.problem.contains(problem), "{text}: {error}");
    }
}

#[test]
fn an_answer_about_another_code_is_refused_and_nothing_is_written() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    let before = home.dump();
    let line = json!({"ask": "title", "items": [1], "code": upc(42), "title": "The Night Ferry", "layout": "IIICP"});
    let answers = Answers::parse(&line.to_string()).unwrap();
    let error =
        boxward::workflow::resolve(&home.store, &answers, &Default::default(), None, crate::workflow_support::now());
    assert!(error.unwrap_err().to_string().contains("another code"));
    assert_eq!(home.dump(), before);
}

#[test]
fn a_layout_that_contradicts_the_titles_is_refused() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} 00411", upc(42)));
    let line = json!({"ask": "title", "items": [2], "title": "Night Ferry", "layout": "IICCP"});
    let answers = Answers::parse(&line.to_string()).unwrap();
    let error =
        boxward::workflow::resolve(&home.store, &answers, &Default::default(), None, crate::workflow_support::now());
    assert!(error.unwrap_err().to_string().contains("layout IIICP"));
}
