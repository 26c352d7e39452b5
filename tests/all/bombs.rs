//! Small files that claim to be huge, or unpack to it: refused, or read within the memory that the README names. The program
//! runs as a child whose address space is limited, so that asking for more ends it.
#![cfg(target_os = "linux")]

use std::fs;
use std::io::{Cursor, Write};
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::cli_home::Home;

/// What one picture may take, in MiB, as the README says; half of it is the picture unpacked.
const PICTURE_MIB: u64 = 1024;
/// What a list, answers or an export may take.
const LIST_MIB: u64 = 1536;

/// What ran, and its peak.
struct Ran {
    code: Option<i32>,
    out: String,
    peak_mib: u64,
}

/// Runs the program within so much address space, on one core; a thread's arena is reserved, not used.
fn run(home: &Home, arguments: &[&str], limit_mib: u64) -> Ran {
    let mut child = home
        .command("/bin/sh")
        .args(["-c", &format!("ulimit -v {}; exec boxward \"$@\"", limit_mib << 10), "sh"])
        .args(arguments)
        .env("MALLOC_ARENA_MAX", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kib = 0;
    while child.try_wait().unwrap().is_none() {
        // The kernel keeps the peak itself; the last look before the end is near enough.
        let text = fs::read_to_string(&status).unwrap_or_default();
        let peak = text.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse().ok());
        peak_kib = peak_kib.max(peak.unwrap_or(0));
        std::thread::sleep(Duration::from_millis(2));
    }
    let output = child.wait_with_output().unwrap();
    let out = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
    Ran { code: output.status.code(), out, peak_mib: peak_kib >> 10 }
}

/// Zeros packed as tightly as the format allows with its fixed codes: 258 of them in 13 bits (RFC 1951, 3.2.6), within the
/// frame of RFC 1950.
fn zlib_zeros(count: usize) -> Vec<u8> {
    let mut bytes = vec![0x78, 0x01];
    let (mut bits, mut held) = (0u64, 0);
    let mut put = |value: u64, width: u32, bytes: &mut Vec<u8>| {
        bits |= value << held;
        held += width;
        while held >= 8 {
            bytes.push(bits as u8);
            bits >>= 8;
            held -= 8;
        }
    };
    // The last block, with fixed codes; a literal 0 is 00110000.
    put(0b011, 3, &mut bytes);
    let repeats = count.saturating_sub(1) / 258;
    (0..count - repeats * 258).for_each(|_| put(0b0000_1100, 8, &mut bytes));
    // Length 258 is code 285, 11000101; distance 1 is 00000. Codes are written from their highest bit.
    (0..repeats).for_each(|_| put(0b10_100_011, 13, &mut bytes));
    put(0, 7 + 7, &mut bytes);
    // Adler-32 of zeros: the first sum stays 1, the second counts.
    bytes.extend((((count % 65_521) as u32) << 16 | 1).to_be_bytes());
    bytes
}

fn chunk(kind: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let body = [kind, data].concat();
    // CRC of PNG's chunks (W3C PNG specification, annex D).
    let crc = !body.iter().fold(!0u32, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    });
    [&(data.len() as u32).to_be_bytes(), &body[..], &crc.to_be_bytes()].concat()
}

/// A PNG of `side` × `side` px with so many bytes a pixel (colour type 0: grey, 6: colour and transparency), `aside` before them.
fn png(side: u32, depth: u8, colour: u8, aside: &[u8], pixels: &[u8]) -> Vec<u8> {
    let header = [&side.to_be_bytes()[..], &side.to_be_bytes(), &[depth, colour, 0, 0, 0]].concat();
    [b"\x89PNG\r\n\x1a\n", &chunk(b"IHDR", &header)[..], aside, &chunk(b"IDAT", pixels), &chunk(b"IEND", b"")].concat()
}

/// A TIFF of one strip at byte 8 whose next directory is itself (TIFF 6.0, section 2).
fn tiff(side: u32, strips: u32, next_is_itself: bool) -> Vec<u8> {
    let entries: [[u32; 4]; 8] = [
        [256, 4, 1, side],
        [257, 4, 1, side],
        [258, 3, 1, 8],
        [259, 3, 1, 1],
        [262, 3, 1, 1],
        [273, 4, strips, 8],
        [278, 4, 1, side],
        [279, 4, strips, 64],
    ];
    let mut bytes = [b"II*\0", &72u32.to_le_bytes()[..], &[0; 64]].concat();
    bytes.extend(8u16.to_le_bytes());
    for [tag, kind, count, value] in entries {
        bytes.extend((tag as u16).to_le_bytes());
        bytes.extend((kind as u16).to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend((if next_is_itself { 72u32 } else { 0 }).to_le_bytes());
    bytes
}

/// A BMP that claims a size and has next to nothing behind it (8 bits a pixel, run lengths).
fn bmp(side: i32) -> Vec<u8> {
    let numbers = |numbers: &[u32]| numbers.iter().flat_map(|n| n.to_le_bytes()).collect::<Vec<u8>>();
    let head = numbers(&[1082, 0, 1078, 40, side as u32, side as u32, 1 | 8 << 16, 1, 4, 0, 0, 256, 0]);
    [b"BM", &head[..], &[0; 1024], &[0, 1, 0, 1]].concat()
}

/// A WebP whose five code books have one symbol each, so that any size takes no further bit (RFC 9649, 3 and 3.7).
fn webp(side: u32) -> Vec<u8> {
    let size = (side - 1) | (side - 1) << 14;
    // No transform, no colour cache, no meta codes; then five times 'simple, one symbol, of one bit, 0'.
    let bits = (0..5).fold(0u32, |bits, code| bits | 1 << (3 + 4 * code));
    let data = [&[0x2f][..], &size.to_le_bytes(), &bits.to_le_bytes(), &[0; 7]].concat();
    let chunk = [b"VP8L", &(data.len() as u32).to_le_bytes()[..], &data].concat();
    [b"RIFF", &(chunk.len() as u32 + 4).to_le_bytes()[..], b"WEBP", &chunk].concat()
}

/// A GIF of so many pictures of 16 × 16 px on a screen of `side`, each with a size of its own (GIF89a, appendix F: a clear code,
/// an end code).
fn gif(side: u16, pictures: usize, picture_side: u16) -> Vec<u8> {
    let mut bytes =
        [b"GIF89a", &side.to_le_bytes()[..], &side.to_le_bytes(), &[0x80, 0, 0, 0, 0, 0, 255, 255, 255]].concat();
    let picture = [
        b"\x21\xf9\x04\0\0\0\0\0,\0\0\0\0",
        &picture_side.to_le_bytes()[..],
        &picture_side.to_le_bytes(),
        &[0, 2, 2, 0x44, 0x01, 0],
    ];
    bytes.extend(picture.concat().repeat(pictures));
    bytes.push(b';');
    bytes
}

/// An example JPEG with another size in its header, and EXIF whose directories point at themselves.
fn jpeg(name: &str, side: Option<u16>, exif: bool) -> Vec<u8> {
    let mut bytes = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/formats").join(name)).unwrap();
    if let Some(side) = side {
        // The frame's header (ITU-T T.81, B.2.2): height and width behind marker, length and precision.
        let at = (2..bytes.len()).find(|&at| bytes[at] == 0xff && matches!(bytes[at + 1], 0xc0 | 0xc2)).unwrap();
        bytes[at + 5..at + 9].copy_from_slice(&[side.to_be_bytes(), side.to_be_bytes()].concat());
    }
    if exif {
        // One entry, the pointer to another directory, which is this one, as is the next (CIPA DC-008, 4.6).
        let directory =
            [&b"II*\0\x08\0\0\0\x01\0\x69\x87\x04\0\x01\0\0\0\x08\0\0\0\x08\0\0\0"[..], &b"Exif"[..]].concat();
        let body = [b"Exif\0\0", &directory[..]].concat();
        let segment = [&[0xff, 0xe1][..], &(body.len() as u16 + 2).to_be_bytes(), &body].concat();
        bytes.splice(2..2, segment);
    }
    bytes
}

/// A grey JPEG with all its pixels, each block as light as the one before: a difference of 0 and an end of block, which are 00 and
/// 1010 in the tables that the example has (ITU-T T.81, tables K.3 and K.5).
fn whole_jpeg(side: u16) -> Vec<u8> {
    const FOUR_BLOCKS: [u8; 3] = [0b0010_1000, 0b1010_0010, 0b1000_1010];
    let mut bytes = jpeg("grey.jpg", Some(side), false);
    let scan = (2..bytes.len()).find(|&at| bytes[at..].starts_with(&[0xff, 0xda])).unwrap();
    bytes.truncate(scan + 2 + usize::from(u16::from_be_bytes([bytes[scan + 2], bytes[scan + 3]])));
    let blocks = usize::from(side).div_ceil(8).pow(2);
    bytes.extend(FOUR_BLOCKS.repeat(blocks.div_ceil(4)));
    bytes.extend([0xff, 0xd9]);
    bytes
}

/// The largest square that the limit on pixels lets pass.
const LARGEST: u32 = 10_954;

#[test]
fn pictures_that_claim_too_much_are_refused_and_the_largest_fit() {
    let large = LARGEST as usize;
    let side = LARGEST as u16;
    let profile = chunk(b"iCCP", &[b"p\0\0", &zlib_zeros(512 << 20)[..]].concat());
    let note = chunk(b"zTXt", &[b"n\0\0", &zlib_zeros(512 << 20)[..]].concat());
    let small = zlib_zeros(9 * 8);
    // Name, bytes, exit code (1: a picture without a code, 3: refused), and the most that it may take in MiB.
    let bombs: [(&str, Vec<u8>, i32, u64); 22] = [
        ("60000.png", png(60_000, 8, 0, &[], &small), 3, 64),
        ("sixteen-bits.png", png(LARGEST, 16, 6, &[], &small), 3, 64),
        ("claim.png", png(LARGEST, 8, 6, &[], &small), 3, 700),
        ("whole.png", png(LARGEST, 8, 6, &[], &zlib_zeros((4 * large + 1) * large)), 1, 700),
        ("profile.png", png(8, 8, 0, &profile, &small), 1, 64),
        ("note.png", png(8, 8, 0, &note, &small), 1, 64),
        ("more-than-pixels.png", png(8, 8, 0, &[], &zlib_zeros(1 << 30)), 1, 64),
        ("60000.tiff", tiff(60_000, 1, false), 3, 64),
        ("loop.tiff", tiff(8, 1, true), 3, 64),
        ("strips.tiff", tiff(8, u32::MAX, false), 3, 64),
        ("60000.bmp", bmp(60_000), 3, 64),
        ("claim.bmp", bmp(LARGEST as i32), 1, 700),
        ("16383.webp", webp(16_383), 3, 64),
        ("whole.webp", webp(LARGEST), 1, 900),
        ("60000.gif", gif(60_000, 1, 60_000), 3, 64),
        ("endless.gif", gif(16, 1_000_000, 16), 3, 128),
        ("claim.gif", gif(side, 1, side), 3, 900),
        ("65500.jpg", jpeg("baseline.jpg", Some(65_500), false), 3, 64),
        ("claim.jpg", jpeg("baseline.jpg", Some(side), false), 3, 400),
        ("whole.jpg", whole_jpeg(side), 1, 400),
        ("progressive.jpg", jpeg("progressive.jpg", Some(side), false), 1, 400),
        ("cmyk.jpg", jpeg("cmyk.jpg", Some(side), false), 1, 900),
    ];
    let home = Home::new();
    let mut faults = Vec::new();
    for (name, bytes, code, most_mib) in bombs {
        fs::write(home.path().join(name), &bytes).unwrap();
        let ran = run(&home, &["read", "--jobs", "1", name], PICTURE_MIB);
        println!("{name}: {} KiB, exit {:?}, peak {} MiB", bytes.len() >> 10, ran.code, ran.peak_mib);
        if ran.code != Some(code) || ran.peak_mib > most_mib {
            faults.push(format!("{name}: exit {:?}, peak {} MiB: {}", ran.code, ran.peak_mib, ran.out));
        }
        fs::remove_file(home.path().join(name)).unwrap();
    }
    assert_eq!(faults, [""; 0]);
}

#[test]
fn exif_that_points_at_itself_is_passed_over() {
    let home = Home::new();
    fs::write(home.path().join("exif.jpg"), jpeg("baseline.jpg", None, true)).unwrap();
    let ran = run(&home, &["read", "exif.jpg"], PICTURE_MIB);
    assert!(ran.code == Some(0) && ran.out.contains("614141001040"), "{}", ran.out);
}

fn home_with_a_collection() -> Home {
    let home = Home::new();
    let scanned = home.shell("printf '614141001040 01511\\n' | boxward scan --handheld --quiet");
    assert_eq!(scanned.code, 0, "{}", scanned.out);
    home
}

/// A workbook of these parts beside the few that it must have.
fn workbook(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let relation = |kind: &str, target: &str| {
        format!("<Relationships><Relationship Id=\"r1\" Type=\"{office}/{kind}\" Target=\"{target}\"/></Relationships>")
    };
    let needed = [
        ("_rels/.rels", relation("officeDocument", "xl/workbook.xml")),
        ("xl/_rels/workbook.xml.rels", relation("worksheet", "worksheets/sheet1.xml")),
        (
            "xl/workbook.xml",
            "<workbook><sheets><sheet name=\"One\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>".to_owned(),
        ),
    ];
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let needed = needed.iter().map(|(name, text)| (*name, text.as_bytes()));
    for (name, bytes) in needed.chain(parts.iter().copied()) {
        archive.start_file(name, SimpleFileOptions::default()).unwrap();
        archive.write_all(bytes).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

#[test]
fn lists_that_unpack_to_too_much_are_refused() {
    const MIB: usize = 1 << 20;
    let sheet = "xl/worksheets/sheet1.xml";
    let texts = "xl/sharedStrings.xml";
    let head = b"title,issue\n".to_vec();
    let with = |repeated: &str, bytes: usize| [&head[..], repeated.repeat(bytes / repeated.len()).as_bytes()].concat();
    let names: Vec<String> = (0..25_000).map(|number| format!("xl/media/{number}.png")).collect();
    let many: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
    let keys: String = (0..200_000).map(|number| format!("{{\"title\":\"A\",\"{number}\":1}}\n")).collect();
    let inner = workbook(&[(sheet, &b"<c/> ".repeat(20 * MIB))]);
    // Name, bytes, and what is said.
    let bombs: [(&str, Vec<u8>, &str); 15] = [
        (
            "texts-declared.xlsx",
            workbook(&[(texts, b"<sst uniqueCount=\"999999999999999\"><si/></sst>")]),
            "more texts",
        ),
        ("texts.xlsx", workbook(&[(texts, &[b"<sst>", &b"<si/>".repeat(9_000_000)[..]].concat())]), "more texts"),
        (
            "text.xlsx",
            workbook(&[(texts, &[b"<sst><si><t>", &b"a".repeat(200 * MIB)[..]].concat())]),
            "more text in a cell",
        ),
        (
            "cell.xlsx",
            workbook(&[(sheet, &[b"<c><is>", &b"<t>a</t>".repeat(20 * MIB)[..]].concat())]),
            "more text in a cell",
        ),
        ("styles.xlsx", workbook(&[("xl/styles.xml", &b"<xf/>".repeat(20 * MIB))]), "more than 64 MiB"),
        ("sheet.xlsx", workbook(&[(sheet, &b"<c/> ".repeat(170 * MIB))]), "more than 768 MiB"),
        (
            "nested.xlsx",
            workbook(&[("xl/embeddings/1.xlsx", &inner), (sheet, b"<worksheet><sheetData/></worksheet>")]),
            "has no row",
        ),
        ("parts.xlsx", workbook(&many), "more parts"),
        ("columns.csv", with(",", 64 * MIB), ""),
        ("names.csv", ",".repeat(64 * MIB).into_bytes(), "the columns' names can't be read"),
        ("lines.csv", with("\"\n\",", 64 * MIB), ""),
        ("quote.csv", [&head[..], b"\"", &b"aaaaaaaaaaaaaaaa\n".repeat(4 * MIB)].concat(), "is a quote not closed?"),
        ("fields.jsonl", keys.into_bytes(), "more than 1000 fields"),
        ("line.jsonl", [b"{\"title\":[", &b"[],".repeat(20 * MIB)[..]].concat(), ""),
        ("array.json", [b"[", &b"[],".repeat(20 * MIB)[..], b"0]"].concat(), "one JSON array"),
    ];
    let home = home_with_a_collection();
    let mut faults = Vec::new();
    for (name, bytes, says) in bombs {
        fs::write(home.path().join(name), &bytes).unwrap();
        let ran = run(&home, &["catalogue", "import", "--dry-run", name], LIST_MIB);
        println!("{name}: {} KiB, exit {:?}, peak {} MiB", bytes.len() >> 10, ran.code, ran.peak_mib);
        if ran.code.is_none_or(|code| code == 0) || !ran.out.contains(says) {
            faults.push(format!("{name}: exit {:?}: {}", ran.code, ran.out.chars().take(300).collect::<String>()));
        }
        fs::remove_file(home.path().join(name)).unwrap();
    }
    assert_eq!(faults, [""; 0]);
}

#[test]
fn answers_and_exports_without_end_are_refused() {
    let home = home_with_a_collection();
    let file = |name: &str, bytes: &[u8]| fs::write(home.path().join(name), bytes).unwrap();
    file("long.jsonl", &b"[],".repeat(7 << 20));
    file("deep.jsonl", &b"[".repeat(8 << 20));
    file("many.jsonl", &[b"[", &b"0,".repeat(7 << 20)[..], b"0]"].concat());
    for (name, says) in [("long.jsonl", "more than the 16 MiB"), ("deep.jsonl", "recursion"), ("many.jsonl", "line 1")]
    {
        let ran = run(&home, &["resolve", "--answers", name], LIST_MIB);
        println!("{name}: exit {:?}, peak {} MiB", ran.code, ran.peak_mib);
        assert!(ran.code == Some(3) && ran.out.contains(says), "{name}: {:?}: {}", ran.code, ran.out);
    }
    let head = b"{\"format\":\"boxward collection\",\"version\":11}\n";
    file("line.jsonl", &[head, &b"{\"title\":{\"name\":["[..], &b"0,".repeat(32 << 20)].concat());
    file("first.jsonl", &b"{".repeat(64 << 20));
    for (name, says) in [("line.jsonl", "line 2"), ("first.jsonl", "16 MiB")] {
        let ran = run(&home, &["import", "--collection", "new.sqlite", "--collection-data", name], LIST_MIB);
        println!("{name}: exit {:?}, peak {} MiB", ran.code, ran.peak_mib);
        assert!(ran.code == Some(3) && ran.out.contains(says), "{name}: {:?}: {}", ran.code, ran.out);
    }
}
