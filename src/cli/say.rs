//! Printing on standard output that survives a reader who went away (`quarterturn … | head`).

use super::{Exit, plain::plain};

/// Like `println!`, without its panic when nobody reads.
macro_rules! say {
    ($($part:tt)*) => {{
        use std::io::Write;
        // Whoever closed the pipe has seen enough; the work itself is done.
        let _ = writeln!(std::io::stdout().lock(), $($part)*);
    }};
}

/// Tells why a command ended on standard error, and as JSON on standard output where that is asked for.
pub(super) fn failed(json: bool, (exit, text): (Exit, String)) -> Exit {
    if json {
        say!("{}", serde_json::json!({ "error": text }));
    }
    eprintln!("quarterturn: {}", plain(&text));
    exit.typed()
}

pub(super) use say;
