//! Bytes as text, so that a picture stands in the page itself.

use std::fmt::{self, Display, Write};

/// Bytes in Base64. Source: RFC 4648, section 4.
pub struct Base64<'a>(pub &'a [u8]);

impl Display for Base64<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        for three in self.0.chunks(3) {
            let bits = (0..3).fold(0u32, |bits, i| bits << 8 | u32::from(three.get(i).copied().unwrap_or(0)));
            for i in 0..4 {
                let letter = LETTERS[(bits >> (18 - 6 * i) & 63) as usize];
                f.write_char(if i <= three.len() { char::from(letter) } else { '=' })?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference: RFC 4648, section 10.
    #[test]
    fn base_64_is_the_standards() {
        for (bytes, text) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(Base64(bytes.as_bytes()).to_string(), text);
        }
        assert_eq!(Base64(&[0xfb, 0xff, 0xfe]).to_string(), "+//+");
    }
}
