//! The walk along the boxes, to carry along: one page a box, in large type.

use maud::{Markup, html};

use super::page::page;
use super::wall::wall_markup;
use crate::filing::{NamedCopy, Sheet, SheetBox, SheetRun};

const STYLE: &str = "
.at { font-size: 1.35rem; line-height: 1.45; } .at h2 { font-size: 2.2rem; } .at h3 { font-size: 1.35rem; margin: 1rem 0 .3rem; }
.at ul { list-style: none; margin: 0; padding: 0; } .at li { padding: .12rem 0; }
.tick { display: inline-block; width: .9em; height: .9em; border: 2px solid; border-radius: 3px; margin-right: .6em;
  vertical-align: -.08em; }
.between { color: var(--dim); margin: 0; } .new { color: var(--one); font-weight: 600; }
.seal { color: var(--dim); font-size: .85em; }
.wall svg { max-width: 100%; height: auto; }
@media print { .at { break-before: page; font-size: 16pt; } .at h2 { font-size: 26pt; } }
";

/// A page with what is done at each box.
#[must_use]
pub fn walk_page(sheet: &Sheet) -> String {
    let cost = sheet.cost;
    let body = html! {
        p.lead {
            (cost.to_file) " to file, " (cost.moved) " to move"
            @if cost.new_boxes > 0 { ", new boxes: " (cost.new_boxes) }
            @if cost.splits > 0 { ", split titles: " (cost.splits) }
        }
        p.note {
            "Full boxes are heavy: lift them with care, do not stack more cardboard boxes than their maker allows, and keep them "
            "off bare floors and outside walls."
        }
        section.wall { h2 { "The wall" } (wall_markup(&sheet.wall, |_| None)) }
        @for shelf in &sheet.boxes { section.at { h2 { (shelf.label) } (box_markup(shelf)) } }
    };
    page("The walk along the boxes", STYLE, &body)
}

/// What is done at one box, below a heading that names it.
pub fn box_markup(shelf: &SheetBox) -> Markup {
    html! {
        p.note {
            "row " (shelf.place.row) ", column " (shelf.place.column)
            @if !shelf.note.is_empty() { "; " (shelf.note) }
            "; " (shelf.percent_before) " % full, then " (shelf.percent_after) " %"
        }
        @if let Some(kind) = shelf.new_box { p.new { "Put a " (kind) " box here and write its label on it." } }
        @if !shelf.take_out.is_empty() {
            h3 { "Take out" }
            ul {
                @for taken in &shelf.take_out {
                    li { (tick()) (copy_markup(&taken.copy)) " → " (taken.to) }
                }
            }
        }
        @for run in &shelf.put_in { (put_in(run)) }
    }
}

fn put_in(run: &SheetRun) -> Markup {
    html! {
        h3 { @if run.new_divider { span.new { "New divider: " } } (run.divider) }
        p.between {
            @match (&run.after, &run.before) {
                (Some(after), Some(before)) => { "between " (copy_markup(after)) " and " (copy_markup(before)) }
                (Some(after), None) => { "behind " (copy_markup(after)) ", at the end" }
                (None, Some(before)) => { "at the front, before " (copy_markup(before)) }
                (None, None) => { "into the empty box" }
            }
        }
        ul {
            @for put in &run.copies {
                li {
                    (tick()) (copy_markup(&put.copy))
                    @if let Some(from) = &put.from { " (from " (from) ")" }
                    @if put.seal { span.seal { " seal the bag" } }
                }
            }
        }
    }
}

fn tick() -> Markup {
    html! { span.tick aria-hidden="true" {} }
}

/// A copy in a list where its title is plain enough.
pub fn copy_markup(copy: &NamedCopy) -> Markup {
    html! {
        (copy.title.name) @if !copy.issue.is_empty() { " " (copy.issue) }
        @if copy.cover != "1" { ", cover " (copy.cover) }
        @if copy.printing != 1 { ", printing " (copy.printing) }
    }
}
