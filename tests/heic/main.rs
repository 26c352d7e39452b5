//! HEIC photos, in a build that reads them: a program of its own, which is left out of a build that does not.
#![allow(clippy::unwrap_used, reason = "a test that can't go on has failed")]

use std::path::Path;

use boxward::picture::{Limits, decode, load};
use boxward::reader::read;

#[test]
fn a_photo_gives_the_picture_and_its_code() {
    let picture = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/formats").join(name);
        load(&path, &Limits::default()).unwrap_or_else(|error| panic!("{name}: {error}"))
    };
    let (heic, reference) = (picture("colour.heic"), picture("grey.png"));
    assert_eq!((heic.width(), heic.height()), (reference.width(), reference.height()));
    let pairs = heic.pixels().iter().zip(reference.pixels());
    let difference = pairs.map(|(&a, &b)| f64::from(a.abs_diff(b))).sum::<f64>() / heic.pixels().len() as f64;
    // Its losses are a few levels; another picture is dozens.
    assert!(difference < 8.0, "{difference}");
    let codes: Vec<String> = read(&heic).iter().map(|symbol| symbol.code.gtin.to_string()).collect();
    assert_eq!(codes, ["0614141001040"]);
}

#[test]
fn a_damaged_photo_is_an_error() {
    let head = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic";
    let words = decode(head, &Limits::default()).unwrap_err().to_string();
    assert!(words.contains("the HEIC picture is damaged"), "{words}");
}
