//! What should stand in a box, to go through it with a pencil.

use maud::html;

use super::page::page;
use crate::filing::ShelfBox;

const STYLE: &str = "
.check { list-style: none; margin: 0; padding: 0; } .check li { padding: .1rem 0; break-inside: avoid; }
.check .tick { display: inline-block; width: .9em; height: .9em; border: 2px solid; border-radius: 3px; margin-right: .6em;
  vertical-align: -.08em; }
.check .mm { color: var(--dim); display: inline-block; min-width: 4.5em; }
";

/// A copy that should be there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoxCheck {
    /// How far from the front.
    pub mm: u32,
    /// The copy in words.
    pub words: String,
    /// Its divider.
    pub divider: String,
}

/// A page with what should stand in a box, from front to back.
#[must_use]
pub fn box_page(shelf: &ShelfBox, checks: &[BoxCheck]) -> String {
    let body = html! {
        p.lead { (checks.len()) " copies, row " (shelf.place.row) ", column " (shelf.place.column) }
        @if !shelf.note.is_empty() { p.note { (shelf.note) } }
        @for group in checks.chunk_by(|one, next| one.divider == next.divider) {
            section {
                h2 { (group[0].divider) }
                ul.check {
                    @for check in group {
                        li { span.tick aria-hidden="true" {} span.mm { (check.mm) " mm" } (check.words) }
                    }
                }
            }
        }
    };
    page(&shelf.label, STYLE, &body)
}
