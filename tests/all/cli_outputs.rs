//! What holds for the output of every command: order, colours, quiet, the manual.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::cli_home::{Home, without_times};

fn photos() -> Vec<PathBuf> {
    let stack = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack");
    // Out of order, one of them twice, and something that is no picture in between.
    ["photo-15.jpg", "photo-01.jpg", "titles.json", "photo-20.jpg", "photo-01.jpg"].map(|name| stack.join(name)).into()
}

#[test]
fn read_keeps_the_order_given_whatever_the_number_of_threads() {
    let home = Home::new();
    let outputs = ["1", "2", "7"].map(|jobs| {
        let arguments = ["read", "--json", "--jobs", jobs].map(PathBuf::from).into_iter().chain(photos());
        let ran = home.run(arguments);
        assert_eq!(ran.code, 1, "{}", ran.err);
        without_times(&ran.out)
    });
    assert_eq!(outputs[0], outputs[1]);
    assert_eq!(outputs[0], outputs[2]);
    let lines: Vec<Value> = outputs[0].lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let paths: Vec<_> = lines.iter().map(|line| PathBuf::from(line["path"].as_str().unwrap())).collect();
    assert_eq!(paths, photos());
    assert_eq!(lines[1]["symbols"][0]["gtin"], "0614141001040");
    assert_eq!(lines[1]["symbols"][0]["add_on"], "01211");
    assert_eq!(lines[1]["symbols"], lines[4]["symbols"]);
    assert!(lines[2]["error"].is_string() && lines[1]["error"].is_null());
}

#[test]
fn what_goes_to_no_terminal_has_no_colours_and_no_bar() {
    let home = Home::new();
    let mut commands: Vec<Vec<PathBuf>> = ["check 614141001041", "have x", "demo --keep kept", "--help", "nonsense"]
        .map(|line| line.split(' ').map(PathBuf::from).collect())
        .into();
    commands.push(["import"].map(PathBuf::from).into_iter().chain(photos()).collect());
    for command in commands {
        let ran = home.run(&command);
        assert!(!ran.out.contains('\x1b') && !ran.err.contains('\x1b'), "{command:?}");
        assert!(!ran.err.contains('\r'), "{command:?}");
    }
}

/// The program on a terminal of its own (util-linux's script makes one).
fn on_terminal(home: &Home, line: &str) -> String {
    let ran = home.shell(&format!("script -qec \"{line}\" /dev/null < /dev/null"));
    assert!(ran.out.contains("614141001041"), "{}", ran.out);
    ran.out
}

#[test]
fn a_terminal_has_colours_unless_they_are_unwanted() {
    let home = Home::new();
    let wrong = "boxward check 614141001041";
    assert!(on_terminal(&home, wrong).contains("\x1b[31m"));
    assert!(!on_terminal(&home, &format!("NO_COLOR=1 {wrong}")).contains('\x1b'));
    assert!(!on_terminal(&home, &format!("TERM=dumb {wrong}")).contains('\x1b'));
}

#[test]
fn the_demo_settles_its_whole_stack() {
    let home = Home::new();
    let ran = home.run(["demo"]);
    assert_eq!(ran.code, 0, "{}\n{}", ran.out, ran.err);
    // The rest of the way is in the books: every photo's comic, told apart.
    for line in ["another cover: Tide Wardens 13, cover 2", "new: Moth Parliament 105", "new: Captain Umber 58"] {
        assert!(ran.out.contains(line), "{line}:\n{}", ran.out);
    }
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0, "the demo left something behind");
}

#[test]
fn quiet_prints_answers_only() {
    let home = Home::new();
    let ran = home.run(["import", "--quiet"].map(PathBuf::from).into_iter().chain(photos()));
    assert!(ran.err.contains("titles.json"), "errors are told all the same: {}", ran.err);
    assert_eq!(home.run(["queue", "list", "--quiet"]).err, "");
    assert_ne!(home.run(["queue", "list"]).err, "");
}

#[test]
fn the_manual_and_every_completion_name_the_commands() {
    let home = Home::new();
    for what in ["page", "bash", "elvish", "fish", "powershell", "zsh"] {
        let ran = home.run(["manual", what]);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{what}");
        assert!(ran.out.contains("import") && ran.out.contains("resolve"), "{what}");
    }
}
