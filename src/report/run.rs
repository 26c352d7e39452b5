//! The checklist of a title's run, to carry along a stand of back issues.

use maud::{Markup, html};

use super::page::page;
use crate::collection::{Checklist, Entry};

const STYLE: &str = "
.run { list-style: none; margin: 0; padding: 0; columns: 9rem; column-gap: 1.5rem; }
.run li { padding: .1rem 0; } .run .missing { font-weight: 600; }
.box { display: inline-block; width: 1em; height: 1em; border: 2px solid; border-radius: 3px; line-height: .8em;
  text-align: center; margin-right: .5em; vertical-align: -.15em; overflow: hidden; }
.owned .box { color: var(--here); }
";

/// A page with the checklists of one or more titles; `asked` is what was asked for.
#[must_use]
pub fn run_page(asked: &str, lists: &[Checklist]) -> String {
    let title = match lists {
        [list] => format!("Run of {}", list.title.name),
        _ => format!("Runs of '{}'", asked.trim()),
    };
    let body = html! {
        p.lead { "An open box is an issue that is missing between the lowest and the highest number owned." }
        @for list in lists { (section(list)) }
    };
    page(&title, STYLE, &body)
}

fn section(list: &Checklist) -> Markup {
    let title = &list.title;
    html! {
        section {
            h2 {
                (title.name)
                @if !title.volume.is_empty() { ", volume " (title.volume) }
                @if let Some(year) = title.year { " (" (year) ")" }
                @if let Some(publisher) = &title.publisher { ", " (publisher) }
            }
            p.note {
                (list.owned_issues) " owned, " (list.missing_issues) " missing"
                @if let Some((first, last)) = list.first.zip(list.last) { " from " (first) " to " (last) }
            }
            ul.run { @for entry in list.lines() { (line(&entry)) } }
        }
    }
}

fn line(entry: &Entry) -> Markup {
    match entry {
        Entry::Owned { number, copies } => html! {
            li.owned {
                span.box aria-hidden="true" { "✓" }
                @if number.is_empty() { "whole book" } @else { (number) }
                @if *copies > 1 { " (" (copies) " copies)" }
                span.unseen { " owned" }
            }
        },
        Entry::Missing { from, to } => html! {
            li.missing {
                span.box aria-hidden="true" {}
                (from) @if from != to { "–" (to) }
                span.unseen { " missing" }
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::collection::{Title, TitleId};

    #[test]
    fn a_titles_markup_is_shown_as_it_is_written() {
        let title = Title {
            id: TitleId::new(1),
            publisher: Some("Paper & <b>Ink</b>".to_owned()),
            name: "<script>alert('x')</script>".to_owned(),
            volume: "\"2\"".to_owned(),
            year: None,
            layout: None,
            issue_base: 0,
        };
        let page =
            run_page("x", &[Checklist::new(title, &[("<i>1</i>".to_owned(), None, 2), ("4".to_owned(), Some(4), 1)])]);
        assert!(!page.contains("<script") && !page.contains("<b>") && !page.contains("<i>"));
        for shown in
            ["&lt;script&gt;alert('x')&lt;/script&gt;", "Paper &amp; &lt;b&gt;Ink", "&lt;i&gt;1&lt;/i&gt; (2 copies)"]
        {
            assert!(page.contains(shown), "{shown}:\n{page}");
        }
    }
}
