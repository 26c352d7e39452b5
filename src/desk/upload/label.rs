//! What an uploaded photo is called.

/// Longer names are cut: they are read by people.
const LONGEST: usize = 100;

/// The last component of a name, whichever way its folders are parted, without control characters and those that turn the
/// direction of writing (Unicode Standard Annex 9, table 1). It is shown and recorded, and never looked up as a file.
pub(super) fn label(given: &str) -> String {
    let last = given.rsplit(['/', '\\']).next().unwrap_or_default();
    let turns = |c: &char| matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let kept: String = last.chars().filter(|c| !c.is_control() && !turns(c)).take(LONGEST).collect();
    match kept.trim() {
        "" | "." | ".." => "photo".to_owned(),
        name => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_a_label_and_no_path() {
        for (given, kept) in [
            ("IMG_0412.jpg", "IMG_0412.jpg"),
            ("../../etc/passwd", "passwd"),
            ("/etc/passwd", "passwd"),
            ("C:\\photos\\x.jpg", "x.jpg"),
            ("a/..", "photo"),
            ("..\\.", "photo"),
            ("", "photo"),
            ("folder/", "photo"),
            ("a\0b\r\nc\u{7f}.jpg", "abc.jpg"),
            ("exe.\u{202e}gpj", "exe.gpj"),
            ("  夜の船 ½.jpg ", "夜の船 ½.jpg"),
            ("<b>&amp;\".jpg", "<b>&amp;\".jpg"),
        ] {
            assert_eq!(label(given), kept, "{given:?}");
        }
        assert_eq!(label(&"x".repeat(10_000)).len(), LONGEST);
    }
}
