//! `comparison.html`: both swings on the same rulers, curves and moments.

use maud::{Markup, PreEscaped, html};

use super::pictures::{Film, films_json, in_events, moments, seconds, steps, when};
use super::{Difference, TwoSwings, Word};
use crate::config::ReportConfig;
use crate::report::cautions::SEPARATION_STORY;
use crate::report::film::readings;
use crate::report::page::{SCRUB_SCRIPT, cautions, document, event_times, explanation, know_first};
use crate::report::plot::{self, CurveChart, Line, Ruler, curve_chart, ruler, ruler_span};
use crate::report::untold::{CANT_TELL, short};
use crate::report::{ReportError, words};
use crate::result::{Estimate, StoredSwing};
use crate::terms::{Event, Headline, Measure, Role};

pub fn page(
    c: &TwoSwings,
    swings: [&StoredSwing; 2],
    films: &[Film],
    config: &ReportConfig,
) -> Result<String, ReportError> {
    let through = through(c, swings, films, config)?;
    let title = format!("{} and {}, side by side", c.first, c.second);
    let body = html! {
        (plot::definitions())
        header.top {
            p.kind { "Two swings side by side, synchronised by their events" }
            h1 { (c.first) " and " (c.second) }
            (typed(c))
        }
        main {
            (know_first(&c.warnings))
            section.headline aria-labelledby="h-top" {
                h2 #h-top { "At the top of the backswing" }
                div.cards {
                    @for (m, _) in Measure::headlines() {
                        @if let Some(d) = c.differences.iter().find(|d| d.event == Event::Top && d.measure == m) {
                            article.card {
                                h3 { (m.words()) }
                                @if d.word == Word::CantTell {
                                    p.big { (CANT_TELL) }
                                    p.word { "second less first: " (delta(d)) }
                                } @else {
                                    p.big { (delta(d)) }
                                    p.word { "second less first: " b { (d.word.text()) } }
                                }
                                (both(c, d))
                            }
                        }
                    }
                }
                @for s in &c.sentences { p.story { (s) } }
                p.story { (SEPARATION_STORY) }
            }
            (through)
            (all(c))
            section.reading aria-labelledby="h-rule" {
                h2 #h-rule { "How the words are chosen" }
                p { (c.rule) }
                p { "Angles in this order: " (c.angle_order) ". Plus turns are closed, away from the target; minus turns are open. \"Shoulders (rib cage)\" means the rib cage." }
            }
            (cautions())
        }
        footer { p { "Made by quarterturn " (c.tool_version) "." } }
    };
    Ok(document(&title, &body, Some(SCRUB_SCRIPT)))
}

fn typed(c: &TwoSwings) -> Markup {
    html! {
        @if !c.typed_in.is_empty() {
            table.typed {
                caption { "Typed in by the coach" }
                thead { tr { td {} th scope="col" { (c.first) } th scope="col" { (c.second) } } }
                tbody {
                    @for t in &c.typed_in {
                        tr {
                            th scope="row" { (t.name) }
                            td { (t.first.as_deref().unwrap_or("not given")) }
                            td { (t.second.as_deref().unwrap_or("not given")) }
                        }
                    }
                }
            }
        }
    }
}

/// "+22° (17 to 27)": a difference always shows its sign. Where there is none, why.
fn delta(d: &Difference) -> Markup {
    let plus = d.difference.deg.is_some_and(|v| v.round() > 0.0);
    let raw = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
    html! {
        data.number value=(raw(d.difference.deg)) data-event=(d.event.key()) data-measure=(d.measure.key())
            data-low=(raw(d.difference.low)) data-high=(raw(d.difference.high)) {
            @if plus { "+" }
            @match d.difference.untold() {
                Some(why) => { (short(why)) },
                None => { (words::estimate(&d.difference)) },
            }
        }
    }
}

/// Both estimates on one ruler, with their numbers.
fn both(c: &TwoSwings, d: &Difference) -> Markup {
    let span = ruler_span(
        c.differences
            .iter()
            .filter(|o| o.measure == d.measure)
            .flat_map(|o| [o.first.told(), o.second.told()])
            .flatten()
            .flat_map(|(_, low, high)| [low, high]),
    );
    let title = format!("{} at {}", d.measure.words(), d.event);
    let drawn = ruler(&Ruler {
        title: &title,
        marks: vec![("1st", d.first), ("2nd", d.second)],
        strips: Vec::new(),
        span,
    });
    html! {
        (drawn)
        dl.two {
            dt { "1st, " (c.first) } dd { (words::estimate_or_why(&d.first)) }
            dt { "2nd, " (c.second) } dd { (words::estimate_or_why(&d.second)) }
        }
    }
}

fn all(c: &TwoSwings) -> Markup {
    html! {
        section.measures aria-labelledby="h-all" {
            h2 #h-all { "Every measure at every moment" }
            @for event in Event::ALL {
                @if c.differences.iter().any(|d| d.event == event) {
                    details.event open[event == Event::Top] {
                        summary { h3 { (event.words()) } }
                        ul.rows {
                            @for d in c.differences.iter().filter(|d| d.event == event) {
                                li.row {
                                    div.what { span.name { (d.measure.words()) } (explanation(d.measure)) }
                                    div.value { (delta(d)) " " span.word { (d.word.text()) } }
                                    div.ruled { (both(c, d)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn chart(measure: Measure, named: Headline, both: [&StoredSwing; 2]) -> Markup {
    let title = measure.words();
    let lines = both
        .iter()
        .zip(["first", "second"])
        .filter_map(|(m, class)| {
            let times = event_times(&m.swing);
            let series = m.curves.series.get(&measure)?;
            let points: Vec<(f64, Estimate)> = m
                .curves
                .time_s
                .iter()
                .zip(series)
                .filter_map(|(t, e)| Some((in_events(&times, *t)?, *e)))
                .collect();
            Some(Line {
                label: &m.swing.name,
                class,
                points,
            })
        })
        .collect();
    let told = format!(
        "{title} in both swings, in degrees, against time counted in events, each with its interval as a band"
    );
    let drawn = curve_chart(&CurveChart {
        id: &format!("chart-{}", named.class),
        title: &told,
        lines,
        events: Event::ALL
            .into_iter()
            .enumerate()
            .map(|(i, e)| (i as f64, e.words()))
            .collect(),
        span: (-0.15, 3.15),
        axis: "each part of the swing stretched to the same length",
        tick_step: 1.0,
        tick_digits: None,
    });
    html! { h3 { (title) } (drawn) }
}

fn through(
    c: &TwoSwings,
    swings: [&StoredSwing; 2],
    films: &[Film],
    config: &ReportConfig,
) -> Result<Markup, ReportError> {
    let data = scrub_data(swings, films, config)?;
    let pair = |role: Role| -> Vec<&Film> { films.iter().filter(|f| f.role == role).collect() };
    Ok(html! {
        section.through aria-labelledby="h-through" {
            h2 #h-through { "Through both swings" }
            div.films { @for role in Role::ALL {
                @let shown = pair(role);
                @if !shown.is_empty() {
                    div.film.screen {
                        @for f in shown {
                            @if let Some((_, p)) = f.pictures.first() {
                                figure.side {
                                    img.frame data-view=(key(f)) alt="" width=(p.width()) height=(p.height());
                                    figcaption { (if f.index == 1 { &c.second } else { &c.first }) ", " (role.words()) }
                                }
                            }
                        }
                    }
                }
            } }
            div.scrubber.screen hidden {
                label for="scrub" { "Move through both swings" }
                input #scrub type="range" min="0" max=(moments().len() - 1) value="10" step="1"
                    data-say="first: hips {first-pelvis}, shoulders (rib cage) {first-thorax}; second: hips {second-pelvis}, shoulders (rib cage) {second-thorax}";
                (steps())
                table.now-two {
                    thead { tr { td {} th scope="col" { (c.first) } th scope="col" { (c.second) } } }
                    tbody {
                        @for (key, label) in [("time", "time"), ("pelvis", "hips"), ("thorax", "shoulders (rib cage)"), ("separation", "separation")] {
                            tr { th scope="row" { (label) } td data-now=(format!("first-{key}")) {} td data-now=(format!("second-{key}")) {} }
                        }
                    }
                }
            }
            div.charts {
                @for (m, named) in Measure::headlines() { div { (chart(m, named, swings)) } }
            }
            ul.legend {
                li.first { span.key aria-hidden="true" {} (c.first) " (1st)" }
                li.second { span.key aria-hidden="true" {} (c.second) " (2nd)" }
            }
            script #swing-data type="application/json" { (PreEscaped(data)) }
        }
    })
}

fn key(f: &Film) -> String {
    format!(
        "{}-{}",
        if f.index == 1 { "second" } else { "first" },
        f.role.key()
    )
}

fn scrub_data(
    both: [&StoredSwing; 2],
    films: &[Film],
    config: &ReportConfig,
) -> Result<String, ReportError> {
    let all = moments();
    let rows: Vec<_> = all
        .iter()
        .map(|m| {
            let mut row = serde_json::Map::new();
            row.insert("t".into(), (*m).into());
            // Whole moments are events.
            let event = (m.fract() == 0.0)
                .then(|| Event::ALL.get(*m as usize).copied())
                .flatten();
            for (who, measured) in ["first", "second"].into_iter().zip(both) {
                let t = seconds(&event_times(&measured.swing), *m);
                let r = t
                    .map(|t| readings(&measured.swing, &measured.curves, event, t))
                    .unwrap_or_default();
                let cells = [
                    ("time", when(&measured.swing, t)),
                    ("pelvis", words::estimate(&r.pelvis)),
                    ("thorax", words::estimate(&r.thorax)),
                    ("separation", words::estimate(&r.separation)),
                ];
                for (name, text) in cells {
                    row.insert(format!("{who}-{name}"), text.into());
                }
            }
            serde_json::Value::Object(row)
        })
        .collect();
    films_json(&rows, films, key, config)
}
