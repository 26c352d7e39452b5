//! The built program in a world of its own: a temporary home, a cleared environment, a clock that stands still.

use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

/// The moment that the program takes for now.
pub const NOW: &str = "2026-03-04T18:30:00Z";

/// A home folder and what is needed to run programs in it.
pub struct Home {
    folder: TempDir,
}

/// What a run left behind.
#[derive(Debug, PartialEq, Eq)]
pub struct Ran {
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
    /// Exit code; -1 if a signal ended it.
    pub code: i32,
}

impl Home {
    /// An empty home.
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// A home in this folder instead of the system's for temporary files.
    pub fn within(folder: &Path) -> Self {
        Self { folder: tempfile::tempdir_in(folder).unwrap() }
    }

    /// A home with copies of all that is in this one.
    pub fn copy(&self) -> Self {
        self.copy_to(Self::new())
    }

    /// The same in another home.
    pub fn copy_to(&self, other: Self) -> Self {
        copy_folder(self.path(), other.path());
        other
    }

    /// The home folder, which is also the current one.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// A program that sees nothing of the real environment.
    pub fn command(&self, program: impl AsRef<OsStr>) -> Command {
        let bin = Path::new(env!("CARGO_BIN_EXE_boxward")).parent().unwrap();
        let path = std::env::join_paths([bin, Path::new("/usr/bin"), Path::new("/bin")]).unwrap();
        let mut command = Command::new(program);
        command.env_clear().env("HOME", self.path()).env("PATH", path).env("BOXWARD_NOW", NOW).env("TZ", "UTC");
        command.env("LANG", "C.UTF-8").current_dir(self.path());
        command
    }

    /// boxward with these arguments and no input.
    pub fn run<A: AsRef<OsStr>>(&self, arguments: impl IntoIterator<Item = A>) -> Ran {
        let mut command = self.command(env!("CARGO_BIN_EXE_boxward"));
        command.args(arguments).stdin(Stdio::null()).output().unwrap().into()
    }

    /// One line for the shell, both outputs in one, as on a terminal.
    pub fn shell(&self, line: &str) -> Ran {
        let line = format!("{{ {line}\n}} 2>&1");
        self.command("/bin/sh").args(["-c", &line]).stdin(Stdio::null()).output().unwrap().into()
    }
}

fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let (path, copy) = (entry.path(), to.join(entry.file_name()));
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&path, &copy);
        } else {
            std::fs::copy(&path, &copy).unwrap();
        }
    }
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
            code: output.status.code().unwrap_or(-1),
        }
    }
}

/// A line that a reader would type, and what follows it in the text.
#[derive(Debug, PartialEq, Eq)]
pub struct Step {
    /// Behind `$ `.
    pub command: String,
    /// The output written under it.
    pub expected: String,
}

/// The `$ ` lines of a text with what stands under each; a line that ends in `\` goes on in the next.
pub fn steps(text: &str) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut continued = false;
    for line in text.lines() {
        if continued && let Some(step) = steps.last_mut() {
            step.command.push('\n');
            step.command.push_str(line);
        } else if let Some(command) = line.strip_prefix("$ ") {
            steps.push(Step { command: command.to_owned(), expected: String::new() });
        } else if let Some(step) = steps.last_mut() {
            step.expected.push_str(line);
            step.expected.push('\n');
            continue;
        }
        continued = line.ends_with('\\');
    }
    steps
}

/// Times in JSON differ from run to run; a transcript shows each as 0.0.
pub fn without_times(text: &str) -> String {
    let mut still = String::new();
    let mut rest = text;
    while let Some(at) = ["\"load\":", "\"read\":"].iter().filter_map(|k| Some(rest.find(k)? + k.len())).min() {
        let number = rest[at..].find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len() - at);
        still.push_str(&rest[..at]);
        still.push_str(if number > 0 { "0.0" } else { "" });
        rest = &rest[at + number..];
    }
    still + rest
}

#[test]
fn steps_are_found() {
    let text = "words\n$ one\n$ two \\\n  more\nout\n\nput\n$ three\n";
    let step = |command: &str, expected: &str| Step { command: command.to_owned(), expected: expected.to_owned() };
    assert_eq!(steps(text), [step("one", ""), step("two \\\n  more", "out\n\nput\n"), step("three", "")]);
}

#[test]
fn times_stand_still() {
    assert_eq!(
        without_times(r#"{"ms":{"load":41.5,"read":9}} "read": 3"#),
        r#"{"ms":{"load":0.0,"read":0.0}} "read": 3"#
    );
}
