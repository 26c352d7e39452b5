//! The running intake: beginning a session, and steering it.

mod live;
mod show;

use std::sync::Arc;

use axum::Router;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use serde::Deserialize;

use crate::collection::Purchase;
use crate::desk::frame::{self, Place};
use crate::desk::running::{Act, Intake, Own, Running};
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{day, given};
use crate::source::camera::{Choice, Driver, Webcams};
use crate::source::handheld::is_packet;
use crate::workflow::Pictures;

/// Where the page is.
const HERE: &str = "/intake";
/// No scanner sends more in a packet, and nobody types more.
const LINE_LETTERS: usize = 200;

pub(super) fn routes() -> Router<Arc<Site>> {
    routes_to_watch()
        .route("/intake/begin", post(begin))
        .route("/intake/line", post(line))
        .route("/intake/undo", post(|view| act(view, Act::Undo)))
        .route("/intake/drop", post(|view| act(view, Act::Drop)))
        .route("/intake/pause", post(|view| act(view, Act::Pause)))
        .route("/intake/next", post(next))
        .route("/intake/end", post(end))
}

/// To look at only.
pub(super) fn routes_to_watch() -> Router<Arc<Site>> {
    Router::new()
        .route(HERE, get(page))
        .route("/intake/events", get(live::events))
        .route("/intake/frame.jpg", get(live::frame))
}

async fn page(view: View) -> Answer {
    let board = view.shared().intake().board();
    if let Some(board) = &board {
        board.look();
    }
    let seen = board.map(|board| board.seen());
    let own = match view.shared().intake() {
        Intake::Own(own) => own,
        Intake::Watched(_) => return Ok(frame::bare("Intake", &show::watched(seen.as_ref())).into_response()),
    };
    if let Some(seen) = seen.as_ref().filter(|seen| seen.over.is_none()) {
        let body = show::running(&view, seen);
        return view.page(Place::Intake, "Intake", body).await;
    }
    // A driver may take its time.
    let cameras = tokio::task::spawn_blocking(|| Webcams.list()).await.map_err(|error| Trouble::machine(&error))?;
    let body = show::beginning(&view, &cameras, own.film.is_some(), seen.as_ref());
    view.page(Place::Intake, "Intake", body).await
}

/// What books are bought for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Bought {
    shop: String,
    day: String,
    cover_price: String,
    less: String,
}

impl Bought {
    fn purchase(&self) -> Result<Purchase, Trouble> {
        let shop = self.shop.trim();
        Ok(Purchase {
            shop: (!shop.is_empty()).then(|| shop.to_owned()),
            acquired: day("day", &self.day)?,
            cover_price: given("cover price", &self.cover_price)?,
            discount: given("discount", &self.less)?,
        })
    }
}

/// Where pictures come from (a camera's number, or one of the words below), and what books are bought for.
#[derive(Debug, Deserialize)]
struct Begun {
    pictures: String,
    #[serde(flatten)]
    bought: Bought,
}

/// Nowhere.
const NO_PICTURES: &str = "none";
/// The film that the desk was opened on.
const THE_FILM: &str = "film";

async fn begin(view: View, Fields(Begun { pictures, bought }): Fields<Begun>) -> Answer {
    let own = own(&view)?;
    if is_packet(&bought.shop) {
        return Err(Trouble::data("shop: that is a code; begin the session first, then scan it"));
    }
    let purchase = bought.purchase()?;
    let pictures = match pictures.as_str() {
        NO_PICTURES => None,
        THE_FILM => {
            let film = own.film.clone().ok_or_else(|| Trouble::data("pictures: there is no film; choose a camera"))?;
            Some(Pictures::Film(film))
        }
        camera => {
            let number = camera.parse().map_err(|_| Trouble::data("pictures: choose one of the list"))?;
            Some(Pictures::Camera(Choice::Number(number)))
        }
    };
    let shared = Arc::clone(view.shared());
    let opened = tokio::task::spawn_blocking(move || shared.open_store()).await;
    let store = opened.map_err(|error| Trouble::machine(&error))??;
    if own.begin(store, purchase, pictures, view.shared().clock()) {
        lead(HERE, None)
    } else {
        Err(Trouble::data("a session runs already: end it first, or go on with it"))
    }
}

fn own(view: &View) -> Result<&Own, Trouble> {
    match view.shared().intake() {
        Intake::Own(own) => Ok(own),
        Intake::Watched(_) => Err(Trouble::nothing_there("this session is steered in its terminal")),
    }
}

/// The session that runs.
fn running(view: &View) -> Result<Arc<Running>, Trouble> {
    let running = own(view)?.running().filter(|running| !running.board().is_over());
    running.ok_or_else(|| Trouble::data("no session runs; begin one, then do it again"))
}

async fn act(view: View, act: Act) -> Answer {
    running(&view)?.act(act).await;
    lead(HERE, None)
}

/// A line that a scanner typed, or a person.
#[derive(Debug, Deserialize)]
struct Line {
    line: String,
}

async fn line(view: View, Fields(Line { line }): Fields<Line>) -> Answer {
    if line.chars().count() > LINE_LETTERS {
        return Err(Trouble::data(format!("digits: more than {LINE_LETTERS} signs are no code; scan it again")));
    }
    act(view, Act::Line(line)).await
}

async fn next(view: View, Fields(bought): Fields<Bought>) -> Answer {
    // A scanner may send while the focus is in another field.
    let asked = if is_packet(&bought.shop) { Act::Line(bought.shop) } else { Act::Buy(bought.purchase()?) };
    act(view, asked).await
}

async fn end(view: View) -> Answer {
    let run = running(&view)?.act(Act::End("ended on this page".to_owned())).await;
    lead(HERE, run)
}
