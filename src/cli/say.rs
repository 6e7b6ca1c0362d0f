//! Printing on standard output that survives a reader who went away (`quarterturn … | head`).

/// Like `println!`, without its panic when nobody reads.
macro_rules! say {
    ($($part:tt)*) => {{
        use std::io::Write;
        // Whoever closed the pipe has seen enough; the work itself is done.
        let _ = writeln!(std::io::stdout().lock(), $($part)*);
    }};
}

pub(super) use say;
