//! Whole sessions at the command line, compared letter by letter: `tests/all/transcripts/*.txt`.
//!
//! Each file is a session in an empty home that holds the folder `examples`: lines that begin with `$ ` are typed to a
//! shell; under each stands its output and, unless it is 0, the exit code as `[exit 3]`. Lines before the first `$ ` say
//! what the session shows. After a wanted change, BOXWARD_WRITE_TRANSCRIPTS=1 writes them anew; read the difference.

use std::fmt::Write;
use std::fs;
use std::path::Path;

use crate::cli_home::{Home, steps, without_times};

/// Runs each line of the session in `text`; gives the session as it went.
fn play(text: &str) -> String {
    let home = Home::new();
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata");
    std::os::unix::fs::symlink(examples, home.path().join("examples")).unwrap();
    let opening = text.find("$ ").map_or(text, |at| &text[..at]);
    let mut played = opening.to_owned();
    for step in steps(text) {
        let ran = home.shell(&step.command);
        let out = without_times(&ran.out).replace(home.path().to_str().unwrap(), "~");
        write!(played, "$ {}\n{out}", step.command).unwrap();
        if !(out.is_empty() || out.ends_with('\n')) {
            played.push('\n');
        }
        if ran.code != 0 {
            writeln!(played, "[exit {}]", ran.code).unwrap();
        }
    }
    played
}

#[test]
fn sessions_go_as_written() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/all/transcripts");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty());
    let mut different = Vec::new();
    for file in files {
        let written = fs::read_to_string(&file).unwrap();
        let played = play(&written);
        if played == written {
            continue;
        }
        if std::env::var_os("BOXWARD_WRITE_TRANSCRIPTS").is_some() {
            fs::write(&file, played).unwrap();
        } else {
            different.push(format!("{}:\n--- written\n{written}\n--- played\n{played}", file.display()));
        }
    }
    assert!(different.is_empty(), "{}", different.join("\n"));
}

#[test]
fn a_different_output_or_exit_code_is_seen() {
    let session = "$ boxward --version\n";
    let played = play(session);
    assert_eq!(played, format!("$ boxward --version\nboxward {}\n", env!("CARGO_PKG_VERSION")));
    assert_eq!(play("$ (exit 3)\n"), "$ (exit 3)\n[exit 3]\n");
}
