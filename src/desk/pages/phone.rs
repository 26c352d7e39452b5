//! Letting phones in, and sending them away.

use std::sync::Arc;

use axum::Router;
use axum::response::{Html, IntoResponse};
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use crate::desk::frame::Place;
use crate::desk::phone::{Phones, Standing, svg};
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::workflow::words::count;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/phone", get(show))
        .route("/phone/door", get(again))
        .route("/phone/let-in", post(let_in))
        .route("/phone/away", post(away))
}

async fn show(view: View) -> Answer {
    let body = match view.phones() {
        Some(phones) => door(&view, phones),
        None => html! {
            p { "The desk was opened without phones. End it and open it again with" }
            p { code { "boxward desk --phone" } }
            p { "A phone in the same network then takes photos into the queue and answers 'do I own this?'." }
            (plainly())
        },
    };
    view.page(Place::Intake, "Phone", body).await
}

fn door(view: &View, phones: &Phones) -> Markup {
    html! {
        div data-follow="/phone/door" { (standing(phones)) }
        div.row {
            (view.form("/phone/let-in", html! { button { "Let in another phone" } }))
            (view.form("/phone/away", html! { button.plain { "Send all phones away" } }))
        }
        (plainly())
    }
}

/// How the door stands, in parts that the page's script asks for again.
fn standing(phones: &Phones) -> Markup {
    let (standing, link) = phones.standing();
    html! {
        p #standing role="status" {
            @match standing {
                Standing::Waits { .. } => { "Let the phone's camera look at this code, or type the link. It lets in one phone, once." }
                Standing::Used => { "A phone came in with the last link." }
                Standing::Late => { "Nobody came in with the last link in time." }
                Standing::Guessed => { strong.bad { "Too many wrong links were tried" } ", so nobody is let in. If it was not you, ask who else is in this network." }
                Standing::Closed => { "All phones were sent away." }
            }
        }
        div #code {
            @if let Some(link) = &link {
                (svg(link, "QR code of the link for the phone"))
                p.link { code { (link) } }
            }
            @if let Standing::Waits { seconds } = standing {
                p { "The link is good for " (count(seconds / 60 + 1, "minute")) " more." }
            }
        }
        p #in { @match phones.let_in() { 0 => { "No phone is in." } n => { (count(n, "phone")) " let in." } } }
    }
}

async fn again(view: View) -> Answer {
    Ok(Html(standing(phones(&view)?).into_string()).into_response())
}

fn plainly() -> Markup {
    html! {
        section {
            h2 { "Who can read along" }
            p { "The phone speaks plain HTTP with this machine: whoever is in the same network can read what it sends and shows, and could act in its name. Use it in a network that you trust, such as your own at home, not in a shop's or a hotel's." }
            p { "Through it, photos go into the queue and 'do I own this?' is answered; nothing else of the desk can be reached. All of it ends with the program." }
            p.dim { "If the phone finds nothing there: is it in the same network, and does this machine's firewall let it through?" }
        }
    }
}

#[derive(Debug, Deserialize)]
struct Back {
    #[serde(default)]
    back: String,
}

async fn let_in(view: View, Fields(asked): Fields<Back>) -> Answer {
    phones(&view)?.open().map_err(|error| Trouble::machine(&error))?;
    lead(&asked.back, None)
}

async fn away(view: View, Fields(asked): Fields<Back>) -> Answer {
    phones(&view)?.send_away().map_err(|error| Trouble::machine(&error))?;
    lead(&asked.back, None)
}

fn phones(view: &View) -> Result<&Arc<Phones>, Trouble> {
    view.phones().ok_or_else(|| Trouble::nothing_there("the desk was opened without phones; open it with --phone"))
}
