//! Files and frames as pictures, and what the reader makes of them.

use boxward::code::Gtin;
use boxward::picture::{Limits, Packing, decode, keepsake, luma_of_frame};
use boxward::reader::read;

use super::{FORMATS, Target, example};

pub const TARGET: Target = Target {
    name: "pictures",
    check,
    seeds,
    words: &["IHDR", "IDAT", "Exif\0\0", "II*\0", "NETSCAPE2.0", "VP8L", "ICCP"],
};

/// Little enough that a header that lies costs no seconds.
const LIMITS: Limits = Limits { max_bytes: 1 << 20, max_pixels: 400_000, max_unpacked_bytes: 4 << 20 };

fn check(bytes: &[u8]) {
    if let Ok(picture) = decode(bytes, &LIMITS) {
        assert!(picture.width() * picture.height() <= LIMITS.max_pixels as usize);
        for symbol in read(&picture) {
            let again: Gtin = symbol.code.gtin.to_string().parse().expect("a code that its check refuses");
            assert_eq!(again, symbol.code.gtin);
            assert!(symbol.corners.iter().flatten().all(|px| px.is_finite()) && symbol.module_px.is_finite());
        }
        if let Ok(kept) = keepsake(bytes, &LIMITS) {
            let kept = decode(&kept, &Limits::default()).expect("a kept photo is whole");
            assert!(kept.width().max(kept.height()) <= 1200);
        }
    }
    let size = [bytes.len() % 37, bytes.len() % 23];
    for packing in [Packing::Mjpeg, Packing::Yuyv, Packing::Nv12, Packing::Grey] {
        if let Ok(frame) = luma_of_frame(bytes, packing, size) {
            assert!(packing == Packing::Mjpeg || [frame.width(), frame.height()] == size);
        }
    }
}

fn seeds() -> Vec<Vec<u8>> {
    FORMATS.iter().map(|name| example(&format!("formats/{name}"))).collect()
}
