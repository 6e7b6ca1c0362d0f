//! One table and one page of all measured swings.

use std::collections::BTreeMap;

use std::path::Path;

use jiff::Timestamp;

use super::error::BatchError;
use super::index_page;
use super::journal::{Entry, State};
use super::planned::{Plan, PlannedSwing, SwingKind, slashed};
use super::table::{COLUMNS, Row};
use crate::file_error::At;
use crate::measure::Refusal;
use crate::report::first::at;
use crate::report::{still_of, untold};
use crate::result::{Estimate, SwingResult, Why, no_formula, read_swing, write_by_rename};

/// What stands under `outcome` where there is a result.
pub(super) const MEASURED: &str = "measured";

/// Writes `swings.csv` and `index.html`, each by rename.
pub(super) fn write(
    out: &Path,
    plan: &Plan,
    journal: &BTreeMap<String, Entry>,
) -> Result<(), BatchError> {
    let rows = rows(out, plan, journal);
    let path = out.join("swings.csv");
    let table = csv(&rows).map_err(std::io::Error::other).at(&path)?;
    write_by_rename(&path, &table)?;
    let page = index_page::page(&rows);
    Ok(write_by_rename(&out.join("index.html"), page.as_bytes())?)
}

fn rows(out: &Path, plan: &Plan, journal: &BTreeMap<String, Entry>) -> Vec<Row> {
    let planned: BTreeMap<&str, &PlannedSwing> =
        plan.swings.iter().map(|s| (s.name.as_str(), s)).collect();
    let mut rows: Vec<Row> = journal
        .values()
        .filter_map(|e| {
            let swing = planned.get(e.name.as_str()).copied();
            match e.state {
                State::Done => {
                    let result = read_swing(&out.join(&e.name).join("swing.json")).ok()?;
                    let mut row = row(&e.name, swing, Some(&result), None);
                    row.still = still_of(&out.join(&e.name)).map(|p| slashed(&p));
                    Some(row)
                }
                State::Nothing(nothing) => {
                    let text = e.reason.clone().unwrap_or_default();
                    Some(row(&e.name, swing, None, Some(Refusal { nothing, text })))
                }
                State::UnderWay => None,
            }
        })
        .collect();
    rows.extend(plan.unreadable.iter().map(|u| {
        let (path, refusal) = u.told();
        row(&path, None, None, Some(refusal))
    }));
    rows.sort_by(|a, b| {
        let time = |r: &Row| r.created_unix_s.unwrap_or(f64::INFINITY);
        time(a)
            .total_cmp(&time(b))
            .then_with(|| a.name.cmp(&b.name))
    });
    rows
}

fn row(
    name: &str,
    swing: Option<&PlannedSwing>,
    result: Option<&SwingResult>,
    nothing: Option<Refusal>,
) -> Row {
    let created_unix_s = swing.and_then(|s| s.created_unix_s);
    let views = result.map_or_else(String::new, |r| {
        let words: Vec<&str> = r.views.iter().map(|v| v.role.words()).collect();
        words.join(" + ")
    });
    Row {
        name: name.to_owned(),
        player: result
            .and_then(|r| r.typed_in.player.clone())
            .or_else(|| swing.and_then(|s| s.told.player.clone())),
        label: result
            .and_then(|r| r.typed_in.label.clone())
            .unwrap_or_default(),
        still: None,
        date: created_unix_s.map_or_else(String::new, date),
        created_unix_s,
        kind: swing.map(|s| s.kind),
        views,
        turns: COLUMNS
            .iter()
            .map(|(event, measure)| {
                result.map_or_else(Estimate::default, |r| at(r, *event, *measure))
            })
            .collect(),
        warnings: result.map_or_else(Vec::new, |r| {
            let warnings = r.warnings.iter().map(|w| w.text.clone());
            untold::doubt(r).into_iter().chain(warnings).collect()
        }),
        nothing,
    }
}

/// `2026-05-14 09:03` in UTC; empty for a time that no calendar has.
pub(super) fn date(unix_s: f64) -> String {
    Timestamp::from_second(unix_s.floor() as i64).map_or_else(
        |_| String::new(),
        |t| t.strftime("%Y-%m-%d %H:%M").to_string(),
    )
}

/// Names of the columns of `swings.csv`.
fn header() -> Vec<String> {
    let mut header: Vec<String> = ["name", "player", "date_utc", "kind", "views"]
        .map(Into::into)
        .to_vec();
    for (event, measure) in COLUMNS {
        let base = format!("{}_{}", event.key(), measure.key());
        header.extend(["deg", "low", "high", "why"].map(|p| format!("{base}_{p}")));
    }
    header.extend(["warnings", "outcome", "reason"].map(Into::into));
    header
}

/// One swing's cells, in the order of the header.
fn cells(r: &Row) -> Vec<String> {
    let mut cells = vec![
        r.name.clone(),
        r.player.clone().unwrap_or_default(),
        r.date.clone(),
        r.kind.map_or("", SwingKind::words).to_owned(),
        r.views.clone(),
    ];
    for e in &r.turns {
        let cell = |v: Option<f64>| v.map_or_else(String::new, |v| format!("{v:.1}"));
        // A number that can't be told is left out: a spreadsheet would compute with it.
        let told = e.told();
        cells.extend([
            cell(told.map(|t| t.0)),
            cell(told.map(|t| t.1)),
            cell(told.map(|t| t.2)),
            if r.nothing.is_none() {
                e.untold().map_or("", Why::key).to_owned()
            } else {
                String::new()
            },
        ]);
    }
    cells.push(r.warnings.join(" "));
    let outcome = r.nothing.as_ref().map_or(MEASURED, |n| n.nothing.key());
    cells.push(outcome.to_owned());
    cells.push(
        r.nothing
            .as_ref()
            .map_or_else(String::new, |n| n.text.clone()),
    );
    cells
}

/// The cells of one swing, by column, for tables that are put together elsewhere.
pub(super) fn cells_of(
    swing: &PlannedSwing,
    result: Option<&SwingResult>,
    nothing: Option<&Refusal>,
) -> serde_json::Map<String, serde_json::Value> {
    let row = row(&swing.name, Some(swing), result, nothing.cloned());
    let cells = cells(&row).into_iter().map(Into::into);
    header().into_iter().zip(cells).collect()
}

fn csv(rows: &[Row]) -> Result<Vec<u8>, csv::Error> {
    let mut w = csv::Writer::from_writer(Vec::new());
    w.write_record(header())?;
    for r in rows {
        w.write_record(cells(r).iter().map(|c| no_formula(c)))?;
    }
    w.into_inner().map_err(|e| e.into_error().into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_written_in_utc() {
        assert_eq!(date(0.0), "1970-01-01 00:00");
        assert_eq!(date(951_782_399.0), "2000-02-28 23:59");
        assert_eq!(date(951_782_400.0), "2000-02-29 00:00");
        assert_eq!(date(1_709_208_000.0), "2024-02-29 12:00");
    }

    #[test]
    fn cells_that_look_like_formulas_are_made_plain() {
        let r = row(
            "=1+1",
            None,
            None,
            Some(Refusal::failed("no person, \"none\"")),
        );
        let text = String::from_utf8(csv(&[r]).expect("written")).expect("UTF-8");
        let line = text.lines().nth(1).expect("a row");
        assert!(line.starts_with("'=1+1,"), "{line}");
        assert!(
            line.ends_with("failed,\"no person, \"\"none\"\"\""),
            "{line}"
        );
    }
}
