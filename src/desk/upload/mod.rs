//! Photos that a browser sends: received within bounds, read beside everything else, staged as `boxward import` does.
//!
//! A photo's name is a label and nothing else: it is never taken for a path.

mod label;
mod panel;
mod reading;
mod receive;
mod tell;

pub(super) use panel::{Sender, panel};
pub(super) use reading::{Batch, Uploads};
pub(super) use tell::{Told, list};

use std::path::Path;
use std::sync::Arc;

use axum::extract::Request;
use axum::http::header;
use axum::response::{Html, IntoResponse};
use serde::Deserialize;

use super::site::Shared;
use super::trouble::{Answer, Trouble, plain};
use super::view::View;
use crate::intake::RunId;
use crate::workflow::LookedPhoto;
use receive::{Bounds, Content, Cut, Incoming, Received};

/// What came of a form with photos.
#[derive(Debug, Default)]
pub(super) struct Taken {
    /// Each photo, in the order in which they came.
    pub(super) told: Vec<Told>,
    /// Photos that were too many for one form.
    pub(super) left_out: usize,
    /// Why the rest of them did not come.
    pub(super) cut: Option<Cut>,
    /// The run that they are recorded as.
    pub(super) run: Option<RunId>,
}

/// Where a form with photos comes from.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    batch: Option<Batch>,
    /// Set by the script, which sends a photo at a time and wants its line alone.
    part: Option<u8>,
}

/// Takes a form's photos and answers: a script with their lines, else with the page that `page` makes of them.
pub(super) async fn answered<F: Future<Output = Answer>>(
    view: &View,
    asked: &Asked,
    request: Request,
    page: impl FnOnce(View, Batch, Taken) -> F,
) -> Answer {
    let shared = view.shared();
    let batch = asked.batch.unwrap_or_else(|| shared.uploads.draw());
    let taken = take(shared, batch, request).await?;
    let cut = taken.cut.as_ref().map(|cut| (cut.status(), cut.to_string()));
    let mut answer = match (asked.part, &cut) {
        (None, _) => page(view.clone(), batch, taken).await?,
        (Some(_), Some((status, why))) if taken.told.is_empty() => plain(*status, why),
        (Some(_), _) => Html(list(&taken.told).into_string()).into_response(),
    };
    if let Some((status, _)) = cut {
        *answer.status_mut() = status;
        // What was not read of the form must not be taken for the next request.
        answer.headers_mut().insert(header::CONNECTION, header::HeaderValue::from_static("close"));
    }
    Ok(answer)
}

/// Takes the photos of a form, one after another: each is on the disk before the next is waited for.
async fn take(shared: &Arc<Shared>, batch: Batch, request: Request) -> Result<Taken, Trouble> {
    let _received = shared.uploads.received().await?;
    let session = shared.uploads.session(batch);
    let mut taken = Taken::default();
    let mut incoming = match Incoming::open(request, Bounds::default()).await {
        Ok(incoming) => incoming,
        Err(cut) => return Ok(Taken { cut: Some(cut), ..taken }),
    };
    loop {
        match incoming.next().await {
            Ok(Some(photo)) => {
                // What is whole is taken, even if the browser goes away meanwhile.
                let (shared, session) = (Arc::clone(shared), Arc::clone(&session));
                let done = tokio::spawn(async move { one(&shared, session, photo).await }).await;
                taken.told.push(done.map_err(|error| Trouble::machine(&error))??);
            }
            Ok(None) => break,
            Err(cut) => {
                taken.cut = Some(cut);
                break;
            }
        }
    }
    taken.left_out = incoming.left_out();
    taken.run = reading::locked(&session).run();
    Ok(taken)
}

async fn one(shared: &Arc<Shared>, session: reading::Session, photo: Received) -> Result<Told, Trouble> {
    let Received { label, content } = photo;
    let looked = match content {
        Err(error) => LookedPhoto::Failed { error: error.to_string() },
        Ok(content) => match known(shared, &content).await? {
            Some(known) => known,
            None => shared.uploads.read(content).await?,
        },
    };
    let now = shared.now();
    let told = shared.step(move |store| {
        let outcome = reading::locked(&session).settle(store, Path::new(&label), looked, now)?;
        Told::of(store, label, outcome.result)
    });
    told.await
}

async fn known(shared: &Arc<Shared>, content: &Content) -> Result<Option<LookedPhoto>, Trouble> {
    let sha256 = content.sha256;
    shared.step(move |store| LookedPhoto::known(store, &sha256)).await
}
