//! The thin binary: everything is in the library's `cli` room.

fn main() -> std::process::ExitCode {
    quarterturn::cli::run()
}
