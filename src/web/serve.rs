//! The server itself: address, routes, connections.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use axum::routing::{get, post};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;

use super::agreed::Agreed;
use super::guard::{ENTRY, guard};
use super::index::Index;
use super::jobs::Jobs;
use super::render_thread::RenderThread;
use super::state::{App, Shared, ShowOptions, random_hex, seconds};
use super::thumbs::Thumbs;

use super::{measuring, pages, pick, upload};
use crate::file_error::{At, FileError};
use crate::result::PART;

#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    #[error("{0}. Name a folder of results, or one that can be made.")]
    Folder(#[from] FileError),
    #[error("port {port} can't be used: {source}. Choose another one with --port.")]
    Port { port: u16, source: std::io::Error },
    #[error("a thread could not be started: {0}. Close other programs and try again.")]
    Thread(std::io::Error),
    #[error(
        "this computer has no address on a local network. Connect it to one, or leave out --lan."
    )]
    NoNetwork,
}

/// Addresses to open: on this computer, and for a phone.
pub struct Addresses {
    /// For a browser on this computer.
    pub here: String,
    /// For a phone on the same network, where it is let in.
    pub phone: Option<String>,
}

/// Serves until `stop` is done. `ready` is told the addresses once connections are taken.
pub async fn serve(
    options: ShowOptions,
    ready: impl FnOnce(&Addresses),
    stop: impl Future<Output = ()>,
) -> Result<(), ServeError> {
    for folder in [&options.results, &options.uploads] {
        std::fs::create_dir_all(folder).at(folder)?;
    }
    sweep(&options.uploads);
    let network = if options.lan {
        Some(own_address().ok_or(ServeError::NoNetwork)?)
    } else {
        None
    };
    let bind = if options.lan {
        Ipv4Addr::UNSPECIFIED
    } else {
        Ipv4Addr::LOCALHOST
    };
    let port_error = |source| ServeError::Port {
        port: options.port,
        source,
    };
    let listener = TcpListener::bind(SocketAddr::from((bind, options.port)))
        .await
        .map_err(port_error)?;
    let port = listener.local_addr().map_err(port_error)?.port();
    let token = random_hex();
    let here = format!("127.0.0.1:{port}");
    let mut hosts = vec![here.clone(), format!("localhost:{port}")];
    hosts.extend(network.map(|ip| format!("{ip}:{port}")));
    let entry = |host: &str| format!("http://{host}{ENTRY}?key={token}");
    let addresses = Addresses {
        here: entry(&here),
        phone: network.map(|ip| entry(&format!("{ip}:{port}"))),
    };
    let head_within = seconds(options.pipeline.web.head_s);
    let limit = Arc::new(Semaphore::new(options.pipeline.web.connections));
    let app: Shared = Arc::new(App {
        phone_url: addresses.phone.clone(),
        index: Index::new(options.results.clone()),
        thumbs: Thumbs::default(),
        agreed: Agreed::new(seconds(options.pipeline.web.agreed_for_s)),
        options,
        token,
        hosts,
        jobs: Jobs::default(),
        drawing: RenderThread::new().map_err(ServeError::Thread)?,
    });
    measuring::resume(&app);
    // All results are read once while the coach opens the page.
    let reader = app.clone();
    tokio::spawn(async move { reader.swings().await });
    let routes = routes(app);
    ready(&addresses);
    tokio::pin!(stop);
    loop {
        let permit = tokio::select! {
            () = &mut stop => return Ok(()),
            permit = limit.clone().acquire_owned() => permit,
        };
        let accepted = tokio::select! {
            () = &mut stop => return Ok(()),
            accepted = listener.accept() => accepted,
        };
        let Ok((stream, _)) = accepted else {
            // Out of file handles, most likely: others must end first.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        let service = TowerToHyperService::new(routes.clone());
        tokio::spawn(async move {
            let served = hyper::server::conn::http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(head_within)
                .serve_connection(TokioIo::new(stream), service)
                .await;
            if let Err(e) = served {
                tracing::debug!("connection: {e}");
            }
            drop(permit);
        });
    }
}

/// Removes uploads that were cut off when an earlier run ended.
fn sweep(uploads: &std::path::Path) {
    for entry in std::fs::read_dir(uploads).into_iter().flatten().flatten() {
        let cut_off = entry.file_name().to_string_lossy().starts_with(PART);
        if cut_off && let Err(e) = std::fs::remove_dir_all(entry.path()) {
            tracing::warn!("{}: {e}", entry.path().display());
        }
    }
}

fn routes(app: Shared) -> Router {
    Router::new()
        .route(ENTRY, get(pages::enter))
        .route("/", get(pages::library))
        .route("/find", get(pages::find))
        .route("/player", get(pages::player))
        .route("/player/rename", post(pages::rename_player))
        .route("/upload", get(pages::upload_form))
        .route(
            "/upload",
            // The upload counts its own bytes, against a limit of its own.
            post(upload::receive).layer(DefaultBodyLimit::disable()),
        )
        .route("/job/{id}", get(pages::job))
        .route("/job/{id}/state", get(pages::job_state))
        .route("/swing/{id}", get(pages::swing))
        .route("/swing/{id}/typed", post(pages::save_typed))
        .route("/swing/{id}/thumb", get(pick::thumb))
        .route("/swing/{id}/share", get(pages::share_file))
        .route(
            "/swing/{id}/delete",
            get(pages::ask_delete_swing).post(pages::delete_swing),
        )
        .route("/swing/{id}/{file}", get(pick::file))
        .route("/swing/{id}/stills/{file}", get(pick::still))
        .route("/swing/{id}/other-clip/{file}", get(pick::beside))
        .route(
            "/swing/{id}/other-clip/stills/{file}",
            get(pick::beside_still),
        )
        .route("/compare", get(pages::compare))
        .route("/set", get(pages::set))
        .route("/set/against", get(pages::set_against))
        .route("/set.csv", get(pages::set_csv))
        .route("/set.c3d", get(pages::set_c3d))
        .route("/progress", get(pages::progress))
        .route(
            "/player/delete",
            get(pages::ask_delete_player).post(pages::delete_player),
        )
        .fallback(pages::not_found)
        .layer(DefaultBodyLimit::max(64 * 1024))
        .layer(from_fn_with_state(app.clone(), guard))
        .with_state(app)
}

/// This computer's address on the local network. Connecting a datagram socket sends nothing; it
/// only asks the system which way it would go (192.0.2.1 is reserved for documentation).
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_unspecified() && !ip.is_loopback()).then_some(ip)
}
