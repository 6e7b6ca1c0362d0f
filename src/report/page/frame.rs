//! The frame that every page shares: head, style, policy.

use base64::Engine;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

const STYLE: &str = include_str!("../assets/page.css");

/// Where a page lives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Home {
    /// A file: nothing is fetched, nothing is sent.
    File,
    /// A file that shows pictures lying beside it; nothing else is fetched, nothing is sent.
    Folder,
    /// The local server: only that server is asked.
    Server,
}

/// The policy of a page with this style and this script inside: no request goes anywhere else.
fn policy(home: Home, style: &str, script: Option<&str>) -> String {
    let hash = |text: &str| base64::engine::general_purpose::STANDARD.encode(Sha256::digest(text));
    let script_part = match script {
        Some(s) => format!("script-src 'sha256-{}'", hash(s)),
        None => "script-src 'none'".to_owned(),
    };
    let own = match home {
        Home::File => "img-src data:; form-action 'none'",
        Home::Folder => "img-src 'self' file: data:; form-action 'none'",
        Home::Server => {
            "img-src 'self' data:; media-src 'self'; connect-src 'self'; form-action 'self'"
        }
    };
    format!(
        "default-src 'none'; {own}; {script_part}; style-src 'sha256-{}'; base-uri 'none'",
        hash(style)
    )
}

/// The policy of a page that [`document_with`] makes, for a server's header.
pub fn content_policy(home: Home, script: Option<&str>, own_style: &str) -> String {
    policy(home, &format!("{STYLE}{own_style}"), script)
}

/// The policy of a report that stands in a file, which an older version of this program may have
/// written: its own style, which can only dress it, and this version's script alone. `head` is its
/// beginning, with the style.
pub fn content_policy_stored(head: &str) -> String {
    let inside = head.split_once("<style>").map(|(_, rest)| rest);
    let style = inside.and_then(|rest| rest.split_once("</style>"));
    policy(
        Home::File,
        style.map_or(STYLE, |(own, _)| own),
        Some(super::SCRUB_SCRIPT),
    )
}

/// A whole document around `body` that stands alone in a file.
pub fn document(title: &str, body: &Markup, script: Option<&str>) -> String {
    document_with(Home::File, title, body, script, "")
}

/// A whole document around `body`, with a style of its own after the common one.
pub fn document_with(
    home: Home,
    title: &str,
    body: &Markup,
    script: Option<&str>,
    own_style: &str,
) -> String {
    let style = format!("{STYLE}{own_style}");
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(home, &style, script));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                // A form of the local page must tell its origin, or it would be refused.
                meta name="referrer" content=(if home == Home::Server { "same-origin" } else { "no-referrer" });
                link rel="icon" href="data:,";
                title { (title) }
                style { (PreEscaped(style.as_str())) }
            }
            body {
                (body)
                @if let Some(s) = script { script { (PreEscaped(s)) } }
            }
        }
    }
    .into_string()
}
