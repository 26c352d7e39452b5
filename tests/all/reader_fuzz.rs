//! Broken files and pictures of nothing: never a panic, never long, never a code that is not there.
//!
//! The quick tests take a few of each; the long ones (`cargo test --release --test all -- --ignored reader_fuzz`) many.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use boxward::code::Gtin;
use boxward::picture::{Limits, Luma, decode, load};
use boxward::reader::read;

use crate::fuzz::{FORMATS, damaged};
use crate::render::random::Random;

/// Far beyond what any picture of this size takes, on a busy machine and unoptimised.
const LONGEST: Duration = Duration::from_secs(20);

/// Enough for every example, and little enough that a header that lies costs no minutes.
fn limits() -> Limits {
    Limits { max_pixels: 4_000_000, ..Limits::default() }
}

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name)
}

fn codes(picture: &Luma) -> Vec<Gtin> {
    read(picture).iter().map(|symbol| symbol.code.gtin).collect()
}

/// A file, and the codes in its picture.
struct Whole {
    name: String,
    bytes: Vec<u8>,
    codes: Vec<Gtin>,
}

/// The example pictures in every format, and photos of the stack: some as they are, some reduced and without compression,
/// so that bytes are pixels.
fn whole_files() -> Vec<Whole> {
    let shown: Gtin = "0614141001040".parse().unwrap();
    let mut files: Vec<Whole> = FORMATS
        .iter()
        .map(|name| {
            let bytes = fs::read(testdata("formats").join(name)).unwrap();
            Whole { name: (*name).to_owned(), codes: vec![shown], bytes }
        })
        .collect();
    let truth = fs::read_to_string(testdata("stack/truth.tsv")).unwrap();
    for name in ["photo-04.jpg", "photo-20.jpg"] {
        let line = truth.lines().find(|line| line.starts_with(name)).unwrap();
        let codes: Vec<Gtin> = line.split(['\t', ' ', '+']).filter_map(|word| word.parse().ok()).collect();
        assert!(!codes.is_empty(), "{name} shows no code");
        let path = testdata("stack").join(name);
        let reduced = load(&path, &Limits::default()).unwrap().reduced(2);
        files.push(Whole { name: format!("{name}, reduced"), bytes: bmp(&reduced), codes: codes.clone() });
        files.push(Whole { name: name.to_owned(), bytes: fs::read(path).unwrap(), codes });
    }
    files
}

fn bmp(picture: &Luma) -> Vec<u8> {
    let mut bytes = Vec::new();
    image::codecs::bmp::BmpEncoder::new(&mut bytes)
        .encode(picture.pixels(), picture.width() as u32, picture.height() as u32, image::ExtendedColorType::L8)
        .unwrap();
    bytes
}

/// Keeps a file to look at; gives its name.
fn kept(bytes: &[u8], seed: u64) -> String {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("broken-{seed}"));
    fs::write(&path, bytes).unwrap();
    path.display().to_string()
}

/// What came of broken files.
#[derive(Debug, Default)]
struct Damage {
    /// Still pictures, and those in which still a code was read.
    pictures: usize,
    read: usize,
    /// Codes that are not in the whole picture, each with where it was read.
    strange: Vec<String>,
}

fn damage(rounds: u64, first_seed: u64) -> Damage {
    let files = whole_files();
    let mut damage = Damage::default();
    for seed in first_seed..first_seed + rounds {
        let mut random = Random::new(seed);
        let file = &files[random.below(files.len())];
        let bytes = damaged(&file.bytes, &mut random);
        let start = Instant::now();
        if let Ok(picture) = decode(&bytes, &limits()) {
            let found = codes(&picture);
            damage.pictures += 1;
            damage.read += usize::from(!found.is_empty());
            for code in found.iter().filter(|code| !file.codes.contains(code)) {
                damage.strange.push(format!("{code} in {}, seed {seed}, kept as {}", file.name, kept(&bytes, seed)));
            }
        }
        assert!(start.elapsed() < LONGEST, "{}, seed {seed}: {:?}", file.name, start.elapsed());
    }
    damage
}

/// A picture that shows no code.
fn nothing(random: &mut Random) -> (String, Luma) {
    const SIZES: [[usize; 2]; 8] = [[1, 1], [1, 5000], [5000, 1], [3, 3], [2, 700], [700, 9], [320, 240], [500, 333]];
    let [w, h] = SIZES[random.below(SIZES.len())];
    let period = [random.between(1.5, 40.0), random.between(1.5, 40.0)];
    let turn = random.between(0.0, std::f32::consts::PI);
    let [dx, dy] = [turn.cos() / period[0], turn.sin() / period[0]];
    let [low, high] = [random.below(256) as f32, random.below(256) as f32];
    let noise = [0.0, random.between(0.0, 60.0)][random.below(2)];
    let kind = random.below(7);
    // Widths of bars at random, for the whole width or height of the largest picture.
    let mut dark = random.below(2) == 0;
    let module = random.between(1.0, 6.0);
    let mut bars = Vec::new();
    while bars.len() < 6000 {
        let width = (1 + random.below(4)) as f32 * module;
        bars.resize(bars.len() + width.round() as usize, dark);
        dark = !dark;
    }
    let luma = Luma::from_fn(w, h, |x, y| {
        let [fx, fy] = [x as f32, y as f32];
        let share = match kind {
            0 => 0.0,
            1 => random.between(0.0, 1.0),
            2 => (fx + fy) / (w + h) as f32,
            3 => f32::from((fx * dx + fy * dy).rem_euclid(1.0) < 0.5),
            4 => f32::from((fx / period[0]) as usize % 2 == (fy / period[1]) as usize % 2),
            5 => 0.5 + 0.5 * (std::f32::consts::TAU * (fx * dx + fy * dy)).sin(),
            _ => f32::from(bars[x]),
        };
        (low + (high - low) * share + noise * random.bell()).round().clamp(0.0, 255.0) as u8
    });
    (format!("kind {kind}, {w} × {h}, period {period:?}, noise {noise}"), luma)
}

fn empty_pictures(rounds: u64, first_seed: u64) {
    for seed in first_seed..first_seed + rounds {
        let (what, luma) = nothing(&mut Random::new(seed));
        let start = Instant::now();
        assert_eq!(codes(&luma), [], "seed {seed}: {what}");
        assert!(start.elapsed() < LONGEST, "seed {seed}: {what}: {:?}", start.elapsed());
    }
}

#[test]
fn broken_files_give_no_other_code() {
    let damage = damage(24, 0);
    assert_eq!(damage.strange, [""; 0]);
    // Otherwise the reader would have had nothing to do.
    assert!(damage.pictures >= 5 && damage.read >= 3, "{damage:?}");
}

/// In one the data ran out, and what was there had moved; in the other a band had.
#[test]
fn files_that_gave_another_code_once_give_none() {
    for seed in [5_523, 20_921] {
        assert_eq!(damage(1, seed).strange, [""; 0]);
    }
}

#[test]
fn pictures_of_nothing_give_nothing() {
    empty_pictures(200, 0);
    for grey in [0, 127, 255] {
        assert_eq!(codes(&Luma::from_fn(300, 200, |_, _| grey)), []);
    }
}

#[test]
#[ignore = "long: twenty minutes"]
fn many_broken_files_give_no_other_code() {
    let damage = damage(20_000, 1_000);
    println!("of 20000 broken files {} were still pictures, {} were read", damage.pictures, damage.read);
    assert_eq!(damage.strange, [""; 0]);
}

#[test]
#[ignore = "long: a minute"]
fn many_pictures_of_nothing_give_nothing() {
    empty_pictures(20_000, 1_000);
}
