//! The four events as pictures of each view, with the plan view beside them.

use maud::{Markup, html};

use super::PageInput;
use crate::report::jpeg;
use crate::report::plot::clock;
use crate::report::{Films, ReportError};
use crate::report::{first, words};
use crate::terms::{Event, Measure};

pub fn section(input: &PageInput) -> Result<Markup, ReportError> {
    let (c, mut columns) = (input.config, Vec::new());
    for event in Event::ALL {
        if input.swing.events.get(&event).is_none_or(|m| m.s.is_none()) {
            continue;
        }
        let mut pictures = Vec::new();
        for view in input.views {
            let Some(still) = view.stills.get(&event) else {
                continue;
            };
            let role = view.role.map_or("", |r| r.words());
            let alt = format!(
                "{} seen {role}, with the hips' and the shoulders' (rib cage) left-right axes drawn as bars",
                event.words()
            );
            let (side, quality) = (c.page_still_long_side_px, c.still_quality);
            let (uri, size) = jpeg::inside(still, side, quality)?;
            pictures.push((alt, role, uri, size));
        }
        columns.push((event, pictures));
    }
    Ok(html! {
        section.stills aria-labelledby="h-stills" {
            h2 #h-stills { "Four moments" }
            div.moments {
                @for (event, pictures) in &columns {
                    article.moment {
                        h3 { (event.words()) }
                        p.when { @if let Some(m) = input.swing.events.get(event) { (super::when(input.swing, m)) } }
                        (plan(input, *event))
                        div.pair.single[input.views.len() < 2] {
                            @for (alt, role, uri, (w, h)) in pictures {
                                figure {
                                    img src=(uri) alt=(alt) width=(w) height=(h);
                                    figcaption { (role) }
                                }
                            }
                        }
                    }
                }
            }
            @if input.config.blur_face {
                p.blurred { "The head is made unrecognisable in every picture and video of this swing." }
            }
            (files(input))
        }
    })
}

/// The plan view of one event.
fn plan(input: &PageInput, event: Event) -> Markup {
    let [hips, shoulders] = [
        Measure::PelvisTurnFromAddress,
        Measure::ThoraxTurnFromAddress,
    ]
    .map(|m| first::at(input.swing, event, m));
    html! {
        div.plan {
            (clock(event.words(), hips, shoulders, input.swing.handedness))
            dl {
                div { dt { "hips" } dd { (words::estimate_or_why(&hips)) } }
                div { dt { "shoulders (rib cage)" } dd { (words::estimate_or_why(&shoulders)) } }
            }
        }
    }
}

fn files(input: &PageInput) -> Markup {
    html! {
        @if input.films == Films::ToCome {
            p.files.screen { "The annotated videos are drawn last. Load this page again in a minute." }
        }
        @if input.films == Films::Missing {
            p.files.screen { "The annotated videos were not drawn. Measure again with --replace to have them." }
        }
        @if input.views.iter().any(|v| !v.videos.is_empty()) {
            p.files.screen {
                "Annotated video beside this page: "
                @for (i, name) in input.views.iter().flat_map(|v| &v.videos).enumerate() {
                    @if i > 0 { ", " }
                    a href=(name) { (name) }
                }
                "."
            }
        }
    }
}
