//! The pages, one file each: what it shows, and what its forms do.

mod overview;
mod phone;
mod photos;
mod queue;
mod safety;
mod wall;

use std::sync::Arc;

use axum::Router;

use super::site::Site;

/// Every page of the desk.
pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .merge(overview::routes())
        .merge(phone::routes())
        .merge(photos::routes())
        .merge(queue::routes())
        .merge(safety::routes())
        .merge(wall::routes())
}
