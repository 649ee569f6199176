//! The page: one process, one voyage, in any browser of this machine.
//!
//! With `holdfast` the only crate that is async, has threads and reads a clock. Pages are made
//! from records by pure functions in `pages`; nothing here reasons about a box.

mod acts;
mod assets;
pub mod dossier;
mod engine;
mod events;
mod gas;
mod gauges;
mod guard;
mod handover;
mod holds;
mod instruments;
pub mod log;
mod memo;
pub mod pages;
pub mod papers_out;
mod plan_acts;
pub mod report;
mod report_routes;
mod rounds;
mod routes;
mod series;
mod services;
mod theme;
mod upload;
mod ways;

use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use voyage::Voyage;

use engine::App;

pub use engine::now;

/// What may be set for the server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// Largest upload taken, in bytes.
    pub max_upload_bytes: u64,
    /// Host names, beside `localhost` and plain addresses, under which the page may be asked for.
    pub host_names: Vec<String>,
    /// How often the voyage file is looked at for what another program wrote into it.
    pub look_every: Duration,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            max_upload_bytes: 64 * 1024 * 1024,
            host_names: Vec::new(),
            look_every: Duration::from_secs(2),
        }
    }
}

/// Serves a voyage until interrupted (ctrl-c). `on_ready` is told the address once it answers.
///
/// # Errors
/// When the address cannot be listened on, or the voyage cannot be read at all.
pub fn serve(
    voyage: Voyage,
    listen: SocketAddr,
    options: Options,
    on_ready: impl FnOnce(SocketAddr),
) -> io::Result<()> {
    let interrupt = async {
        // Without a way to be interrupted, it runs until it is ended from outside.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    serve_until(voyage, listen, options, on_ready, interrupt)
}

/// As [`serve`], until `stop` is done.
///
/// # Errors
/// As [`serve`].
pub fn serve_until(
    voyage: Voyage,
    listen: SocketAddr,
    options: Options,
    on_ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    let runtime =
        tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
    let outcome = runtime.block_on(async {
        let listener = TcpListener::bind(listen).await?;
        let address = listener.local_addr()?;
        let app = Arc::new(App::new(voyage, address, options).map_err(io::Error::other)?);
        let looker = tokio::spawn(engine::look_for_news(Arc::clone(&app)));
        on_ready(address);
        let ending = Arc::clone(&app);
        let served = axum::serve(listener, routes::router(app))
            .with_graceful_shutdown(async move {
                stop.await;
                ending.stop();
            })
            .await;
        looker.abort();
        served
    });
    // A page that is still being read must not keep the program from ending.
    runtime.shutdown_timeout(Duration::from_secs(2));
    outcome
}
