//! The frame of the desk's pages: where one is, what was just done, and how to get elsewhere.

use axum::http::header;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};

use super::assets::address;
use crate::store::{Run, RunKind};

/// The places of the desk, in the order in which a book passes through them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// All of it at a glance.
    Desk,
    /// Books come in.
    Intake,
    /// What waits for a person or for the collection.
    Queue,
    /// Titles, issues and copies.
    Collection,
    /// What is unread.
    Pile,
    /// The boxes, and the walk along them.
    Wall,
    /// What it costs.
    Money,
    /// What was done, and taking it back.
    Safety,
}

impl Place {
    const ALL: [Self; 8] =
        [Self::Desk, Self::Intake, Self::Queue, Self::Collection, Self::Pile, Self::Wall, Self::Money, Self::Safety];

    fn word(self) -> &'static str {
        match self {
            Self::Desk => "Desk",
            Self::Intake => "Intake",
            Self::Queue => "Queue",
            Self::Collection => "Collection",
            Self::Pile => "Reading pile",
            Self::Wall => "Wall of boxes",
            Self::Money => "Money",
            Self::Safety => "Settings and undo",
        }
    }

    fn path(self) -> &'static str {
        match self {
            Self::Desk => "/",
            Self::Intake => "/intake",
            Self::Queue => "/queue",
            Self::Collection => "/collection",
            Self::Pile => "/pile",
            Self::Wall => "/wall",
            Self::Money => "/money",
            Self::Safety => "/safety",
        }
    }
}

/// What the form before this page did.
#[derive(Debug)]
pub(super) struct Notice {
    pub(super) run: Run,
    pub(super) undo: Markup,
}

/// A whole page.
pub(super) struct Page(String);

impl IntoResponse for Page {
    fn into_response(self) -> Response {
        ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], self.0).into_response()
    }
}

/// A page at a place; `check` is the session's check token, for its scripts.
pub(super) fn page(place: Place, title: &str, check: &str, notice: Option<&Notice>, body: &Markup) -> Page {
    framed(
        title,
        Some(check),
        None,
        &html! {
            header.top {
                a.skip href="#main" { "To the content" }
                nav aria-label="Places" {
                    @for other in Place::ALL {
                        a href=(other.path()) aria-current=[(other == place).then_some("page")] { (other.word()) }
                    }
                }
            }
            main #main tabindex="-1" {
                h1 { (title) }
                @if let Some(Notice { run, undo }) = notice {
                    div.notice role="status" {
                        p {
                            "Run " (run.id) " (" (run.kind.word()) ") is "
                            @if run.undone_by.is_some() { "undone." } @else { "done." }
                        }
                        @if run.undone_by.is_none() {
                            @if run.kind == RunKind::Pile { p { "Seal the bag of what was read: it is " a href="/wall" { "to be filed" } "." } }
                            (undo)
                        }
                    }
                }
                (body)
            }
        },
    )
}

/// A page outside all places: an error.
pub(super) fn bare(title: &str, body: &Markup) -> Page {
    framed(title, None, None, &html! { main #main { h1 { (title) } (body) } })
}

/// The places of a phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PhonePlace {
    /// Taking photos.
    Photos,
    /// 'Do I own this?'.
    Have,
}

/// A page for a phone.
pub(super) fn phone(place: PhonePlace, title: &str, body: &Markup) -> Page {
    let at = |other| (other == place).then_some("page");
    framed(
        title,
        None,
        Some("phone"),
        &html! {
            header.top {
                a.skip href="#main" { "To the content" }
                nav aria-label="Places" {
                    a href="/" aria-current=[at(PhonePlace::Photos)] { "Photos" }
                    a href="/have" aria-current=[at(PhonePlace::Have)] { "Do I own this?" }
                }
            }
            main #main tabindex="-1" { h1 { (title) } (body) }
        },
    )
}

fn framed(title: &str, check: Option<&str>, class: Option<&str>, body: &Markup) -> Page {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                @if let Some(check) = check { meta name="boxward-check" content=(check); }
                title { (title) " – boxward" }
                link rel="stylesheet" href=(address("desk.css"));
                link rel="stylesheet" href=(address("photos.css"));
                link rel="icon" href=(address("icon.svg"));
                script type="module" src=(address("desk.js")) {}
            }
            body class=[class] { (body) }
        }
    };
    Page(page.into_string())
}
