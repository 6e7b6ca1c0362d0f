//! Curves of turn against time, and a scrubber that moves through them with small pictures.

use maud::{Markup, PreEscaped, html};

use super::scrub::scrub_json;
use super::{PageInput, event_times};
use crate::report::ReportError;
use crate::report::film::readings;
use crate::report::plot::{CurveChart, Line, curve_chart};
use crate::report::words;
use crate::terms::{Event, Measure};

pub fn section(input: &PageInput) -> Result<Markup, ReportError> {
    let events = event_times(input.swing);
    let first = input.curves.time_s.first().copied().unwrap_or(0.0);
    let last = input.curves.time_s.last().copied().unwrap_or(1.0);
    let from = events
        .get(&Event::Address)
        .map_or(first, |t| (t - 0.2).max(first));
    let to = events
        .get(&Event::Finish)
        .map_or(last, |t| (t + 0.2).min(last));
    let lines = Measure::headlines()
        .filter_map(|(m, named)| {
            let series = input.curves.series.get(&m)?;
            let points = input
                .curves
                .time_s
                .iter()
                .copied()
                .zip(series.iter().copied())
                .filter(|(t, _)| *t >= from && *t <= to)
                .collect();
            Some(Line {
                label: named.short,
                class: named.class,
                points,
            })
        })
        .collect();
    let chart = curve_chart(&CurveChart {
        id: "turn-chart",
        title: "Turn of hips and shoulders (rib cage) from address, and their separation, in degrees against time, each with its interval as a band",
        lines,
        events: events.iter().map(|(e, t)| (*t, e.words())).collect(),
        span: (from, to),
        axis: &format!("seconds{}", input.swing.real_time.of_playback()),
        tick_step: 0.25,
        tick_digits: Some(2),
    });
    let data = scrub_data(input)?;
    let start = event_times(input.swing)
        .get(&Event::Top)
        .and_then(|t| input.scrub_s.iter().position(|s| s == t))
        .unwrap_or(0);
    Ok(html! {
        section.through aria-labelledby="h-through" {
            h2 #h-through { "Through the swing" }
            div.scrub-area {
                div.film.screen aria-hidden="true" {
                    @for view in input.views {
                        @if let (Some(role), Some((_, first))) = (view.role, view.scrub.first()) {
                            img.frame data-view=(role.key()) alt="" width=(first.width()) height=(first.height());
                        }
                    }
                }
                div.charted {
                    (chart)
                    ul.legend {
                        @for (_, named) in Measure::headlines() { li.(named.class) { span.key aria-hidden="true" {} (named.short) } }
                    }
                }
            }
            @if input.scrub_s.len() > 1 {
                div.scrubber.screen hidden {
                    label for="scrub" { "Move through the swing" }
                    input #scrub type="range" min="0" max=(input.scrub_s.len() - 1) value=(start) step="1"
                        data-say="{time}; hips {pelvis}; shoulders (rib cage) {thorax}; separation {separation}";
                    div.steps {
                        @for (e, t) in &events {
                            @if let Some(i) = input.scrub_s.iter().position(|s| s == t) {
                                button type="button" data-to=(i) { (e.words()) }
                            }
                        }
                    }
                    dl.now aria-live="off" {
                        dt { "time" } dd data-now="time" {}
                        @for (_, named) in Measure::headlines() { dt.(named.class) { (named.short) } dd data-now=(named.class) {} }
                    }
                }
            }
            script #swing-data type="application/json" { (PreEscaped(data)) }
        }
    })
}

/// What the script needs.
fn scrub_data(input: &PageInput) -> Result<String, ReportError> {
    let events = event_times(input.swing);
    let moments: Vec<_> = input
        .scrub_s
        .iter()
        .map(|t| {
            let event = events.iter().find(|(_, s)| *s == t).map(|(e, _)| *e);
            let r = readings(input.swing, input.curves, event, *t);
            let name = event.map(Event::words);
            serde_json::json!({
                "t": t,
                "time": format!("{} s{}{}", words::decimal(*t, 2), input.swing.real_time.of_playback(), name.map(|n| format!(", {n}")).unwrap_or_default()),
                "pelvis": words::estimate(&r.pelvis),
                "thorax": words::estimate(&r.thorax),
                "separation": words::estimate(&r.separation),
            })
        })
        .collect();
    let stills: usize = input.views.iter().map(|v| v.stills.len()).sum();
    // A page still of this size is about 45 kB; the scrubber takes what they leave.
    let budget = input
        .config
        .page_picture_bytes
        .saturating_sub(stills * 45_000);
    let views: Vec<_> = input
        .views
        .iter()
        .filter_map(|v| Some((v.role?.key().to_owned(), v.scrub.as_slice())))
        .collect();
    scrub_json(&moments, &views, budget, input.config)
}
