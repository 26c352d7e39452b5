//! What a photo costs: decoding its JPEG, reading it, and rxing's own search on the same pictures in the same run.
//!
//! `cargo bench --bench reading`. Quote ratios of medians: machines differ and are noisy.

use std::hint::black_box;
use std::path::{Path, PathBuf};

use boxward::picture::{Limits, Luma, load};
use boxward::reader::read;
use criterion::{Criterion, criterion_group, criterion_main};
use rxing::common::{GlobalHistogramBinarizer, HybridBinarizer};
use rxing::oned::MultiFormatUPCEANReader;
use rxing::{BinaryBitmap, DecodeHints, Luma8LuminanceSource, Reader};

fn photo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name)
}

/// rxing as its own documentation has it used: try harder, one binariser, then the other.
fn rxing_alone(luma: &Luma) -> Option<String> {
    let hints = DecodeHints { TryHarder: Some(true), ..DecodeHints::default() };
    let source = || Luma8LuminanceSource::new(luma.pixels().to_vec(), luma.width() as u32, luma.height() as u32).ok();
    let mut reader = MultiFormatUPCEANReader::new(&hints);
    let first = reader.decode_with_hints(&mut BinaryBitmap::new(HybridBinarizer::new(source()?)), &hints);
    let result = match first {
        Ok(result) => result,
        Err(_) => {
            reader.decode_with_hints(&mut BinaryBitmap::new(GlobalHistogramBinarizer::new(source()?)), &hints).ok()?
        }
    };
    Some(result.getText().to_owned())
}

fn reading(c: &mut Criterion) {
    let pictures = [
        ("upright, 2 megapixels", "stack/photo-01.jpg"),
        ("tilted, 2 megapixels", "stack/photo-07.jpg"),
        ("upright, 12 megapixels", "stack/photo-15.jpg"),
        ("three books, 3 megapixels", "stack/photo-20.jpg"),
        ("unreadable, 2 megapixels", "stack/photo-21.jpg"),
        ("no symbol", "negatives/halftone.png"),
    ];
    for (name, file) in pictures {
        let mut group = c.benchmark_group(name);
        group.sample_size(10);
        let path = photo(file);
        let limits = Limits::default();
        let Ok(picture) = load(&path, &limits) else { panic!("{} can't be loaded", path.display()) };
        group.bench_function("load", |b| b.iter(|| load(black_box(&path), &limits)));
        group.bench_function("read", |b| b.iter(|| read(black_box(&picture))));
        group.bench_function("rxing alone", |b| b.iter(|| rxing_alone(black_box(&picture))));
        group.finish();
    }
}

criterion_group!(benches, reading);
criterion_main!(benches);
