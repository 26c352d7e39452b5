//! The wall of boxes as a picture: how full each is, and what the walk does there.

use maud::{Markup, html};

use super::page::START;
use crate::filing::WallBox;

/// Units of the picture. A box is as wide as its inner length says, and no narrower than its words.
const LEAST_WIDTH: usize = 150;
const HEIGHT: usize = 74;
const GAP: usize = 12;
/// Left and right of the bar.
const MARGIN: usize = 10;
const MM_PER_UNIT: f64 = 3.0;

/// A file of its own.
#[must_use]
pub fn wall_picture(boxes: &[WallBox]) -> String {
    format!("{START} -->\n{}\n", wall_markup(boxes, |_| None).into_string())
}

/// The wall inside a page: rows from the top down, columns from the left; boxes in one place stand side by side. `link` gives
/// the address that a box leads to. Colours are attributes, as a page whose policy allows no styles needs it, and hold on a
/// light and on a dark ground: each box brings its own.
pub fn wall_markup(boxes: &[WallBox], link: impl Fn(&WallBox) -> Option<String>) -> Markup {
    let rows: Vec<&[WallBox]> = boxes.chunk_by(|one, next| one.place.row == next.place.row).collect();
    let length = |row: &[WallBox]| row.iter().map(|shelf| width(shelf) + GAP).sum::<usize>();
    let width = rows.iter().map(|row| length(row)).max().unwrap_or(LEAST_WIDTH) + GAP;
    let height = rows.len().max(1) * (HEIGHT + GAP) + GAP;
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width} {height}")) width=(width) height=(height)
            font-family="system-ui, sans-serif" font-size="12" fill="#23211d" role="group"
            aria-label="The wall of boxes: how full each is, and what the walk does there" {
            @for (y, row) in rows.iter().enumerate() {
                @for (x, shelf) in places(row) {
                    g transform=(format!("translate({x} {})", GAP + y * (HEIGHT + GAP))) {
                        @match link(shelf) {
                            Some(to) => { a href=(to) { (drawn(shelf)) } }
                            None => { (drawn(shelf)) }
                        }
                    }
                }
            }
        }
    }
}

/// Each box of a row with where it begins.
fn places(row: &[WallBox]) -> impl Iterator<Item = (usize, &WallBox)> {
    row.iter().scan(GAP, |x, shelf| {
        let at = *x;
        *x += width(shelf) + GAP;
        Some((at, shelf))
    })
}

fn bar_length(shelf: &WallBox) -> usize {
    (f64::from(shelf.inner_mm) / MM_PER_UNIT).round() as usize
}

fn width(shelf: &WallBox) -> usize {
    (bar_length(shelf) + 2 * MARGIN).max(LEAST_WIDTH)
}

fn drawn(shelf: &WallBox) -> Markup {
    let (edge, dashes) = if shelf.new_box { ("#1f5fa8", "5 3") } else { ("#5f594f", "none") };
    html! {
        title { (shelf.label) ": " (words(shelf)) }
        rect width=(width(shelf)) height=(HEIGHT) rx="4" fill="#fffefb" stroke=(edge) stroke-width="1.5"
            stroke-dasharray=(dashes) {}
        text x=(MARGIN) y="20" { (shortened(&shelf.label)) }
        (bar(shelf))
        text x=(MARGIN) y="64" font-size="10" fill="#5f594f" { (words(shelf)) }
    }
}

fn bar(shelf: &WallBox) -> Markup {
    let whole = bar_length(shelf);
    let length = |percent: u32| percent.min(100) as usize * whole / 100;
    let (kept, after) = (length(shelf.percent_before.min(shelf.percent_after)), length(shelf.percent_after));
    let colour = if shelf.percent_after > 100 { "#a33a29" } else { "#9a5a08" };
    html! {
        rect x=(MARGIN) y="30" width=(whole) height="16" rx="2" fill="#e6e1d5" {}
        rect x=(MARGIN) y="30" width=(kept) height="16" rx="2" fill="#17683f" {}
        @if after > kept || shelf.percent_after > 100 {
            rect x=(MARGIN + kept) y="30" width=(after.saturating_sub(kept).max(2)) height="16" fill=(colour) {}
        }
    }
}

fn words(shelf: &WallBox) -> String {
    let moves = match (shelf.put_in, shelf.take_out) {
        (0, 0) => String::new(),
        (put, 0) => format!(", {put} in"),
        (0, take) => format!(", {take} out"),
        (put, take) => format!(", {put} in, {take} out"),
    };
    match (shelf.percent_before, shelf.percent_after) {
        (before, after) if before == after => format!("{after} %{moves}"),
        (before, after) => format!("{before} → {after} %{moves}"),
    }
}

/// A label that fits over its bar.
fn shortened(label: &str) -> String {
    if label.chars().count() <= 20 { label.to_owned() } else { label.chars().take(19).chain(['…']).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filing::{Place, Purpose};

    fn shelf(label: &str, row: u32, column: u32, after: u32) -> WallBox {
        WallBox {
            label: label.to_owned(),
            place: Place { row, column, turn: 0 },
            inner_mm: 375,
            purpose: Purpose::Rest,
            percent_before: 50,
            percent_after: after,
            put_in: 3,
            take_out: 0,
            new_box: false,
        }
    }

    #[test]
    fn each_box_is_drawn_once_and_a_label_stays_text() {
        let boxes = [shelf("A", 1, 1, 60), shelf("<script>&\"", 1, 2, 50), shelf("C", 2, 1, 120)];
        let picture = wall_picture(&boxes);
        assert!(picture.starts_with(START) && picture.contains("<svg xmlns=\"http://www.w3.org/2000/svg\""));
        assert_eq!(picture.matches("<g ").count(), 3);
        assert!(!picture.contains("style"), "a page's policy allows none");
        assert!(!picture.contains("<script") && picture.contains("&lt;script&gt;&amp;&quot;"));
        let linked = wall_markup(&boxes, |shelf| Some(format!("/x?{}", shelf.place.row))).into_string();
        assert_eq!(linked.matches("<a href=\"/x?").count(), 3);
        assert!(picture.contains("50 → 60 %, 3 in") && picture.contains("#a33a29"));
    }

    #[test]
    fn a_box_is_as_wide_as_its_length_says() {
        let long = WallBox { inner_mm: 750, ..shelf("B", 1, 2, 50) };
        assert_eq!((bar_length(&shelf("A", 1, 1, 50)), bar_length(&long)), (125, 250));
        let row = [shelf("A", 1, 1, 50), long.clone(), shelf("C", 1, 3, 50)];
        let starts: Vec<_> = places(&row).map(|(x, _)| x).collect();
        assert_eq!(starts, [GAP, GAP + 150 + GAP, GAP + 150 + GAP + 270 + GAP]);
        assert!(wall_picture(&row).contains("width=\"250\""));
    }
}
