//! `quarterturn show`: the local page.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use qrcode::render::unicode::Dense1x2;

use super::own_folder::{self, Start};
use super::{Exit, say::say};
use crate::config::Pipeline;
use crate::web::{Addresses, ShowOptions, serve};
use crate::worker::Failure;

#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Folder of results; made when it is not there [default: quarterturn/results among your
    /// documents, and the browser opens]
    #[arg(value_name = "RESULTS_DIR")]
    results: Option<PathBuf>,
    /// Let phones on the same network see the page and send clips
    #[arg(long)]
    lan: bool,
    /// Leave the browser alone where no folder is named
    #[arg(long)]
    no_browser: bool,
    /// Port; 0 lets the system choose
    #[arg(long, default_value_t = 0)]
    port: u16,
    /// Folder for uploaded clips, never served [default: RESULTS_DIR with "-uploads" added]
    #[arg(long, value_name = "DIR")]
    uploads: Option<PathBuf>,
    /// Make the golfer's head unrecognisable in every picture and video written
    #[arg(long)]
    blur_face: bool,
    /// Pipeline file laid over the built-in values
    #[arg(long, value_name = "FILE")]
    pipeline: Option<PathBuf>,
}

pub fn run(args: &ShowArgs) -> Exit {
    let Err(Failure { exit, refusal }) = show(args) else {
        return Exit::Done;
    };
    eprintln!("quarterturn could not open its page: {}", refusal.text);
    if args.results.is_none() {
        own_folder::wait_for_reader();
    }
    exit
}

fn show(args: &ShowArgs) -> Result<(), Failure> {
    let mut pipeline = Pipeline::load(args.pipeline.as_deref())?;
    pipeline.report.blur_face |= args.blur_face;
    let start = args.results.is_none().then(own_folder::start).transpose();
    let own = match start.map_err(Failure::nothing)? {
        Some(Start::Open(address)) => {
            say!("quarterturn is open already: {address}");
            if !args.no_browser {
                own_folder::open_browser(&address);
            }
            return Ok(());
        }
        Some(Start::Here(own)) => Some(own),
        None => None,
    };
    let named = args.results.clone();
    let results = named
        .or_else(|| own.as_ref().map(|o| o.results.clone()))
        .unwrap_or_default();
    let uploads = args.uploads.clone().unwrap_or_else(|| beside(&results));
    if uploads.starts_with(&results) {
        return Err(Failure::usage(format!(
            "{}: uploads can't lie inside the folder of results. Name another one with --uploads.",
            uploads.display()
        )));
    }
    let options = ShowOptions {
        results,
        uploads,
        lan: args.lan,
        port: args.port,
        pipeline,
    };
    let runtime = tokio::runtime::Runtime::new()
        .map_err(|e| Failure::nothing(format!("{e}. Close other programs and try again.")))?;
    let stop = async {
        // Without the signal the page runs until the program is ended.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    let served = runtime.block_on(serve(
        options,
        |a| {
            // Nobody reading the address is no reason to stop serving.
            let _ = std::io::stdout().write_all(greeting(a).as_bytes());
            if let Some(own) = &own {
                own.opened(&a.here, !args.no_browser);
            }
        },
        stop,
    ));
    // Measurements still running end with the program; their clips are kept for the next start.
    runtime.shutdown_background();
    served.map_err(Failure::nothing)
}

/// The addresses, and the phone's as a code to scan.
fn greeting(a: &Addresses) -> String {
    let mut text = format!("On this computer: {}\n", a.here);
    if let Some(phone) = &a.phone {
        text += &format!("On a phone in the same network: {phone}\n");
        if let Ok(code) = qrcode::QrCode::new(phone.as_bytes()) {
            // Most terminals are dark: lit blocks are the code's light parts.
            let drawn = code
                .render::<Dense1x2>()
                .dark_color(Dense1x2::Light)
                .light_color(Dense1x2::Dark)
                .quiet_zone(true)
                .build();
            text += &format!("{drawn}\n");
        }
    }
    text + "Ctrl-C ends it.\n"
}

/// `results` → `results-uploads`.
fn beside(results: &Path) -> PathBuf {
    let absolute = std::path::absolute(results).unwrap_or_else(|_| results.to_owned());
    let mut name = absolute.file_name().unwrap_or_default().to_owned();
    name.push("-uploads");
    absolute.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phone_gets_an_address_and_a_code() {
        let a = Addresses {
            here: "http://127.0.0.1:8/enter?key=0f".into(),
            phone: Some("http://192.0.2.7:8/enter?key=0f".into()),
        };
        let text = greeting(&a);
        assert!(text.contains("http://192.0.2.7:8/enter?key=0f"));
        let drawn = text.lines().filter(|l| l.contains('█')).count();
        assert!(drawn >= 10, "{text}");
        let alone = greeting(&Addresses { phone: None, ..a });
        assert!(!alone.contains('█') && !alone.contains("phone"));
    }

    #[test]
    fn uploads_lie_beside_the_results() {
        assert_eq!(
            beside(Path::new("/a/results")),
            Path::new("/a/results-uploads")
        );
    }
}
