//! Bytes to text: what spreadsheets write when they export.

use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};

/// The text of a file: by its byte-order mark; else UTF-8 if it is that; else Windows-1252, which spreadsheets of the West
/// write when nobody says otherwise (common practice). `None` if it is no text.
pub(super) fn decoded(bytes: &[u8]) -> Option<String> {
    // A mark, where there is one, decides (UTF-8, UTF-16LE, UTF-16BE).
    if let Some((encoding, mark)) = Encoding::for_bom(bytes) {
        let (text, broken) = encoding.decode_without_bom_handling(&bytes[mark..]);
        return (!broken).then(|| text.into_owned());
    }
    if bytes.contains(&0) {
        return None;
    }
    let encoding = if std::str::from_utf8(bytes).is_ok() { UTF_8 } else { WINDOWS_1252 };
    Some(encoding.decode_without_bom_handling(bytes).0.into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_spreadsheets_write_is_read() {
        // The bytes are those of the encodings' own tables: the Unicode Standard, chapter 3 (UTF-8 and UTF-16 with marks);
        // the WHATWG Encoding Standard, index windows-1252 (0x80 is the euro sign, 0x92 an apostrophe).
        for (bytes, text) in [
            (&b"Cr\xc3\xa8me"[..], "Crème"),
            (b"\xef\xbb\xbfCr\xc3\xa8me", "Crème"),
            (b"\xff\xfeC\0\xe8\0", "Cè"),
            (b"\xfe\xff\0C\0\xe8", "Cè"),
            (b"Cr\xe8me 3 \x80, Ferryman\x92s", "Crème 3 €, Ferryman\u{2019}s"),
            (b"", ""),
        ] {
            assert_eq!(decoded(bytes).as_deref(), Some(text));
        }
        assert_eq!(decoded(b"PNG\0\0\x01"), None);
        assert_eq!(decoded(b"\xff\xfe\x00\xd8"), None, "half a surrogate pair");
    }
}
