//! Printing on standard output that survives a reader who went away (`quarterturn … | head`).

use serde::Serialize;

use super::{Exit, plain::plain};
use crate::worker::Failure;

/// Like `println!`, without its panic when nobody reads.
macro_rules! say {
    ($($part:tt)*) => {{
        use std::io::Write;
        // Whoever closed the pipe has seen enough; the work itself is done.
        let _ = writeln!(std::io::stdout().lock(), $($part)*);
    }};
}

/// Tells why a command ended on standard error, and as JSON on standard output where that is asked for.
pub(super) fn failed(json: bool, Failure { exit, refusal }: Failure) -> Exit {
    if json {
        say!("{}", serde_json::json!({ "error": refusal.text }));
    }
    eprintln!("quarterturn: {}", plain(&refusal.text));
    exit.typed()
}

/// Prints one JSON object.
pub(super) fn say_json(value: &impl Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string(value).map_err(Failure::nothing)?;
    say!("{text}");
    Ok(())
}

pub(super) use say;
