//! The page of all swings: a table that sorts, the clips without a result by kind, and each
//! player's turns over time.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::planned::SwingKind;
use super::table::{COLUMNS, Row};
use crate::measure::{Nothing, Refusal};
use crate::report::page::{Home, document_with, segment};
use crate::report::plot::{Frame, Sheet, n};
use crate::report::untold::CANT_TELL;
use crate::report::words;
use crate::result::Estimate;

const STYLE: &str = include_str!("assets/index.css");
const SCRIPT: &str = include_str!("assets/index.js");

/// Degrees at the two ends of a player's chart.
const CHART_DEG: (f64, f64) = (0.0, 130.0);

/// The whole document. It links to the result folders beside it and fetches nothing.
pub(super) fn page(rows: &[Row]) -> String {
    let measured = rows.iter().filter(|r| r.nothing.is_none()).count();
    let body = html! {
        header.top {
            h1 { "Swings" }
            p { (measured) " measured"
                @for kind in Nothing::ALL {
                    @let n = of(rows, kind).count();
                    @if n > 0 { ", " a href=(format!("#{}", kind.key())) { (n) " " (kind.words()) } }
                } "." }
            p.source { "Turns are from address, in degrees, with the range that holds the true value 95 times in 100. Shoulders means the rib cage. Tap a heading to sort." }
        }
        main {
            @if measured > 0 { (table(rows)) }
            @for kind in Nothing::ALL { (without(rows, kind)) }
            (players(rows))
        }
    };
    document_with(Home::Folder, "Swings", &body, Some(SCRIPT), STYLE)
}

/// The rows without a result of one kind.
fn of(rows: &[Row], kind: Nothing) -> impl Iterator<Item = (&Row, &Refusal)> {
    rows.iter().filter_map(move |r| {
        let refusal = r.nothing.as_ref().filter(|n| n.nothing == kind)?;
        Some((r, refusal))
    })
}

/// The clips that gave one kind of nothing, each with its sentence.
fn without(rows: &[Row], kind: Nothing) -> Markup {
    let heading = match kind {
        Nothing::NoSwing => "No swing in these clips",
        Nothing::NobodyFound => "Nobody was found in these clips",
        Nothing::Failed => "Not measured",
    };
    html! {
        @if of(rows, kind).next().is_some() {
            section {
                h2 id=(kind.key()) { (heading) }
                ul.without {
                    @for (row, refusal) in of(rows, kind) {
                        li { strong { (row.name) } " " (refusal.text) }
                    }
                }
            }
        }
    }
}

fn table(rows: &[Row]) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="All swings" {
            table id="swings" {
                thead { tr {
                    td.shot { span.unseen { "picture" } }
                    @for (name, kind) in [("swing", "name"), ("player", "who"), ("tried", "label"), ("date (UTC)", "date"), ("ball", "ball"), ("views", "views")] {
                        th scope="col" class=(kind) data-column { button type="button" { (name) } }
                    }
                    @for (event, measure) in COLUMNS {
                        th.turn scope="col" data-column data-number="" { button type="button" { (measure.short()) " " (event.at_words()) } }
                    }
                    th.notes scope="col" data-column data-number="" { button type="button" { "notes" } }
                } }
                tbody { @for row in rows.iter().filter(|r| r.nothing.is_none()) { (line(row)) } }
            }
        }
    }
}

/// One line: what does not fit into it stands on the swing's own page.
fn line(row: &Row) -> Markup {
    let kind = row.kind.map_or("", SwingKind::words);
    html! {
        tr {
            td.shot {
                @if let Some(still) = &row.still {
                    img src=(beside(&row.name, still)) alt="" loading="lazy" width="36" height="48";
                }
            }
            th.name scope="row" data-key=(row.name) {
                a href=(link(&row.name)) { (row.name) }
            }
            td.who { (row.player.as_deref().unwrap_or("")) }
            td.label { (row.label) }
            td.date.number { (row.date) }
            td.ball title=(kind) { (kind.split(" (").next().unwrap_or("")) }
            td.views { (row.views) }
            @for ((event, measure), e) in COLUMNS.iter().zip(&row.turns) {
                (cell(e, &format!("{} {}", measure.short(), event.at_words())))
            }
            td.notes data-key=(row.warnings.len()) {
                @if !row.warnings.is_empty() {
                    details {
                        summary { (row.warnings.len()) span.unseen { " notes on " (row.name) } }
                        ul { @for w in &row.warnings { li { (w) } } }
                    }
                }
            }
        }
    }
}

fn cell(e: &Estimate, name: &str) -> Markup {
    html! {
        @match e.told() {
            Some((deg, low, high)) => td.turn data-name=(name) data-key=(format!("{deg:.2}")) {
                strong { (words::degrees(deg)) } " "
                span.soft { (words::decimal(low, 0)) " to " (words::decimal(high, 0)) }
            },
            None => td.turn.soft data-name=(name) title=(words::estimate_or_why(e)) { (CANT_TELL) },
        }
    }
}

/// A picture of a swing's folder; every byte that a link can't hold is written in hexadecimal.
fn beside(name: &str, still: &str) -> String {
    let path: Vec<String> = still.split('/').map(segment).collect();
    format!("./{}/{}", segment(name), path.join("/"))
}

/// The page of a swing; every byte that a link can't hold is written in hexadecimal.
fn link(name: &str) -> String {
    format!("./{}/report.html", segment(name))
}

fn players(rows: &[Row]) -> Markup {
    let mut by_player: BTreeMap<&str, Vec<&Row>> = BTreeMap::new();
    for r in rows
        .iter()
        .filter(|r| r.nothing.is_none() && r.kind != Some(SwingKind::Practice))
    {
        if let Some(p) = &r.player {
            by_player.entry(p).or_default().push(r);
        }
    }
    by_player.retain(|_, swings| swings.len() > 1);
    html! {
        @if !by_player.is_empty() {
            section {
            h2 { "Players over time" }
            p.source { "At the top, from address, swing by swing in order of time; practice swings are left out. A line through a mark is its 95 in 100 range: marks whose lines overlap much may differ by chance." }
            @for (player, swings) in &by_player {
                div.player {
                    h3 { (player) " (" (swings.len()) " swings)" }
                    (chart(swings))
                }
            }
            }
        }
    }
}

/// A square for the hips, a ring for the shoulders.
fn mark(class: &str, x: f64, y: f64, inside: &Markup) -> Markup {
    html! {
        @if class == "hips" {
            rect.hips x=(n(x - 3.0)) y=(n(y - 3.0)) width="6" height="6" { (inside) }
        } @else {
            circle.shoulders cx=(n(x)) cy=(n(y)) r="3.6" { (inside) }
        }
    }
}

fn chart(swings: &[&Row]) -> Markup {
    let count = swings.len() as f64;
    let step = (560.0 / count).clamp(7.0, 56.0);
    let (left, right) = (44.0, 12.0);
    let f = Frame {
        sheet: Sheet {
            width: left + right + step * count,
            height: 220.0,
            left,
            right,
            top: 12.0,
            bottom: 34.0,
        },
        x: (0.0, count),
        y: CHART_DEG,
    };
    let y = |deg: f64| f.py(deg.clamp(CHART_DEG.0, CHART_DEG.1));
    let shift = (step / 6.0).min(4.0);
    let (end, below) = (f.right(), f.sheet.height);
    html! {
        svg viewBox=(f.sheet.view_box()) width=(n(f.sheet.width)) height=(n(below)) role="img"
            aria-label="Turn of hips and shoulders at the top, swing by swing" {
            @for deg in [0, 30, 60, 90, 120] {
                @let at = y(f64::from(deg));
                line.grid x1=(n(left)) x2=(n(end)) y1=(n(at)) y2=(n(at)) {}
                text.axis x=(n(left - 6.0)) y=(n(at + 4.0)) { (deg) "°" }
            }
            @for (i, row) in swings.iter().enumerate() {
                @for ((class, side), e) in [("hips", -shift), ("shoulders", shift)].into_iter().zip(&row.turns) {
                    @if let Some((deg, low, high)) = e.told() {
                        @let x = f.px(i as f64 + 0.5) + side;
                        line class=(class) x1=(n(x)) x2=(n(x)) y1=(n(y(low))) y2=(n(y(high))) {}
                        (mark(class, x, y(deg), &html! { title { (row.name) ": " (class) " " (words::estimate(e)) } }))
                    }
                }
            }
            @for (class, x) in [("hips", left + 3.0), ("shoulders", left + 58.0)] {
                (mark(class, x, below - 12.0, &html! {}))
                text x=(n(x + 8.0)) y=(n(below - 8.0)) { (class) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(name: &str, player: &str, deg: f64) -> Row {
        Row {
            name: name.into(),
            player: Some(player.into()),
            label: "hips <held>".into(),
            still: Some("stills/face_on_top.jpg".into()),
            date: "2026-05-14 09:03".into(),
            created_unix_s: Some(0.0),
            kind: Some(SwingKind::Ball),
            views: "face-on".into(),
            turns: vec![Estimate::new(deg, deg - 4.0, deg + 4.0); COLUMNS.len()],
            warnings: vec!["<b>one view</b>".into()],
            nothing: None,
        }
    }

    #[test]
    fn text_from_files_is_escaped_and_links_are_encoded() {
        let html = page(&[row("<script>\"é #1", "A & B", 41.6)]);
        assert!(html.contains("&lt;script&gt;&quot;é #1"));
        assert!(html.contains("./%3Cscript%3E%22%C3%A9%20%231/report.html"));
        assert!(html.contains("&lt;b&gt;one view&lt;/b&gt;"));
        assert!(html.contains("<strong>42°</strong>"));
        assert!(html.contains("src=\"./%3Cscript%3E%22%C3%A9%20%231/stills/face_on_top%2Ejpg\""));
        assert!(html.contains("hips &lt;held&gt;"));
        assert!(html.contains("img-src 'self' file: data:"));
    }

    #[test]
    fn a_player_with_two_swings_gets_a_chart_and_one_swing_does_not() {
        let html = page(&[
            row("a", "Anna", 40.0),
            row("b", "Anna", 44.0),
            row("c", "Ben", 50.0),
        ]);
        assert!(html.contains("Anna (2 swings)"));
        // A mark of each kind in the legend, and one a swing.
        assert_eq!(html.matches("<rect class=\"hips\"").count(), 3);
        assert_eq!(html.matches("<circle class=\"shoulders\"").count(), 3);
        assert!(html.contains("<title>a: hips 40° (36 to 44)</title>"));
        assert!(!html.contains("Ben (1"));
    }

    #[test]
    fn clips_without_a_result_stand_in_a_list_of_their_own_kind() {
        let rows: Vec<Row> = Nothing::ALL
            .into_iter()
            .map(|nothing| {
                let mut r = row(nothing.key(), "Anna", 1.0);
                r.nothing = Some(Refusal {
                    nothing,
                    text: format!("{}.mp4: told.", nothing.key()),
                });
                r
            })
            .collect();
        let html = page(&rows);
        for kind in Nothing::ALL {
            let list = html.split(&format!("id=\"{}\"", kind.key())).nth(1);
            let list = list.and_then(|l| l.split("</ul>").next()).expect("a list");
            for other in Nothing::ALL {
                let told = list.contains(&format!("{}.mp4: told.", other.key()));
                assert_eq!(told, other == kind, "{list}");
            }
        }
        assert!(!html.contains("report.html") && !html.contains("<table"));
        assert!(html.contains("0 measured"));
    }
}
