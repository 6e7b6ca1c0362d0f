//! Ctrl-C: the first asks the work to stop between frames, the second ends at once.

use crate::progress::Cancel;

/// A request that Ctrl-C sets. Without a handler (another one stands already) Ctrl-C ends the
/// program as usual.
pub fn on_ctrl_c() -> Cancel {
    let cancel = Cancel::default();
    let ours = cancel.clone();
    at_ctrl_c(move || {
        if ours.requested() {
            std::process::exit(super::Exit::Stopped as i32);
        }
        eprintln!("stopping after this frame; once more to stop at once");
        ours.request();
    });
    cancel
}

/// Does `work` at every Ctrl-C.
pub fn at_ctrl_c(work: impl FnMut() + Send + 'static) {
    if let Err(error) = ctrlc::set_handler(work) {
        tracing::debug!(%error, "no Ctrl-C handler");
    }
}
