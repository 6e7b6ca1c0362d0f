//! Ctrl-C: the first asks the work to stop between frames, the second ends at once.

use crate::progress::Cancel;

/// A request that Ctrl-C sets. Without a handler (another one stands already) Ctrl-C ends the
/// program as usual.
pub fn on_ctrl_c() -> Cancel {
    let cancel = Cancel::default();
    let ours = cancel.clone();
    let set = ctrlc::set_handler(move || {
        if ours.requested() {
            std::process::exit(super::Exit::Stopped as i32);
        }
        eprintln!("stopping after this frame; once more to stop at once");
        ours.request();
    });
    if let Err(error) = set {
        tracing::debug!(%error, "no Ctrl-C handler");
    }
    cancel
}
