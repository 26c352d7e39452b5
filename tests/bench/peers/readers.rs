//! The four readers, each asked for UPC-A, UPC-E, EAN-13 and EAN-8 with add-ons, at its most thorough. Light bars on
//! dark paper are looked for by none.

use boxward::code::{Gtin, upc_e_expand};
use boxward::picture::Luma;
use rxing::common::{GlobalHistogramBinarizer, HybridBinarizer};
use rxing::oned::MultiFormatUPCEANReader;
use rxing::{
    BinaryBitmap, DecodeHints, Luma8LuminanceSource, RXingResult, RXingResultMetadataType, RXingResultMetadataValue,
};
use zbar_rust::{ZBarConfig, ZBarImageScanner, ZBarSymbolType};
use zxingcpp::{BarcodeFormat, EanAddOnSymbol, ImageFormat, ImageView, TextMode};

/// A code that a reader gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The main code as 13 digits, or as the reader gave it if those are no GTIN.
    pub main: String,
    /// The add-on's digits, if any were given.
    pub add_on: Option<String>,
}

/// A reader.
pub struct Reader {
    /// As the tables call it.
    pub name: &'static str,
    /// Reads a picture.
    pub read: fn(&Luma) -> Vec<Answer>,
}

/// All that are compared, this project's first.
pub const READERS: [Reader; 4] = [
    Reader { name: "boxward", read: boxward },
    Reader { name: "rxing", read: rxing },
    Reader { name: "zbar", read: zbar },
    Reader { name: "zxing-cpp", read: zxing_cpp },
];

fn boxward(picture: &Luma) -> Vec<Answer> {
    let symbols = boxward::reader::read(picture);
    let answer = |s: &boxward::reader::Symbol| Answer {
        main: s.code.gtin.to_string(),
        add_on: s.code.add_on.read().map(|a| a.to_string()),
    };
    symbols.iter().map(answer).collect()
}

/// As its own documentation has it used: one binariser, then the other. It gives one code at most.
fn rxing(picture: &Luma) -> Vec<Answer> {
    let hints = DecodeHints { TryHarder: Some(true), ..DecodeHints::default() };
    let (width, height) = (picture.width() as u32, picture.height() as u32);
    let source = || Luma8LuminanceSource::new(picture.pixels().to_vec(), width, height).unwrap();
    let mut reader = MultiFormatUPCEANReader::new(&hints);
    let first =
        rxing::Reader::decode_with_hints(&mut reader, &mut BinaryBitmap::new(HybridBinarizer::new(source())), &hints);
    let result = first.or_else(|_| {
        let mut bitmap = BinaryBitmap::new(GlobalHistogramBinarizer::new(source()));
        rxing::Reader::decode_with_hints(&mut reader, &mut bitmap, &hints)
    });
    let add_on = |r: &RXingResult| match r.getRXingResultMetadata().get(&RXingResultMetadataType::UPC_EAN_EXTENSION) {
        Some(RXingResultMetadataValue::UpcEanExtension(digits)) => Some(digits.clone()),
        _ => None,
    };
    let answer = |r: RXingResult| Answer {
        main: thirteen(r.getText(), *r.getBarcodeFormat() == rxing::BarcodeFormat::UPC_E),
        add_on: add_on(&r),
    };
    result.ok().map(answer).into_iter().collect()
}

fn zbar(picture: &Luma) -> Vec<Answer> {
    use ZBarSymbolType::{ZBarEAN2, ZBarEAN5, ZBarEAN8, ZBarEAN13, ZBarNone, ZBarUPCA, ZBarUPCE};
    let mut scanner = ZBarImageScanner::new();
    scanner.set_config(ZBarNone, ZBarConfig::ZBarCfgEnable, 0).unwrap();
    for kind in [ZBarEAN2, ZBarEAN5, ZBarEAN8, ZBarUPCE, ZBarUPCA, ZBarEAN13] {
        scanner.set_config(kind, ZBarConfig::ZBarCfgEnable, 1).unwrap();
    }
    let found = scanner.scan_y800(picture.pixels(), picture.width() as u32, picture.height() as u32).unwrap();
    let text = |data: &[u8]| String::from_utf8_lossy(data).into_owned();
    let is_add_on = |kind| matches!(kind, ZBarEAN2 | ZBarEAN5);
    let (add_ons, mains): (Vec<_>, Vec<_>) = found.iter().partition(|f| is_add_on(f.symbol_type));
    // Its own rule for composites: one of each belong together, of more it says nothing.
    let add_on = match (&mains[..], &add_ons[..]) {
        ([_], [add_on]) => Some(text(&add_on.data)),
        _ => None,
    };
    let main = |f: &&zbar_rust::ZBarImageScanResult| thirteen(&text(&f.data), f.symbol_type == ZBarUPCE);
    mains.iter().map(|f| Answer { main: main(f), add_on: add_on.clone() }).collect()
}

fn zxing_cpp(picture: &Luma) -> Vec<Answer> {
    let view = ImageView::from_slice(picture.pixels(), picture.width(), picture.height(), ImageFormat::Lum).unwrap();
    let reader = zxingcpp::read()
        .formats([BarcodeFormat::EAN13, BarcodeFormat::EAN8, BarcodeFormat::UPCA, BarcodeFormat::UPCE])
        .ean_add_on_symbol(EanAddOnSymbol::Read)
        .text_mode(TextMode::Plain)
        .try_harder(true)
        .try_rotate(true)
        .try_downscale(true)
        .try_invert(false);
    // The text is the main code, a UPC-E expanded, and the add-on right behind it. (Its field for the add-on alone
    // can keep digits that the text of the same symbol does not have.)
    let answer = |code: &zxingcpp::Barcode| {
        let text = code.text();
        let length = if code.format() == BarcodeFormat::EAN8 { 8 } else { 13 };
        let (main, add_on) = text.split_at_checked(length).unwrap_or((&text, ""));
        Answer { main: thirteen(main, false), add_on: Some(add_on.to_owned()).filter(|a| !a.is_empty()) }
    };
    reader.from(&view).unwrap().iter().map(answer).collect()
}

/// A main code as the readers give it, as 13 digits.
fn thirteen(text: &str, is_upc_e: bool) -> String {
    let digits: Vec<u8> = text.bytes().map(|b| b.wrapping_sub(b'0')).collect();
    let gtin = match <&[u8; 8]>::try_from(&digits[..]) {
        Ok(eight) if is_upc_e => upc_e_expand(eight).ok(),
        _ => Gtin::from_digits(&digits).ok(),
    };
    gtin.map_or_else(|| text.to_owned(), |g| g.to_string())
}
