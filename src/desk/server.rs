//! The servers: connections, their limits, and the end of them.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;
use std::thread;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::middleware;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::runtime::{Builder, Runtime};
use tokio::sync::Semaphore;
use tokio_io_timeout::TimeoutStream;

use super::board::Board;
use super::clock::Clock;
use super::guard::{ENTRY, Guard};
use super::limits::{ALONE, CONNECTIONS, HEAD_BYTES, PATIENCE};
use super::phone::{self, Phones};
use super::running::{Intake, Own};
use super::secrets::Secret;
use super::site::{Shared, Site};
use super::trouble::{Answer, Trouble};
use super::{assets, pages, view};
use crate::store::Store;
use crate::workflow::Film;

/// Why the desk was not opened.
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// The port is taken, or not allowed.
    #[error("the desk can't be served at port {port}; leave the port out to take a free one")]
    Port {
        /// It.
        port: u16,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The address is not this machine's, or the port is taken.
    #[error("phones can't be served at {address}; {}, and leave the port out to take a free one", to_name(own))]
    Address {
        /// It.
        address: SocketAddr,
        /// The addresses that could be named.
        own: Vec<IpAddr>,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// An address that stands for all of the machine's.
    #[error("{address} names no single address; {}", to_name(own))]
    AnyAddress {
        /// It.
        address: IpAddr,
        /// The addresses that could be named.
        own: Vec<IpAddr>,
    },
    /// Phones are served already.
    #[error("phones are served already")]
    PhonesServed,
    /// No thread or timer can be had.
    #[error("the system gives the desk no thread")]
    Runtime(#[source] std::io::Error),
    /// Without secrets nobody is let in.
    #[error("the system gives no random numbers")]
    Random(#[from] getrandom::Error),
}

/// What to do where an address is no good.
fn to_name(own: &[IpAddr]) -> String {
    match own {
        [] => "name one of this machine's addresses".to_owned(),
        [one] => format!("name this machine's address, {one}"),
        several => format!("name one of this machine's addresses, {}", phone::listed(several)),
    }
}

/// The desk, open until this is dropped.
#[derive(Debug)]
pub struct Desk {
    // Its tasks end with it.
    runtime: Runtime,
    address: SocketAddr,
    entry: Secret,
    site: Arc<Site>,
}

impl Desk {
    /// Serves the collection on loopback at `port`; 0 takes a free one.
    ///
    /// # Errors
    /// If the port is taken, or the system gives no thread or randomness.
    pub fn open(store: Store, port: u16, clock: Clock) -> Result<Self, DeskError> {
        Self::open_on(store, port, clock, None)
    }

    /// The same; a session may take its pictures from this film, as if a camera sent them.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_on(store: Store, port: u16, clock: Clock, film: Option<Film>) -> Result<Self, DeskError> {
        let intake = Intake::Own(Own::new(film, ALONE));
        Self::start(port, Shared::new(store, clock, intake), pages::routes().route("/undo", post(view::undo)), "/")
    }

    /// Serves only the page of a session that is driven elsewhere, to be looked at.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn to_watch(store: Store, port: u16, clock: Clock, board: Arc<Board>) -> Result<Self, DeskError> {
        let shared = Shared::new(store, clock, Intake::Watched(board));
        Self::start(port, shared, pages::routes_to_watch(), "/intake")
    }

    /// Serves `pages`; the link leads to `first`.
    fn start(port: u16, shared: Shared, pages: Pages, first: &'static str) -> Result<Self, DeskError> {
        let taken = |source| DeskError::Port { port, source };
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).map_err(taken)?;
        listener.set_nonblocking(true).map_err(taken)?;
        let address = listener.local_addr().map_err(taken)?;
        let entry = Secret::draw()?;
        let guard = Guard::new(&["127.0.0.1", "localhost"], address.port())?;
        let site = Arc::new(Site::new(guard, Arc::new(shared)));
        let routes = guarded(pages, entry.clone(), first, &site);
        let threads = thread::available_parallelism().map_or(2, usize::from);
        let runtime =
            Builder::new_multi_thread().worker_threads(threads).enable_all().build().map_err(DeskError::Runtime)?;
        let desk = Self { runtime, address, entry, site };
        desk.listen(listener, routes).map_err(taken)?;
        Ok(desk)
    }

    /// Serves phones too, at an address of this machine that they reach; port 0 takes a free one. Gives the link that lets
    /// the first one in, once, for ten minutes.
    ///
    /// # Errors
    /// If the address is not this machine's or names none, the port is taken, or the system gives no randomness.
    pub fn serve_phones(&self, address: SocketAddr) -> Result<String, DeskError> {
        let refused = |source| DeskError::Address { address, own: phone::own_addresses(), source };
        if address.ip().is_unspecified() {
            return Err(DeskError::AnyAddress { address: address.ip(), own: phone::own_addresses() });
        }
        let listener = TcpListener::bind(address).map_err(refused)?;
        listener.set_nonblocking(true).map_err(refused)?;
        let phones = Arc::new(Phones::new(listener.local_addr().map_err(refused)?, Arc::clone(&self.site.shared))?);
        self.site.phones.set(Arc::clone(&phones)).map_err(|_| DeskError::PhonesServed)?;
        self.listen(listener, phone::routes(&phones)).map_err(refused)?;
        Ok(phones.standing().1.unwrap_or_default())
    }

    fn listen(&self, listener: TcpListener, routes: Router) -> std::io::Result<()> {
        let _inside = self.runtime.enter();
        self.runtime.spawn(serve(tokio::net::TcpListener::from_std(listener)?, routes));
        Ok(())
    }

    /// The link that lets a browser in.
    #[must_use]
    pub fn link(&self) -> String {
        format!("http://{}{ENTRY}{}", self.address, self.entry.text())
    }
}

type Pages = Router<Arc<Site>>;

/// The pages, what they load, and the way in; the guard before all of it.
fn guarded(pages: Pages, entry: Secret, first: &'static str, site: &Arc<Site>) -> Router {
    let enter = move |State(site): State<Arc<Site>>, Path(given): Path<String>| async move {
        enter(&entry, &site, &given, first)
    };
    let guarded = Arc::clone(site);
    pages
        .route("/enter/{secret}", get(enter))
        .route("/static/{mark}/{name}", get(assets::file))
        .fallback(|| async { Trouble::nothing_there("there is no such page") })
        .with_state(Arc::clone(site))
        .layer(middleware::from_fn(move |request, next| {
            let guard = guarded.guard();
            async move { guard.admit(request, next).await }
        }))
}

/// Lets a browser in whose person has the link.
fn enter(entry: &Secret, site: &Site, given: &str, first: &str) -> Answer {
    if !entry.is(given) {
        return Err(Trouble::nothing_there("this link is not this desk's; take the one that the program shows now"));
    }
    let headers = [(header::SET_COOKIE, site.guard().set_cookie()), (header::LOCATION, first.to_owned())];
    Ok((StatusCode::SEE_OTHER, headers).into_response())
}

/// Takes connections until the runtime ends, each within bounds of its own.
pub(super) async fn serve(listener: tokio::net::TcpListener, routes: Router) {
    let free = Arc::new(Semaphore::new(CONNECTIONS));
    while let Ok(permit) = Arc::clone(&free).acquire_owned().await {
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            // Out of descriptors, or gone before it was taken: others may still come.
            Err(_) => {
                tokio::time::sleep(std::time::Duration::from_millis(50)).await;
                continue;
            }
        };
        let service = TowerToHyperService::new(routes.clone());
        // Whoever does not read what was asked for is not waited for. How long a request may take is others' to say:
        // a page that listens is silent for long.
        let mut stream = TimeoutStream::new(stream);
        stream.set_write_timeout(Some(PATIENCE));
        tokio::spawn(async move {
            let mut http = http1::Builder::new();
            http.timer(TokioTimer::new()).header_read_timeout(PATIENCE).max_buf_size(HEAD_BYTES).max_headers(64);
            // A browser that went away is no matter.
            drop(http.serve_connection(TokioIo::new(Box::pin(stream)), service).await);
            drop(permit);
        });
    }
}
