//! What only the desk and its person know: drawn anew at every start, never written to the disk.

use std::fmt;

use sha2::{Digest, Sha256};

/// 256 random bits, as 64 hexadecimal digits.
#[derive(Clone)]
pub(super) struct Secret(String);

impl Secret {
    /// A new one from the system's source of randomness.
    pub(super) fn draw() -> Result<Self, getrandom::Error> {
        let mut bytes = [0_u8; 32];
        getrandom::fill(&mut bytes)?;
        Ok(Self(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// Whether `given` is it. Hashes are compared, so that the time this takes says nothing about how much was right.
    pub(super) fn is(&self, given: &str) -> bool {
        Sha256::digest(&self.0) == Sha256::digest(given)
    }

    /// As it goes into a link, a cookie or a form.
    pub(super) fn text(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_is_drawn_anew_and_not_shown() {
        let [one, two] = [Secret::draw().unwrap(), Secret::draw().unwrap()];
        assert_eq!(one.text().len(), 64);
        assert!(one.is(one.text()) && !one.is(two.text()) && !one.is("") && !one.is(&one.text()[..63]));
        assert!(!format!("{one:?}").contains(one.text()));
    }
}
