//! A link as a QR code (ISO/IEC 18004), for a page and for a terminal.

use std::fmt::Write;

use maud::{Markup, html};
use qrcode::types::QrError;
use qrcode::{Color, QrCode};

/// Modules of the quiet zone around it (ISO/IEC 18004, 'quiet zone').
const QUIET: usize = 4;

/// Rows of modules from the top, true where they are dark, with the quiet zone.
fn modules(text: &str) -> Result<Vec<Vec<bool>>, QrError> {
    let code = QrCode::new(text)?;
    let (width, colours) = (code.width(), code.to_colors());
    let dark = |x: usize, y: usize| {
        let (x, y) = (x.wrapping_sub(QUIET), y.wrapping_sub(QUIET));
        x < width && y < width && colours[y * width + x] == Color::Dark
    };
    let side = width + 2 * QUIET;
    Ok((0..side).map(|y| (0..side).map(|x| dark(x, y)).collect()).collect())
}

/// The code as a picture; nothing if the text is too long for one.
pub(in crate::desk) fn svg(text: &str, label: &str) -> Markup {
    let Ok(rows) = modules(text) else { return html! {} };
    let mut path = String::new();
    for (y, row) in rows.iter().enumerate() {
        for (x, _) in row.iter().enumerate().filter(|(_, dark)| **dark) {
            let _ = write!(path, "M{x} {y}h1v1h-1z");
        }
    }
    let side = rows.len();
    html! {
        svg.qr xmlns="http://www.w3.org/2000/svg" viewBox={ "0 0 " (side) " " (side) } role="img" aria-label=(label) shape-rendering="crispEdges" {
            rect width=(side) height=(side) fill="#ffffff" {}
            path d=(path) fill="#000000" {}
        }
    }
}

/// The code in half blocks, for a terminal: two rows of modules a line. Without colours it is right on a dark ground.
#[must_use]
pub fn blocks(text: &str, coloured: bool) -> String {
    let Ok(rows) = modules(text) else { return String::new() };
    let mut lines = String::new();
    for pair in rows.chunks(2) {
        // Black on white, said outright, whatever the terminal's own colours are (ECMA-48, 8.3.117, SGR).
        let (begin, end) = if coloured { ("\x1b[30;107m", "\x1b[0m") } else { ("", "") };
        lines.push_str(begin);
        for (x, &upper) in pair[0].iter().enumerate() {
            let lower = pair.get(1).is_some_and(|row| row[x]);
            // What is written is ink: dark with colours, light without.
            lines.push(match (upper == coloured, lower == coloured) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            });
        }
        lines.push_str(end);
        lines.push('\n');
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_standards_example() {
        // ISO/IEC 18004, annex I: '01234567' as version 1-M; its first and seventh row, from memory of the worked example.
        let rows = modules("01234567").unwrap();
        let row = |y: usize| {
            rows[y + QUIET][QUIET..QUIET + 21].iter().map(|d| if *d { '#' } else { '.' }).collect::<String>()
        };
        assert_eq!(row(0), "#######..#.##.#######");
        assert_eq!(row(6), "#######.#.#.#.#######");
        assert!(rows[3].iter().all(|dark| !dark) && rows.len() == 29);
    }

    #[test]
    fn blocks_hold_two_rows_a_line() {
        let rows = modules("01234567").unwrap();
        for coloured in [false, true] {
            let text = blocks("01234567", coloured).replace("\x1b[30;107m", "").replace("\x1b[0m", "");
            let lines: Vec<Vec<char>> = text.lines().map(|line| line.chars().collect()).collect();
            assert_eq!((lines.len(), lines[0].len()), (15, 29));
            for (y, row) in rows.iter().enumerate() {
                for (x, &dark) in row.iter().enumerate() {
                    let ink = matches!((lines[y / 2][x], y % 2), ('█', _) | ('▀', 0) | ('▄', 1));
                    assert_eq!(ink == coloured, dark, "{x},{y}");
                }
            }
        }
    }
}
