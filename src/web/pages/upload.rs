//! The form for a phone on the range: who, what is tried, where the phone stands, the clip.

use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};
use serde::Deserialize;

use super::lists::datalist;
use super::page;
use crate::report::cautions::CONSENT;
use crate::terms::Role;
use crate::web::filter::texts;
use crate::web::index::Entry;
use crate::web::state::Shared;
use crate::web::upload::{TEXT_MAX, UPLOAD_NOTES_MAX};

const SCRIPT: &str = include_str!("upload.js");

/// Labels that are offered before any was typed.
const FIRST_LABELS: [&str; 2] = ["hips held", "hips free"];
/// Labels that are offered as buttons.
const OFFERED: usize = 6;
/// Kinds of files that phones record.
const VIDEO: &str = "video/mp4,video/quicktime,.mp4,.mov";

/// What the last swing was, so that the next one needs a tap.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct Before {
    player: String,
    label: String,
    club: String,
    view: String,
}

pub async fn upload_form(State(app): State<Shared>, Query(before): Query<Before>) -> Response {
    let most = app.options.pipeline.web.upload_max_bytes / 1_000_000;
    let all = app.swings().await;
    let names = texts(&all, |s| s.typed.player.as_deref());
    let player = before.player.trim();
    let labels = labels(all.iter().map(AsRef::as_ref), player, before.label.trim());
    let agreed = app.agreed.holds(player);
    let body = html! {
        form #upload.range method="post" action="/upload" enctype="multipart/form-data" {
            (consent(player, agreed))
            fieldset {
                legend { "Who" }
                label for="player" { "Player" }
                input #player type="text" name="player" list="players" value=(player) maxlength=(TEXT_MAX) autocomplete="off" placeholder="may be left out";
                (datalist("players", &names))
                input #lesson type="hidden" name="lesson" value="";
            }
            fieldset {
                legend { "What is tried" }
                div.taps {
                    @for (i, label) in labels.iter().enumerate() {
                        (tap("label", &format!("label-{i}"), label, label, *label == before.label.trim()))
                    }
                    (tap("label", "label-none", "", "nothing special", before.label.trim().is_empty()))
                }
                label for="own_label" { "Or in your own words" }
                input #own_label type="text" name="own_label" maxlength=(TEXT_MAX) autocomplete="off";
            }
            fieldset {
                legend { "Where this phone stands" }
                div.taps {
                    @for role in Role::ALL {
                        @let told = match role { Role::FaceOn => "face-on, in front of the chest", Role::DownTheLine => "down-the-line, behind the hands" };
                        (tap("view", &format!("view-{}", role.key()), role.key(), told, before.view == role.key()))
                    }
                }
            }
            fieldset {
                legend { "The clip" }
                div.clips {
                    span { label for="record" { "Record now" } input #record.great type="file" name="clip" accept="video/*" capture="environment"; }
                    span { label for="choose" { "Or choose one" } input #choose.great type="file" name="clip" accept=(VIDEO); }
                }
                p.small { "MP4 or MOV, " (most) " MB at most. Stand still for a second, swing, hold the finish." }
                details.more {
                    summary { "Both clips of the swing are on this phone" }
                    p.small { "Two clips must show the same swing; a swing filmed by one phone after another is two swings. Then leave the two above empty." }
                    label for="face_on" { "Face-on, filmed from the front" }
                    input #face_on type="file" name="face_on" accept=(VIDEO);
                    label for="down_the_line" { "Down-the-line, filmed from behind the hands" }
                    input #down_the_line type="file" name="down_the_line" accept=(VIDEO);
                }
                details.more {
                    summary { "Club, ball and notes" }
                    div.fields {
                        @for (name, label, hint, value) in [
                            ("club", "Club", "7 iron", before.club.trim()),
                            ("ball_speed", "Ball speed, with its unit", "52 m/s", ""),
                            ("carry", "Carry, with its unit", "142 m", ""),
                        ] {
                            span {
                                label for=(name) { (label) }
                                input id=(name) type="text" name=(name) value=(value) maxlength=(TEXT_MAX) autocomplete="off" placeholder=(hint);
                            }
                        }
                        span { label for="notes" { "Notes" } input #notes type="text" name="notes" maxlength=(UPLOAD_NOTES_MAX) autocomplete="off"; }
                    }
                }
            }
            button.great type="submit" { "Send and measure" }
            p #sending role="status" {}
        }
    };
    page(StatusCode::OK, "Film a swing", &body, Some(SCRIPT))
}

/// One choice as large as a thumb.
fn tap(name: &str, id: &str, value: &str, told: &str, chosen: bool) -> Markup {
    html! {
        span.tap {
            input id=(id) type="radio" name=(name) value=(value) checked[chosen];
            label for=(id) { (told) }
        }
    }
}

/// What must be agreed before a clip is sent; asked once a lesson.
fn consent(player: &str, agreed: bool) -> Markup {
    html! {
        @if agreed {
            p #agreed data-for=(player) { "Agreed for " b { (player) } " not long ago. " a href="/upload" { "Somebody else" } "." }
            input #agreed_for type="hidden" name="agreed_for" value=(player);
        }
        fieldset #consent hidden[agreed] {
            legend { "Before you send a clip" }
            @for (i, text) in CONSENT.iter().enumerate() {
                p.check {
                    input id=(format!("consent-{i}")) type="checkbox" name="consent" value="yes" required[!agreed];
                    label for=(format!("consent-{i}")) { (text) }
                }
            }
            p.small { "The clips and the result stay on the coach's computer until they are deleted there. Everything of a player can be deleted for good from the library." }
        }
    }
}

/// Labels to tap: the one in use, the player's latest, the ones that are always there.
fn labels<'a>(swings: impl Iterator<Item = &'a Entry>, player: &str, now: &'a str) -> Vec<&'a str> {
    let theirs = swings
        .filter(|s| !player.is_empty() && s.player() == player)
        .map(Entry::label);
    let mut found: Vec<&str> = Vec::new();
    for label in std::iter::once(now).chain(theirs).chain(FIRST_LABELS) {
        if found.len() < OFFERED && !label.is_empty() && !found.contains(&label) {
            found.push(label);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::index::tests::entry;

    #[test]
    fn the_players_own_labels_come_first() {
        let all = [
            entry("a", "Ann", "2026-05-14", "slow"),
            entry("b", "Bea", "2026-05-14", "fast"),
            entry("c", "Ann", "2026-05-10", "hips free"),
        ];
        let all = || all.iter().map(AsRef::as_ref);
        assert_eq!(labels(all(), "Ann", ""), ["slow", "hips free", "hips held"]);
        assert_eq!(labels(all(), "", "new"), ["new", "hips held", "hips free"]);
    }
}
