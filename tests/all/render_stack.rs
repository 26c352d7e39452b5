//! The committed example pictures: that they are what the generator makes, and that independent readers agree with
//! what is said of them.

use crate::render::{file, render_rgb, symbol};
use crate::render_symbol::missing;
use crate::stack::{formats, negatives, photos, titles};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name)
}

fn names(folder: &Path) -> BTreeSet<String> {
    std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// The mean difference of two pictures' samples.
fn difference(a: &[u8], b: &[u8]) -> f32 {
    assert_eq!(a.len(), b.len(), "sizes differ");
    let sum: u64 = a.iter().zip(b).map(|(&a, &b)| u64::from(a.abs_diff(b))).sum();
    sum as f32 / a.len() as f32
}

#[test]
fn the_lists_are_as_generated_and_name_every_photo() {
    let stack = folder("stack");
    assert_eq!(std::fs::read_to_string(stack.join("truth.tsv")).unwrap(), photos::truth());
    assert_eq!(std::fs::read_to_string(stack.join("titles.json")).unwrap(), titles::json());
    let listed = photos::photos().into_iter().map(|p| p.name.to_owned());
    let expected: BTreeSet<_> = listed.chain(["titles.json".to_owned(), "truth.tsv".to_owned()]).collect();
    assert_eq!(names(&stack), expected);
    let bytes: u64 = names(&stack).iter().map(|n| std::fs::metadata(stack.join(n)).unwrap().len()).sum();
    assert!(bytes < 6_000_000, "the example stack has grown to {bytes} bytes");
}

/// Through the same JPEG losses, so that only rounding may differ; new noise alone moves a sample by more than 1.
#[test]
fn photos_can_be_made_again() {
    for wanted in ["photo-06.jpg", "photo-11.jpg", "photo-17.jpg"] {
        let photo = photos::photos().into_iter().find(|p| p.name == wanted).unwrap();
        let jpeg = file::rgb_jpeg(&render_rgb(&photo.scene), photo.scene.jpeg_quality.unwrap());
        let made = image::load_from_memory(&jpeg).unwrap().into_rgb8();
        let committed = image::open(folder("stack").join(wanted)).unwrap().into_rgb8();
        let away = difference(committed.as_raw(), made.as_raw());
        assert!(away < 0.3, "{wanted} differs by {away} on average");
    }
}

#[test]
fn negatives_can_be_made_again() {
    let made = negatives::negatives();
    assert_eq!(names(&folder("negatives")), made.iter().map(|(name, _)| (*name).to_owned()).collect());
    for (name, picture) in made {
        let committed = image::open(folder("negatives").join(name)).unwrap().into_luma8();
        // Machines round sines differently: a few samples may move by one.
        let away = difference(committed.as_raw(), &picture.pixels);
        assert!(away < 0.05, "{name} differs by {away} on average");
    }
}

#[test]
fn formats_hold_one_picture() {
    let folder = folder("formats");
    let upright = image::open(folder.join("grey.png")).unwrap().into_luma8();
    let made = crate::render::render(&formats::scene());
    assert!(difference(upright.as_raw(), &made.pixels) < 0.05);
    let broken = ["truncated.jpg", "truncated.png", "empty.jpg", "text.jpg", "png-named.jpg"];
    let files = names(&folder);
    let generated: BTreeSet<_> = formats::formats().into_iter().map(|(name, _)| name).collect();
    assert!(files.is_superset(&generated), "missing: {:?}", generated.difference(&files));
    let mut seen = 0;
    for name in files.iter().filter(|n| !broken.contains(&n.as_str())) {
        // Mirrored and turned ones hold other samples; HEIC is not the image library's.
        if name.starts_with("mirrored") || name.starts_with("orientation") || name.ends_with("heic") {
            continue;
        }
        let picture = image::open(folder.join(name)).unwrap().into_luma8();
        // Colours became grey by other weights, and palettes and JPEG lose a little.
        let away = difference(picture.as_raw(), upright.as_raw());
        assert!(away < 12.0, "{name} differs by {away} on average");
        seen += 1;
    }
    assert_eq!(seen, 17, "a format was added or lost");
}

/// The check digits by the generator's own rule, and the ISBN by the `isbn` library's ranges.
#[test]
fn codes_are_whole() {
    for title in titles::TITLES {
        let code = symbol::digits::<13>(&title.code());
        assert_eq!(symbol::check(&code[..12]), code[12], "{}", title.title);
    }
    let isbn: isbn::Isbn13 = titles::LOW_WATER.code().parse().unwrap();
    assert_eq!(isbn.hyphenate().unwrap().as_str(), "979-8-9999999-9-3");
}

/// What `zbarimg` (Debian package `zbar-tools`, release 0.23) reads, EAN and UPC only: main codes as printed, add-ons.
fn zbar(path: &Path) -> BTreeSet<String> {
    let kinds = ["ean13", "ean8", "upca", "upce", "ean2", "ean5"].map(|kind| format!("-S{kind}.enable"));
    let output = Command::new("zbarimg").args(["-q", "--raw", "-Sdisable"]).args(kinds).arg(path).output().unwrap();
    String::from_utf8(output.stdout).unwrap().lines().map(str::to_owned).collect()
}

/// As many as an ordinary good reader reads: today all of them. No code that is not in the picture, in any of them.
#[test]
fn another_reader_sees_what_is_true() {
    if missing("zbarimg") {
        return;
    }
    for photo in photos::photos() {
        let mut truth: BTreeSet<String> = BTreeSet::new();
        let own = (!photo.main.is_empty()).then(|| (photo.main.clone(), photo.add_on));
        for (main, add_on) in own.into_iter().chain(photo.more) {
            truth.insert(main.strip_prefix('0').unwrap_or(&main).to_owned());
            truth.extend((!add_on.is_empty()).then(|| add_on.to_owned()));
        }
        assert_eq!(zbar(&folder("stack").join(photo.name)), truth, "{}", photo.name);
    }
    for name in names(&folder("negatives")) {
        let read = zbar(&folder("negatives").join(&name));
        assert!(read.iter().all(|code| code.len() < 8), "{name}: {read:?}");
    }
}
