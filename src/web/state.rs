//! What every request can reach.

use std::path::PathBuf;
use std::sync::Arc;

use super::agreed::Agreed;
use super::index::{Entry, Index};
use super::jobs::Jobs;
use super::render_thread::RenderThread;
use super::thumbs::Thumbs;
use crate::config::Pipeline;

/// How the local page is run.
#[derive(Clone, Debug)]
pub struct ShowOptions {
    /// Folder of results that is shown.
    pub results: PathBuf,
    /// Folder for uploaded clips; never served.
    pub uploads: PathBuf,
    /// Reachable from the local network, not from this computer alone.
    pub lan: bool,
    /// 0 lets the system choose.
    pub port: u16,
    pub pipeline: Pipeline,
}

/// Shared by all requests.
pub struct App {
    pub options: ShowOptions,
    /// Secret of this run, hexadecimal.
    pub token: String,
    /// Values of the Host header that are this server's own.
    pub hosts: Vec<String>,
    /// Address for a phone, with the token, when the page is open to the network.
    pub phone_url: Option<String>,
    pub jobs: Jobs,
    pub drawing: RenderThread,
    /// What the library shows of every result.
    pub index: Index,
    pub thumbs: Thumbs,
    /// Who agreed to being filmed.
    pub agreed: Agreed,
}

impl App {
    /// Every readable result, the newest lesson first. Off the threads that answer requests: the
    /// first time all files are read.
    pub async fn swings(self: &Arc<Self>) -> Vec<Arc<Entry>> {
        self.off_thread(|app| app.index.swings())
            .await
            .unwrap_or_default()
    }

    /// Does what waits for a disk where waiting keeps nobody else; `None` where it broke off.
    pub async fn off_thread<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self) -> T + Send + 'static,
    ) -> Option<T> {
        let app = self.clone();
        tokio::task::spawn_blocking(move || work(&app)).await.ok()
    }
}

pub type Shared = Arc<App>;

/// 128 random bits from the system's generator, hexadecimal.
pub fn random_hex() -> String {
    use rand::RngExt;
    let bits: u128 = rand::rng().random();
    format!("{bits:032x}")
}

/// A duration from a configured number of seconds; a minute where it makes none.
pub fn seconds(s: f64) -> std::time::Duration {
    std::time::Duration::try_from_secs_f64(s).unwrap_or(std::time::Duration::from_secs(60))
}
