//! The frame of every page: one file that needs nothing else, light or dark, and fit to be printed.

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// A picture's address that holds the picture itself, `kind` being its media type. Source: RFC 2397.
#[must_use]
pub fn data_url(kind: &str, picture: &[u8]) -> String {
    format!("data:{kind};base64,{}", BASE64.encode(picture))
}

/// What every page begins with: only a file that does is ever written over.
pub const START: &str = "<!-- written by boxward";

/// Nothing is loaded and nothing runs, whatever got into the page (W3C, Content Security Policy Level 3).
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// Colours hold the contrast of 4.5 to 1 against their ground (W3C, WCAG 2.2, 1.4.3), on paper too.
const STYLE: &str = "
:root { color-scheme: light dark; --page: #f7f6f2; --card: #fffefb; --text: #23211d; --dim: #5f594f; --line: #d3cdbf;
  --here: #17683f; --away: #a33a29; --one: #1f5fa8; --two: #9a5a08; }
@media (prefers-color-scheme: dark) { :root { --page: #1b1a18; --card: #252320; --text: #ece8df; --dim: #b0aa9d;
  --line: #46423b; --here: #6cca98; --away: #f2907e; --one: #8abcf4; --two: #f0b05c; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--page); color: var(--text); font: 16px/1.5 system-ui, sans-serif; }
main { max-width: 62rem; margin: 0 auto; padding: 1.5rem 1rem 3rem; }
h1 { font-size: 1.6rem; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 1.15rem; margin: 0 0 .5rem; overflow-wrap: anywhere; }
.lead, .note, footer { color: var(--dim); }
.note, footer { font-size: .9rem; }
section { background: var(--card); border: 1px solid var(--line); border-radius: 8px; padding: 1rem; margin: 1rem 0; }
section > :last-child { margin-bottom: 0; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; padding: .3rem 0; }
th, td { padding: .2rem .6rem; text-align: left; vertical-align: top; border-top: 1px solid var(--line); }
th { color: var(--dim); font-weight: 500; }
td.number, th.number { text-align: right; white-space: nowrap; }
.unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap; }
@page { margin: 15mm; }
@media print {
  :root { color-scheme: light; --page: #fff; --card: #fff; --text: #000; --dim: #444; --line: #999;
    --here: #17683f; --away: #a33a29; --one: #1f5fa8; --two: #9a5a08; }
  body { font-size: 11pt; } main { max-width: none; padding: 0; }
  section { border: 0; padding: 0; } h2 { break-after: avoid; } tr, li, figure { break-inside: avoid; }
}
";

/// A page of this title; `style` is what it needs beyond the style of all pages.
pub(super) fn page(title: &str, style: &'static str, body: &Markup) -> String {
    framed(title, style, "", body)
}

/// A page that is allowed more than others: `more` goes into its policy.
pub(super) fn framed(title: &str, style: &'static str, more: &str, body: &Markup) -> String {
    let policy = if more.is_empty() { POLICY.to_owned() } else { format!("{POLICY}; {more}") };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(style)) }
            }
            body { main { h1 { (title) } (body) } }
        }
    };
    format!("{START} -->\n{}\n", page.into_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_a_text_stays_text() {
        let evil = "</title><script>alert(1)</script> & \"x\" 'y'";
        let page = page(evil, "", &html! { p title=(evil) { (evil) } });
        assert!(page.starts_with(START) && page.contains("<!DOCTYPE html>"));
        assert_eq!(page.matches("<script").count(), 0);
        // Title, heading, attribute and paragraph.
        assert_eq!(page.matches("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;x&quot;").count(), 4);
        assert_eq!(page.matches("</title>").count(), 1);
    }

    /// The lightness of a colour: W3C, WCAG 2.2, 'relative luminance'.
    fn luminance(colour: &str) -> f64 {
        let digits: String = match colour.len() {
            3 => colour.chars().flat_map(|c| [c, c]).collect(),
            _ => colour.to_owned(),
        };
        let part = |at: usize| {
            let value = f64::from(u8::from_str_radix(&digits[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
    }

    #[test]
    fn words_stand_out_from_their_ground() {
        // WCAG 2.2, 'contrast ratio': white on black is 21 to 1.
        let contrast = |a: &str, b: &str| {
            let (a, b) = (luminance(a), luminance(b));
            (a.max(b) + 0.05) / (a.min(b) + 0.05)
        };
        assert!((contrast("fff", "000") - 21.0).abs() < 1e-9);
        let themes: Vec<&str> = STYLE.split(":root {").skip(1).collect();
        assert_eq!(themes.len(), 3);
        for theme in themes {
            let value = |name: &str| {
                let rest = theme.split_once(&format!("--{name}: #")).unwrap().1;
                rest.split(';').next().unwrap()
            };
            for word in ["text", "dim", "here", "away", "one", "two"] {
                for ground in ["page", "card"] {
                    let ratio = contrast(value(word), value(ground));
                    assert!(ratio >= 4.5, "{word} on {ground}: {ratio:.2} in {theme}");
                }
            }
        }
    }
}
