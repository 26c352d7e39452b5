//! The pages, one file each: what it shows, and what its forms do.

mod backups;
mod collection;
mod copy;
mod intake;
mod money;
mod overview;
mod phone;
mod photos;
mod pile;
mod queue;
mod safety;
mod settings;
mod wall;

use std::sync::Arc;

use axum::Router;

use super::site::Site;

/// Every page of the desk.
pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .merge(backups::routes())
        .merge(collection::routes())
        .merge(copy::routes())
        .merge(intake::routes())
        .merge(money::routes())
        .merge(overview::routes())
        .merge(phone::routes())
        .merge(photos::routes())
        .merge(pile::routes())
        .merge(queue::routes())
        .merge(safety::routes())
        .merge(settings::routes())
        .merge(wall::routes())
}

/// The one page of a session that is driven elsewhere.
pub(super) fn routes_to_watch() -> Router<Arc<Site>> {
    intake::routes_to_watch()
}
