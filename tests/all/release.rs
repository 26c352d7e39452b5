//! What goes out: the package's files, its version, and the compiler that it says is enough.

use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

fn cargo(arguments: &[&str]) -> String {
    let root = env!("CARGO_MANIFEST_DIR");
    let ran = Command::new(env!("CARGO")).args(arguments).current_dir(root).output().unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    String::from_utf8(ran.stdout).unwrap()
}

#[test]
fn the_package_holds_what_the_program_is_built_from_and_no_more() {
    let listed = cargo(&["package", "--list", "--allow-dirty", "--offline", "--locked"]);
    let mut files: Vec<&str> = listed.lines().collect();
    // Written by cargo itself; the one about the commit only where there is one.
    files.retain(|file| !matches!(*file, ".cargo_vcs_info.json" | "Cargo.toml.orig"));
    let documents = ["Cargo.lock", "Cargo.toml", "DEVELOPERS.md", "LICENSE", "README.md"];
    for document in documents {
        assert!(files.contains(&document), "{document} is missing");
    }
    let strays: Vec<_> = files
        .iter()
        .filter(|file| !documents.contains(file) && !file.starts_with("src/") && !file.starts_with("testdata/"))
        .collect();
    assert!(strays.is_empty(), "{strays:?}");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let bytes: u64 = files.iter().map(|file| root.join(file).metadata().unwrap().len()).sum();
    // A registry takes 10 MiB packed; photos do not pack.
    assert!(bytes < 9 << 20, "{bytes} bytes");
}

#[test]
fn no_library_wants_a_newer_compiler_than_the_package_says() {
    // With HEIC, because the README offers that build too; what only benches and fuzzing turn on goes out to nobody.
    let metadata: Value = serde_json::from_str(&cargo(&[
        "metadata",
        "--format-version",
        "1",
        "--locked",
        "--features",
        "heic",
        "--filter-platform",
        "x86_64-unknown-linux-gnu",
    ]))
    .unwrap();
    let version = |package: &Value| -> Option<Vec<u32>> {
        let mut parts: Vec<u32> =
            package["rust_version"].as_str()?.split('.').map(|part| part.parse().unwrap()).collect();
        // 1.89 and 1.89.0 are the same.
        parts.resize(3, 0);
        Some(parts)
    };
    let packages = metadata["packages"].as_array().unwrap();
    let ours = packages.iter().find(|package| package["name"] == "boxward").and_then(version).unwrap();
    assert!(packages.len() > 100, "{} packages", packages.len());
    assert!(packages.iter().any(|package| package["name"] == "libheif-rs"), "HEIC is left out");
    let newer: Vec<String> = packages
        .iter()
        .filter(|package| version(package).is_some_and(|wanted| wanted > ours))
        .map(|package| format!("{} {} wants {}", package["name"], package["version"], package["rust_version"]))
        .collect();
    assert_eq!(newer, [""; 0]);
}

#[test]
fn the_changelog_begins_with_this_version() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let changes = text.split_once("\n## Changes\n").expect("DEVELOPERS.md has no changes").1;
    let first = changes.lines().find_map(|line| line.strip_prefix("### ")).unwrap();
    assert_eq!(first.split(' ').next(), Some(env!("CARGO_PKG_VERSION")));
}
