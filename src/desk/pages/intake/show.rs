//! The page: a session as it runs, and the form that begins one.

use maud::{Markup, html};

use super::{NO_PICTURES, THE_FILM};
use crate::collection::Purchase;
use crate::desk::board::Seen;
use crate::desk::pages::photos;
use crate::desk::view::View;
use crate::source::camera::{Camera, CameraError};
use crate::workflow::{Outline, Told, Tone, messages, purchase_in_words};

/// The form that begins a session, and what the last one came to.
pub(super) fn beginning(
    view: &View,
    cameras: &Result<Vec<Camera>, CameraError>,
    film: bool,
    last: Option<&Seen>,
) -> Markup {
    let cameras = cameras.as_deref();
    let bought =
        Purchase { acquired: Some(view.today()), ..last.map(|seen| seen.purchase.clone()).unwrap_or_default() };
    html! {
        @if let Some(seen) = last {
            section {
                h2 { "The last session" }
                p { strong { "Over" } ": " (seen.over.as_deref().unwrap_or_default()) "." }
                p { (seen.counted) }
                (books(&seen.lines, true))
            }
        }
        section {
            h2 { "Begin a session" }
            p { "Hold one book after the other to the camera, shoot it with a handheld scanner, or type its digits. Each is safe on the disk as soon as it is told." }
            @if let Err(error) = cameras {
                p.doubt { (no_camera(error)) " A handheld scanner and typed digits work without one." }
            }
            (view.form("/intake/begin", html! {
                label { "Pictures from"
                    select name="pictures" {
                        @if film { option value=(THE_FILM) { "the film" } }
                        @for camera in cameras.unwrap_or_default() { option value=(camera.number) { (camera.name) " (" (camera.number) ")" } }
                        option value=(NO_PICTURES) { "nowhere: a handheld scanner or typed digits" }
                    }
                }
                (bought_fields(&bought, false))
                button { "Begin" }
            }))
        }
        (photos::panel(view))
        p { a href="/phone" { "Take photos with a phone" } }
    }
}

/// A session that runs, with all that steers it.
pub(super) fn running(view: &View, seen: &Seen) -> Markup {
    let button = |action: &str, key: &str, body: Markup| {
        view.form(action, html! { button data-key=(key) aria-keyshortcuts=(key) { (body) " " kbd { (key) } } })
    };
    html! {
        div.intake data-events="/intake/events" {
            (picture(seen))
            div {
                (told(seen, true))
                div data-here {
                    (view.form("/intake/line", html! {
                        label for="line" { "Digits, typed or from a handheld scanner; Enter takes them" }
                        div.row {
                            input #line name="line" data-keys autofocus autocomplete="off" spellcheck="false" enterkeyhint="done";
                            button { "Take" }
                        }
                    }))
                }
                div.row {
                    div.row data-here {
                        (button("/intake/undo", "u", html! { "Undo last" }))
                        (button("/intake/drop", "d", html! { "Drop last" }))
                        (button("/intake/pause", "p", html! { span #pausing data-part { @if seen.paused { "Go on" } @else { "Pause" } } }))
                    }
                    (button("/intake/end", "q", html! { "End" }))
                }
                (comfort())
                (list(seen, true))
            }
        }
        section {
            h2 { "Next shop or price" }
            div data-here {
                (view.form("/intake/next", html! {
                    div #bought data-part { (bought_fields(&seen.purchase, true)) }
                    button { "From now on" }
                }))
            }
        }
        (photos::panel(view))
        p { a href="/phone" { "Take photos with a phone" } }
    }
}

/// A session that is steered in its terminal.
pub(super) fn watched(seen: Option<&Seen>) -> Markup {
    html! {
        @if let Some(seen) = seen {
            div.intake data-events="/intake/events" {
                (picture(seen))
                div { (told(seen, false)) (comfort()) (list(seen, false)) }
            }
        }
        p.dim { "This session is steered in its terminal." }
    }
}

/// Why there is no camera to choose.
fn no_camera(error: &CameraError) -> String {
    match error {
        CameraError::NotBuiltIn => "This boxward was built without cameras.".to_owned(),
        CameraError::NoCamera => {
            "There is no camera that gives pictures: plug one in and load this page again.".to_owned()
        }
        error => format!("No camera can be used: {}.", messages(error).join(": ")),
    }
}

/// What scripts make easier, and what is there without them.
fn comfort() -> Markup {
    html! {
        p #trouble .bad role="alert" {}
        div.row {
            button #sound .plain type="button" hidden { "Tones: on" }
            a #again .button .plain href="/intake" { "Load again" }
        }
    }
}

fn picture(seen: &Seen) -> Markup {
    html! {
        div {
            div #picture data-part {
                @if let Some(([width, height], number, outlines)) = &seen.frame {
                    div.picture {
                        img src={ "/intake/frame.jpg?n=" (number) } width=(width) height=(height) alt="What the camera sees";
                        svg viewBox={ "0 0 " (width) " " (height) } aria-hidden="true" {
                            @for outline in outlines { polygon points=(points(outline)) {} }
                        }
                    }
                } @else { p.dim { "No picture yet." } }
            }
            p #camera data-part class=[seen.trouble.as_ref().map(|_| "bad")] {
                (seen.trouble.as_ref().unwrap_or(&seen.camera))
            }
        }
    }
}

fn points(outline: &Outline) -> String {
    outline.map(|[x, y]| format!("{x:.1},{y:.1}")).join(" ")
}

/// The last word, and the count.
fn told(seen: &Seen, links: bool) -> Markup {
    html! {
        div #word .word role="status" data-part { @if let Some(last) = seen.lines.first() { p { (one(last, links)) } } }
        p #counts data-part {
            (seen.counted) @if !seen.counted.is_empty() { ". " }
            "Bought: " (purchase_in_words(&seen.purchase)) "."
            @if seen.paused { " " strong { "Paused." } }
            @if !seen.typed.is_empty() { " Last line: " (seen.typed) "." }
            @if let Some(how) = &seen.over { " " strong { "Over" } ": " (how) "." }
        }
    }
}

fn list(seen: &Seen, links: bool) -> Markup {
    html! {
        h2 { "Last told" }
        div #books data-part { (books(&seen.lines, links)) }
    }
}

fn books(lines: &[Told], links: bool) -> Markup {
    html! {
        @if lines.is_empty() { p.dim { "None yet." } }
        @else { ol.books { @for line in lines { li class=[line.tone.map(tone)] { (one(line, links)) } } } }
    }
}

fn one(line: &Told, links: bool) -> Markup {
    html! {
        strong { (line.word) } @if !line.text.is_empty() { " " (line.text) }
        @if let Some(item) = line.waits.filter(|_| links) { " " a href={ "/queue/" (item) } { "item " (item) } }
    }
}

fn tone(tone: Tone) -> &'static str {
    match tone {
        Tone::Good => "good",
        Tone::Look => "doubt",
        Tone::Failed => "bad",
    }
}

/// What books are bought for. `key`: a key leads to the first field.
fn bought_fields(bought: &Purchase, key: bool) -> Markup {
    let text = |value: Option<String>| value.unwrap_or_default();
    html! {
        label { "Shop " @if key { kbd { "n" } }
            input name="shop" value=(text(bought.shop.clone())) maxlength="200" data-key=[key.then_some("n")] aria-keyshortcuts=[key.then_some("n")];
        }
        label { "Day bought" input name="day" type="date" value=(text(bought.acquired.map(|day| day.to_string()))); }
        label { "Cover price, such as 3.99 USD: for books whose code says none"
            input name="cover_price" value=(text(bought.cover_price.map(|price| price.to_string()))) maxlength="40";
        }
        label { "Discount, such as 10 %" input name="less" value=(text(bought.discount.map(|less| less.to_string()))) maxlength="40"; }
    }
}
