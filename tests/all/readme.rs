//! The README's examples, run: each `$ ` line in its fenced blocks, from the first to the last of a section, each section in
//! a home of its own.
//!
//! Output that stands under a line is compared; a line with none must only end with 0 or 1 (done, or done in part).
//! The two commands of a checkout (`scripts/…`) build and test everything themselves: here they must only be there.

use std::path::Path;

use crate::cli_home::{Home, Step, steps, without_times};

/// The steps of all fenced blocks that have any.
fn readme_steps(text: &str) -> Vec<Step> {
    text.split("```")
        .skip(1)
        .step_by(2)
        .filter_map(|block| block.split_once('\n'))
        .flat_map(|(_, b)| steps(b))
        .collect()
}

/// What went otherwise than written.
fn differences(steps: &[Step], home: &Home) -> Vec<String> {
    let mut different = Vec::new();
    for Step { command, expected } in steps {
        if command.starts_with("scripts/") {
            let script = Path::new(env!("CARGO_MANIFEST_DIR")).join(command.split(' ').next().unwrap());
            if !script.is_file() {
                different.push(format!("$ {command}\n{} is not there", script.display()));
            }
            continue;
        }
        let ran = home.shell(command);
        let (out, expected) = (without_times(&ran.out), without_times(expected));
        if !(0..=1).contains(&ran.code) {
            different.push(format!("$ {command}\nended with {}:\n{out}", ran.code));
        } else if !expected.is_empty() && out != expected {
            different.push(format!("$ {command}\n--- written\n{expected}--- printed\n{out}"));
        }
    }
    different
}

#[test]
fn examples_work_as_written() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("README.md")).unwrap();
    let sections: Vec<_> = text.split("\n## ").map(readme_steps).filter(|steps| !steps.is_empty()).collect();
    let of_boxward = sections.iter().flatten().filter(|step| step.command.contains("boxward")).count();
    assert!(sections.len() >= 3 && of_boxward >= 30, "the README has lost its examples: {of_boxward} are left");
    for steps in sections {
        let home = Home::new();
        std::os::unix::fs::symlink(root.join("testdata"), home.path().join("testdata")).unwrap();
        let different = differences(&steps, &home);
        assert!(different.is_empty(), "{}", different.join("\n"));
    }
}

#[test]
fn wrong_examples_are_found() {
    let text = "```sh\n$ echo a\na\n$ echo b\n```\n\n```\n$ echo c\nd\n$ exit 2\n$ scripts/none\n```\n$ not run\n";
    let steps = readme_steps(text);
    assert_eq!(steps.len(), 5);
    assert_eq!(differences(&steps, &Home::new()).len(), 3);
}
