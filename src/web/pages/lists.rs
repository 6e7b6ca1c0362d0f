//! What lists of players and swings have around them: the search, the players, the parts of a long
//! list.

use std::collections::BTreeSet;

use maud::{Markup, html};

use super::rows::shot;
use super::words::{day, named};
use crate::report::words::counted;
use crate::result::Lesson;
use crate::terms::Role;
use crate::web::filter::query;
use crate::web::index::Player;

/// One field that searches everything.
pub fn search_box(q: &str) -> Markup {
    html! {
        form.line role="search" method="get" action="/find" {
            span {
                label for="q" { "Search players, days, labels, clubs and notes" }
                input #q type="search" name="q" value=(q) maxlength="200" autocomplete="off";
            }
            button type="submit" { "Search" }
        }
    }
}

/// Players, each with the latest picture.
pub fn people(players: &[Player]) -> Markup {
    html! {
        ul.people {
            @for p in players {
                li {
                    (shot(&p.latest))
                    div {
                        a href=(format!("/player{}", player_query(&p.name))) { (named(&p.name)) }
                        p { "last lesson " (day(p.latest.lesson)) }
                        p.soft { (counted(p.swings, "swing")) " in " (counted(p.lessons, "lesson")) }
                    }
                }
            }
        }
    }
}

/// Names a player in an address; the swings without one too.
pub fn player_query(name: &str) -> String {
    if name.is_empty() {
        "?name=".to_owned()
    } else {
        query(&[("name", name)])
    }
}

/// Links to the pages of a long list around `here`; none where there is one page.
pub fn turns(here: usize, last: usize, address: impl Fn(usize) -> String) -> Markup {
    html! {
        @if last > 0 {
            nav.pages aria-label="Parts of this list" {
                @if here > 0 { a rel="prev" href=(address(here - 1)) { "Newer" } }
                span { "Part " (here + 1) " of " (last + 1) }
                @if here < last { a rel="next" href=(address(here + 1)) { "Older" } }
            }
        }
    }
}

/// The form for the next swing of a player, filled in with what the last one was.
pub fn next_swing(player: &str, label: &str, club: &str, view: Option<Role>) -> String {
    let fields = [
        ("player", player),
        ("label", label),
        ("club", club),
        ("view", view.map_or("", Role::key)),
    ];
    format!("/upload{}", query(&fields))
}

/// Texts that a field proposes.
pub fn datalist(id: &str, texts: &BTreeSet<&str>) -> Markup {
    html! { datalist id=(id) { @for t in texts.iter().take(400) { option value=(t) {} } } }
}

/// A set of swings on one page: those of a lesson, or of a label within it.
pub fn set_address(player: &str, lesson: Option<Lesson>, label: &str) -> String {
    format!("/set{}", set_query(player, lesson, label, ""))
}

/// Two sets of one lesson, the second set against the first.
pub fn against_address(player: &str, lesson: Option<Lesson>, label: &str, against: &str) -> String {
    format!("/set/against{}", set_query(player, lesson, label, against))
}

fn set_query(player: &str, lesson: Option<Lesson>, label: &str, against: &str) -> String {
    let day = lesson.map(|l| l.to_string()).unwrap_or_default();
    query(&[
        ("player", player),
        ("lesson", &day),
        ("label", label),
        ("against", against),
    ])
}
