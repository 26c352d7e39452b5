//! Names and texts that strangers chose: none reaches a terminal, a path, a shell or a page as more than text.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::cli_home::{Home, Ran};

/// Sets a window's title and clears the screen (ECMA-48, 8.3.89 and 8.3.39), by C1 as well; forges a line; turns the direction
/// of writing (CVE-2021-42574); is a formula, markup, a shell's command, an option, a path upwards.
const EVIL: &str = "=1+1\x1b]0;mine\x07\x1b[2J\u{9b}2J\nowned: all\r\u{202e}<img src=x onerror=alert(1)>'\"$(touch pwned)`touch pwned`;touch pwned #../../pwned";

/// Whether something else than visible text and lines is there.
fn unruly(text: &str) -> Option<char> {
    text.chars()
        .find(|&c| c.is_control() && c != '\n' || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'))
}

fn assert_tame(what: &str, ran: &Ran) {
    for text in [&ran.out, &ran.err] {
        assert_eq!(unruly(text), None, "{what}: {text:?}");
        assert!(!text.lines().any(|line| line.starts_with("owned: all")), "{what} forged a line: {text}");
    }
}

/// A home with a copy, a box, a preset and more, whose every text is [`EVIL`].
fn evil_home() -> Home {
    let home = Home::new();
    let run = |words: &[&str]| {
        let ran = home.run(words);
        assert!(ran.code <= 1, "{words:?}: {}", ran.err);
        assert_tame(words[0], &ran);
    };
    let scanned = home.shell("printf '614141001040 01511\\n614141001040 01611\\n' | boxward scan --handheld --quiet");
    assert_eq!(scanned.code, 0, "{}", scanned.out);
    let answer = json!({"ask": "title", "items": [1, 2], "title": EVIL, "publisher": EVIL, "volume": EVIL, "year": 2020, "layout": "IIICP"});
    fs::write(home.path().join("answers.jsonl"), answer.to_string()).unwrap();
    run(&["resolve", "--answers", "answers.jsonl", "--shop", EVIL, "--paid", "3.99 USD", "--date", "2026-03-04"]);
    run(&["box", "add", EVIL, "--for", "rest", "--note", EVIL]);
    run(&["copy", "set", "--copy", "1", "--defects", EVIL, "--signed-by", EVIL]);
    run(&["copy", "lend", "--copy", "1", "--to", EVIL]);
    run(&["pile", "read", "614141001040", "01511"]);
    run(&["file", "plan"]);
    home
}

#[test]
fn no_text_of_the_record_reaches_a_terminal_raw() {
    let home = evil_home();
    let before: Vec<_> = names(home.path());
    let commands = [
        "title list",
        "title show 1",
        "have 614141001040 01511",
        "pile",
        "copy list",
        "copy show --copy 1",
        "spend --by shop",
        "spend --by publisher",
        "spend --by title",
        "box list",
        "box show 1",
        "box audit 1",
        "find 614141001040 01511",
        "file plan",
        "file rule",
        "queue list",
        "queue show 1",
        "catalogue show 614141001040",
        "report inventory",
        "report year 2026",
        "report run 1",
        "export",
        "undo --list",
    ];
    let mut told = 0;
    for command in commands {
        let words: Vec<&str> = command.split(' ').collect();
        let ran = home.run(&words);
        assert!(ran.code <= 2, "{command}: {}", ran.err);
        told += usize::from(ran.out.contains("owned: all"));
        assert_tame(command, &ran);
        if !["export", "report run 1", "file rule"].contains(&command) {
            let json = home.run(words.iter().copied().chain(["--json"]));
            assert_tame(command, &json);
            for line in json.out.lines() {
                serde_json::from_str::<Value>(line).unwrap_or_else(|error| panic!("{command}: {error}: {line}"));
            }
        }
    }
    // Else the commands would have shown nothing of it.
    assert!(told >= 12, "{told} commands told the title or the box");
    let titles = home.run(["title", "list", "--json"]);
    let title: Value = serde_json::from_str(titles.out.lines().next().unwrap()).unwrap();
    assert_eq!(title["name"], EVIL, "JSON says what was typed");
    assert_eq!(names(home.path()), before, "a text became a file");
}

#[test]
fn a_terminal_gets_no_sequence_but_colours() {
    let home = evil_home();
    let ran = home.shell("script -qec 'boxward have 614141001040 01511; boxward title list' /dev/null < /dev/null");
    let mut text = ran.out.replace("\r\n", "\n");
    assert!(text.contains("\x1b[32m"), "no terminal, or no colours: {text:?}");
    for colour in ["\x1b[0m", "\x1b[1m", "\x1b[31m", "\x1b[32m", "\x1b[33m"] {
        text = text.replace(colour, "");
    }
    assert_eq!(unruly(&text), None, "{text:?}");
}

#[test]
fn a_table_for_a_spreadsheet_holds_no_formula_and_no_control() {
    let home = evil_home();
    let ran = home.run(["report", "inventory", "--csv"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(ran.out.chars().find(|&c| c.is_control() && c != '\n' && c != '\r'), None);
    let mut reader = csv::Reader::from_reader(ran.out.as_bytes());
    let cells: Vec<String> =
        reader.records().flat_map(|record| record.unwrap().iter().map(str::to_owned).collect::<Vec<_>>()).collect();
    assert!(cells.iter().any(|cell| cell.starts_with("'=1+1")), "{cells:?}");
    assert!(!cells.iter().any(|cell| cell.starts_with('=')), "{cells:?}");
}

#[cfg(unix)]
#[test]
fn names_of_files_are_names_only() {
    let home = Home::new();
    let whole = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/formats/baseline.jpg")).unwrap();
    // A name has no slash; all else of it may stand in one.
    let evil = EVIL.replace('/', "") + ".jpg";
    let names_given = [
        evil.as_str(),
        "-rf.jpg",
        "--collection=pwned.jpg",
        "$(touch pwned).jpg",
        "a\nb.jpg: UPC-A 614141001040 with add-on 01211.jpg",
        " .jpg",
    ];
    let folder = home.path().join("photos");
    fs::create_dir(&folder).unwrap();
    for (number, name) in names_given.iter().enumerate() {
        // Each photo is another one.
        fs::write(folder.join(name), [&whole[..], &[number as u8]].concat()).unwrap();
    }
    let before = names(home.path());

    let read = home.run(["read", "photos"]);
    assert_eq!((read.code, read.out.lines().count()), (0, names_given.len()), "{}{}", read.out, read.err);
    assert_tame("read", &read);
    let json = home.run(["read", "--json", "photos"]);
    assert_tame("read --json", &json);
    let mut told: Vec<PathBuf> = json
        .out
        .lines()
        .map(|line| PathBuf::from(serde_json::from_str::<Value>(line).unwrap()["path"].as_str().unwrap()))
        .collect();
    let mut given: Vec<PathBuf> = names_given.iter().map(|name| Path::new("photos").join(name)).collect();
    told.sort();
    given.sort();
    assert_eq!(told, given);

    let imported = home.run(["import", "--collection", "c.sqlite", "photos"]);
    assert_eq!(imported.code, 0, "{}{}", imported.out, imported.err);
    assert_tame("import", &imported);
    let crops = home.run(["resolve", "--collection", "c.sqlite", "--json"]);
    assert_tame("resolve", &crops);
    for crop in fs::read_dir(home.path().join("c.crops")).into_iter().flatten() {
        let name = crop.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with("item-") && name.ends_with(".png"), "{name}");
    }
    for command in ["queue list", "queue show 1", "queue list --json"] {
        let words = command.split(' ').chain(["--collection", "c.sqlite"]);
        assert_tame(command, &home.run(words));
    }

    // Damaged ones are named in errors, and clap names what it does not know.
    fs::write(home.path().join(&evil), b"no picture").unwrap();
    for words in
        [vec!["read", &evil], vec!["read", "--explain", &evil, &evil], vec![&evil], vec!["catalogue", "import", &evil]]
    {
        let ran = home.run(&words);
        assert!(ran.code >= 2, "{words:?}");
        assert_tame("an error", &ran);
    }
    fs::remove_file(home.path().join(&evil)).unwrap();

    let page = home.run([Path::new("read"), &folder.join(&evil), Path::new("--explain"), Path::new("page.html")]);
    assert_eq!(page.code, 0, "{}", page.err);
    assert_tame("read --explain", &page);
    let page = fs::read_to_string(home.path().join("page.html")).unwrap();
    assert!(page.contains("&lt;img src=x") && !page.contains("<img src=x"));
    assert_eq!(page.chars().find(|&c| c.is_control() && c != '\n'), None);

    let mut after = names(home.path());
    after.retain(|name| !name.starts_with("c.") && name != "page.html" && name != ".local");
    assert_eq!(after, before, "a name became a file");
}

/// What lies in a folder, and nothing that lies in a folder within.
fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}
