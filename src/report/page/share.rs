//! The page that a student keeps: what was measured and how sure, in one file that asks nobody for
//! anything.

use maud::html;

use super::{PageInput, SCRUB_SCRIPT, facts, headline, measures, notes, stills, tempo, through};
use crate::report::ReportError;
use crate::report::page::document;

/// The whole page. `title` stands in place of the result's own name, which may be somebody's;
/// `words` are sentences about the swing, may be none. Whom `input` names, the page names.
///
/// # Errors
/// Where a picture can't be encoded.
pub fn share_page(input: &PageInput, title: &str, words: &[String]) -> Result<String, ReportError> {
    let spans = measures::spans(input.swing, input.references);
    let stills = stills::section(input)?;
    let through = through::section(input)?;
    let body = html! {
        (crate::report::plot::definitions())
        header.top {
            p.kind { "A swing, measured from video" }
            h1 { (title) }
            (facts(input.swing))
        }
        main {
            (notes::doubt(input.swing))
            @for w in words { p.story { (w) } }
            (headline::section(input, &spans))
            (stills)
            (through)
            (tempo::section(input))
            (notes::warnings(input.swing))
            (notes::reading(input.swing))
            (notes::references(input.references))
            (notes::cautions())
        }
        footer {
            p { "Made by quarterturn " (input.swing.tool_version) " from video: an estimate with its uncertainty, no clinical measurement. This file holds everything that it shows and asks nobody for anything. Whoever has it can see the pictures in it: think before you pass it on." }
        }
    };
    Ok(document(title, &body, Some(SCRUB_SCRIPT)))
}
