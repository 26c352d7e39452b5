//! The wall of boxes as a picture: how full each is, and what the walk does there.

use maud::html;

use super::page::START;
use crate::filing::WallBox;

/// Units of the picture.
const WIDTH: usize = 150;
const HEIGHT: usize = 74;
const GAP: usize = 12;
const BAR: usize = 130;

/// Colours hold on white paper and on a dark ground: each box brings its own ground.
const STYLE: &str = "
.b { fill: #fffefb; stroke: #5f594f; stroke-width: 1.5 } .n { stroke: #1f5fa8; stroke-dasharray: 5 3 }
.r { fill: #e6e1d5 } .f { fill: #17683f } .m { fill: #9a5a08 } .o { fill: #a33a29 }
text { font: 12px system-ui, sans-serif; fill: #23211d } .s { font-size: 10px; fill: #5f594f }";

/// A file of its own.
#[must_use]
pub fn wall_picture(boxes: &[WallBox]) -> String {
    format!("{START} -->\n{}\n", picture(boxes))
}

/// Rows from the top down, columns from the left; boxes in one place stand side by side.
pub(super) fn picture(boxes: &[WallBox]) -> String {
    let mut rows: Vec<Vec<&WallBox>> = Vec::new();
    let mut last = None;
    for shelf in boxes {
        if last.replace(shelf.place.row) != Some(shelf.place.row) {
            rows.push(Vec::new());
        }
        rows.last_mut().into_iter().for_each(|row| row.push(shelf));
    }
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0).max(1);
    let (width, height) = (columns * (WIDTH + GAP) + GAP, rows.len().max(1) * (HEIGHT + GAP) + GAP);
    let body = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width} {height}")) width=(width) height=(height) role="img" {
            title { "The wall of boxes: how full each is, and what the walk does there" }
            style { (STYLE) }
            @for (y, row) in rows.iter().enumerate() {
                @for (x, shelf) in row.iter().enumerate() {
                    g transform=(format!("translate({} {})", GAP + x * (WIDTH + GAP), GAP + y * (HEIGHT + GAP))) {
                        rect class=(if shelf.new_box { "b n" } else { "b" }) width=(WIDTH) height=(HEIGHT) rx="4" {}
                        text x="10" y="20" { (shortened(&shelf.label)) }
                        (bar(shelf))
                        text class="s" x="10" y="64" { (words(shelf)) }
                    }
                }
            }
        }
    };
    body.into_string()
}

fn bar(shelf: &WallBox) -> maud::Markup {
    let length = |percent: u32| (percent.min(100) as usize) * BAR / 100;
    let (kept, after) = (length(shelf.percent_before.min(shelf.percent_after)), length(shelf.percent_after));
    let class = if shelf.percent_after > 100 { "o" } else { "m" };
    html! {
        rect class="r" x="10" y="30" width=(BAR) height="16" rx="2" {}
        rect class="f" x="10" y="30" width=(kept) height="16" rx="2" {}
        @if after > kept || shelf.percent_after > 100 {
            rect class=(class) x=(10 + kept) y="30" width=(after.saturating_sub(kept).max(2)) height="16" {}
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
        assert!(!picture.contains("<script") && picture.contains("&lt;script&gt;&amp;&quot;"));
        assert!(picture.contains("50 → 60 %, 3 in") && picture.contains("class=\"o\""));
    }
}
