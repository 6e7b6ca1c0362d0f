//! The films of several swings side by side, moved through together.

use maud::{Markup, PreEscaped, html};

use super::Drawing;
use crate::report::ReportError;
use crate::report::compare::{Film, films, films_json, moments, seconds, steps, when};
use crate::report::page::event_times;
use crate::sets::set::SetSwing;
use crate::terms::{Event, Role};

/// The section; nothing where no swing has a film. `classes` go with the swings.
pub fn section(swings: &[&SetSwing], drawing: &Drawing) -> Result<Markup, ReportError> {
    let most = drawing.pipeline.sets.films_most;
    let shown: Vec<&SetSwing> = swings.iter().take(most).copied().collect();
    let folders: Vec<_> = shown
        .iter()
        .map(|s| (s.folder.as_path(), &s.swing))
        .collect();
    let found = films(&folders, drawing.pipeline, drawing.progress, drawing.cancel)?;
    if found.iter().all(|f| f.pictures.is_empty()) {
        return Ok(html! {});
    }
    let all = moments();
    let times: Vec<_> = shown.iter().map(|s| event_times(&s.swing)).collect();
    let rows: Vec<_> = all
        .iter()
        .map(|m| {
            let mut row = serde_json::Map::new();
            row.insert("t".into(), (*m).into());
            row.insert("moment".into(), told(*m).into());
            for (i, (t, one)) in times.iter().zip(&shown).enumerate() {
                let at = when(&one.swing, seconds(t, *m));
                row.insert(format!("time{i}"), at.into());
            }
            serde_json::Value::Object(row)
        })
        .collect();
    let data = films_json(&rows, &found, key, &drawing.pipeline.report)?;
    let of = |role: Role| found.iter().filter(move |f| f.role == role);
    Ok(html! {
        section.through.screen aria-labelledby="h-films" {
            h2 #h-films { "Side by side, in step" }
            @if shown.len() < swings.len() {
                p { "The first " (shown.len()) " of " (swings.len()) " swings." }
            }
            @for role in Role::ALL {
                @if of(role).next().is_some() {
                    h3 { (capital(role.words())) }
                    div.film-row {
                        @for f in of(role) {
                            @if let (Some((_, p)), Some(s)) = (f.pictures.first(), shown.get(f.index)) {
                                figure {
                                    img.frame data-view=(key(f)) alt=(format!("{}, {}", s.id, role.words())) width=(p.width()) height=(p.height());
                                    figcaption { (s.id) }
                                }
                            }
                        }
                    }
                }
            }
            div.scrubber hidden {
                label for="scrub" { "Move through all swings" }
                input #scrub type="range" min="0" max=(all.len() - 1) value="10" step="1" data-say="{moment}";
                (steps())
                p data-now="moment" {}
            }
            script #swing-data type="application/json" { (PreEscaped(data)) }
        }
    })
}

fn key(f: &Film) -> String {
    format!("swing{}-{}", f.index, f.role.key())
}

/// "at the top", "between the top and impact".
fn told(moment: f64) -> String {
    let part = moment.floor() as usize;
    let event = |i: usize| Event::ALL.get(i).map_or("", |e| e.at_words());
    if moment.fract() == 0.0 {
        event(part).to_owned()
    } else {
        let share = (moment.fract() * 100.0).round();
        format!(
            "{share} % of the way from {} to {}",
            plain(event(part)),
            plain(event(part + 1))
        )
    }
}

fn plain(words: &str) -> &str {
    words.strip_prefix("at ").unwrap_or(words)
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}
