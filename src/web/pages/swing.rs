//! One swing: its pictures and figures, what was typed in about it, where to go from here.

use std::collections::BTreeSet;

use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect};
use maud::{Markup, html};
use serde::Deserialize;

use super::job::{SCRIPT, has_page, state_address};
use super::lists::{datalist, next_swing, player_query};
use super::rows::figures;
use super::words::{day, named, title};
use super::{Answer, Refused, done, page, refuse, share, swing_at};
use crate::report::first::{self, First};
use crate::report::page::{segment, typed};
use crate::report::plot::{Ruler, ruler, ruler_span};
use crate::report::{film_names, still_name, untold};
use crate::result::{Lesson, NOTES_MAX, TypedIn};
use crate::sets::SetSwing;
use crate::sets::story::of_swing;
use crate::terms::{Event, Role};
use crate::web::filter::texts;
use crate::web::library::{change, find, notes_of};
use crate::web::state::Shared;
use crate::web::upload::TEXT_MAX;

/// Swings of the same player that are offered for a comparison.
const OFFERED: usize = 60;

pub async fn swing(State(app): State<Shared>, Path(id): Path<String>) -> Answer {
    let Some(swing) = find(&app.options.results, &id) else {
        // It became part of the swing that both phones show.
        let name = app.jobs.moved_to(&id).ok_or(Refused::NotFound)?;
        return Ok(Redirect::to(&format!("/swing/{}", segment(&name))).into_response());
    };
    let job = app.jobs.of_result(&swing.id);
    let base = format!("/swing/{}", segment(&swing.id));
    let all = app.swings().await;
    let lesson = all.iter().find(|s| s.id == swing.id).and_then(|s| s.lesson);
    let others = all
        .iter()
        .filter(|s| s.id != swing.id && s.player() == swing.swing.typed_in.player())
        .take(OFFERED);
    let others: Vec<_> = others.collect();
    let labels = texts(&all, |s| s.typed.label.as_deref());
    let names = texts(&all, |s| s.typed.player.as_deref());
    let doubt = untold::doubt(&swing.swing);
    let shown = first::first(&swing.swing);
    let body = html! {
        p { a href=(format!("/player{}", player_query(swing.swing.typed_in.player()))) { (named(swing.swing.typed_in.player())) } ", " (day(lesson)) ", " span.soft { (title(&swing.swing.name)) } }
        p.doing { a.button.great href=(again(&swing)) { "Film the next swing" } }
        ul.facts { @for (name, value) in typed(&swing.swing.typed_in) { li { (name) " " b { (value) } } } }
        section aria-labelledby="h-fig" {
            h2 #h-fig { "What was measured" }
            (figures(shown.as_ref(), doubt.as_deref()))
            (rulers(shown.as_ref()))
            p.story { (of_swing(&swing.swing)) }
            p.order { "Angles in this order: " (swing.swing.angle_order) "." }
            @if let Some(job) = &job {
                p #job role="status" data-state=(state_address(job)) data-page=(if has_page(&app, &swing.id) { "yes" } else { "no" }) { "Pictures and films are still being drawn: " span #line { (job.line) } }
            }
            @if swing.folder.join("report.html").is_file() {
                p { a.button.great href=(format!("{base}/report.html")) { "Open the whole page" } }
            }
            (views(&swing, &base))
        }
        (share::form(&swing))
        (about(&swing, &base, &labels, &names))
        @if !others.is_empty() {
            section aria-labelledby="h-pair" {
                h2 #h-pair { "Compare with another swing" }
                form.stack method="get" action="/compare" {
                    label for="first" { "First swing" }
                    select #first name="first" {
                        @for s in &others { option value=(s.id) { (day(s.lesson)) @if !s.label().is_empty() { ", " (s.label()) } ", " (s.name) } }
                    }
                    input type="hidden" name="second" value=(swing.id);
                    button type="submit" { "Set side by side" }
                }
            }
        }
        p.small { a href=(format!("{base}/delete")) { "Delete this swing" } }
    };
    let script = job.is_some().then_some(SCRIPT);
    let called = match (
        swing.swing.typed_in.player(),
        text(&swing.swing.typed_in.label),
    ) {
        ("", _) => title(&swing.swing.name),
        (player, label) if label.is_empty() => player.to_owned(),
        (player, label) => format!("{player}, {label}"),
    };
    Ok(page(StatusCode::OK, &called, &body, script))
}

/// The figures as dots with whiskers, on rulers of one length.
fn rulers(first: Option<&First>) -> Markup {
    let figures = first.map(|f| f.figures.as_slice()).unwrap_or_default();
    let told = figures.iter().filter_map(|(_, e)| e.told());
    let span = ruler_span(told.flat_map(|(deg, low, high)| [deg, low, high]));
    html! {
        div.rulers {
            @for (measure, e) in figures {
                div {
                    h3 { (measure.words()) }
                    (ruler(&Ruler { title: measure.words(), marks: vec![("", *e)], strips: Vec::new(), span }))
                }
            }
        }
    }
}

fn text(typed: &Option<String>) -> String {
    typed.clone().unwrap_or_default()
}

/// The form for the next swing of this player.
fn again(swing: &SetSwing) -> String {
    let typed = &swing.swing.typed_in;
    let view = match swing.swing.views.as_slice() {
        [one] => Some(one.role),
        _ => None,
    };
    let (label, club) = (text(&typed.label), text(&typed.club));
    next_swing(swing.swing.typed_in.player(), &label, &club, view)
}

/// The film of each view, or its picture at the top.
fn views(swing: &SetSwing, base: &str) -> Markup {
    let there = |name: &str| swing.folder.join(name).is_file();
    html! {
        div.views {
            @for role in Role::ALL {
                @let still = format!("stills/{}", still_name(role, Event::Top));
                @let [film, _] = film_names(role);
                @let poster = there(&still).then(|| format!("{base}/{still}"));
                @if there(&film) {
                    figure {
                        video src=(format!("{base}/{film}")) poster=[&poster] controls preload="none" playsinline aria-label=(format!("The swing {}", role.words())) {}
                        figcaption { (role.words()) }
                    }
                } @else if let Some(poster) = &poster {
                    figure {
                        img src=(poster) alt=(format!("Top of the backswing {}", role.words()));
                        figcaption { (role.words()) }
                    }
                }
            }
        }
    }
}

/// The form with all that a coach types in.
fn about(swing: &SetSwing, base: &str, labels: &BTreeSet<&str>, names: &BTreeSet<&str>) -> Markup {
    let typed = &swing.swing.typed_in;
    let lesson = typed.lesson.map(|l| l.to_string()).unwrap_or_default();
    html! {
        section aria-labelledby="h-about" {
            h2 #h-about { "About this swing" }
            form method="post" action=(format!("{base}/typed")) {
                div.fields {
                    span { label for="player" { "Player" } input #player type="text" name="player" list="players" value=(text(&typed.player)) maxlength=(TEXT_MAX) autocomplete="off"; }
                    span { label for="lesson" { "Lesson on" } input #lesson type="date" name="lesson" value=(lesson); }
                    span { label for="label" { "What was tried" } input #label type="text" name="label" list="labels" value=(text(&typed.label)) maxlength=(TEXT_MAX) autocomplete="off" placeholder="hips held"; }
                    span { label for="club" { "Club" } input #club type="text" name="club" value=(text(&typed.club)) maxlength=(TEXT_MAX) autocomplete="off"; }
                    span { label for="ball_speed" { "Ball speed, with its unit" } input #ball_speed type="text" name="ball_speed" value=(text(&typed.ball_speed)) maxlength=(TEXT_MAX) autocomplete="off"; }
                    span { label for="carry" { "Carry, with its unit" } input #carry type="text" name="carry" value=(text(&typed.carry)) maxlength=(TEXT_MAX) autocomplete="off"; }
                }
                (datalist("players", names))
                (datalist("labels", labels))
                div.stack {
                    label for="notes" { "The coach's notes" }
                    textarea #notes name="notes" rows="5" maxlength=(NOTES_MAX / 4) { (notes_of(&swing.folder, typed).unwrap_or_default()) }
                    button type="submit" { "Keep this" }
                }
            }
        }
    }
}

/// What a form changes; a field that it lacks stays as it is.
#[derive(Deserialize)]
pub struct Typed {
    lesson: Option<String>,
    #[serde(flatten)]
    rest: TypedIn,
}

impl Typed {
    /// The day, where one was given; `Err` where it is none.
    fn day(&self) -> Result<Option<Option<Lesson>>, String> {
        let Some(text) = self.lesson.as_deref().map(str::trim) else {
            return Ok(None);
        };
        if text.is_empty() {
            return Ok(Some(None));
        }
        text.parse()
            .map(|day| Some(Some(day)))
            .map_err(|e: crate::result::NoDay| format!("{e}."))
    }

    fn put(self, lesson: Option<Option<Lesson>>, into: &mut TypedIn) {
        let before = std::mem::take(into);
        let lesson = lesson.unwrap_or(before.lesson);
        *into = TypedIn {
            lesson,
            ..self.rest.or(before)
        };
    }
}

/// Keeps what was typed in about a swing: another player or lesson moves it there.
pub async fn save_typed(
    State(app): State<Shared>,
    Path(id): Path<String>,
    Form(form): Form<Typed>,
) -> Answer {
    let notes = form.rest.notes.as_ref();
    if notes.is_some_and(|n| n.len() > NOTES_MAX) {
        return refuse(
            StatusCode::PAYLOAD_TOO_LARGE,
            "The notes are too long to keep. Shorten them.",
        );
    }
    let no_day = |why| Refused::Request(StatusCode::UNPROCESSABLE_ENTITY, why);
    let lesson = form.day().map_err(no_day)?;
    let swing = swing_at(&app, &id)?;
    let folder = swing.folder.clone();
    let lost = "It could not be kept. Try it again.";
    done(&app, lost, move |_| {
        change(&folder, |typed| form.put(lesson, typed)).map_err(|e| e.to_string())
    })
    .await?;
    Ok(Redirect::to(&format!("/swing/{}", segment(&swing.id))).into_response())
}
