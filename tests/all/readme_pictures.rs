//! The README's pictures, made anew of the example stack by `scripts/readme-pictures`, and held to what the README says of them.

use std::fs;
use std::io::{BufRead, BufReader, Cursor};
use std::path::{Path, PathBuf};
use std::process::Stdio;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageFormat};
use serde_json::Value;

use crate::browser::{Browser, missing};
use crate::cli_home::Home;

/// No picture is larger: a README is read on a phone, too.
const MOST_BYTES: u64 = 200_000;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/readme")
}

fn keep(name: &str, png: &[u8]) {
    let picture = image::load(Cursor::new(png), ImageFormat::Png).unwrap();
    let mut jpeg = Vec::new();
    let rgb = DynamicImage::ImageRgb8(picture.into_rgb8());
    JpegEncoder::new_with_quality(&mut jpeg, 80).encode_image(&rgb).unwrap();
    assert!((jpeg.len() as u64) < MOST_BYTES, "{name} has {} bytes", jpeg.len());
    fs::create_dir_all(folder()).unwrap();
    fs::write(folder().join(name), jpeg).unwrap();
}

#[test]
#[ignore = "writes: scripts/readme-pictures"]
fn readme_pictures_are_made() {
    if missing() {
        return;
    }
    let home = Home::new();
    let ran = home.shell(
        "boxward demo --quiet --keep desk >/dev/null && boxward read desk/stack/photo-20.jpg --explain explain.html",
    );
    assert_eq!(ran.code, 0, "{}", ran.out);
    let explain = Browser::open(&home.path().join("explain.html"), 1000, 1000);
    explain.size(1000, 1000);
    keep("explain.jpg", &explain.picture());
    drop(explain);

    // One more look at the stack, with nothing answered yet.
    assert_eq!(home.run(["import", "--quiet", "--collection", "queue.sqlite", "desk/stack"]).code, 0);
    let mut desk = home
        .command(env!("CARGO_BIN_EXE_boxward"))
        .args(["desk", "--no-browser", "--json", "--collection", "queue.sqlite"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(desk.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let link = serde_json::from_str::<Value>(&line).unwrap()["link"].as_str().unwrap().to_owned();
    let browser = Browser::at(&link, 1000, 800);
    browser.size(1000, 800);
    browser.go(&format!("{}queue", browser.address()));
    keep("desk.jpg", &browser.picture());
    drop(browser);
    desk.kill().unwrap();
    desk.wait().unwrap();
}

#[test]
fn the_readme_shows_every_picture_and_no_other() {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let mut shown: Vec<&str> =
        readme.split("](testdata/readme/").skip(1).map(|rest| rest.split(')').next().unwrap()).collect();
    shown.sort_unstable();
    let mut there: Vec<String> =
        fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    there.sort();
    assert_eq!(there, shown);
    for name in there {
        assert!(folder().join(&name).metadata().unwrap().len() < MOST_BYTES, "{name}");
    }
    // A picture without words says nothing to who can't see it.
    assert!(!readme.contains("![]("));
}
