//! Sensor CSV: a header, one row a sample, several swings by `# swing:` lines or a column.
//! Pure over bytes; memory is bounded by the size of the input.

use std::path::Path;

use super::mapping::{AngleUnit, Mapping, TimeUnit};
use super::{SensorSwing, derive};
use crate::agreement::error::AgreementError;
use crate::terms::Measure;

/// Where the columns of the present header stand.
struct Columns {
    time: Option<usize>,
    swing: Option<usize>,
    event: Option<usize>,
    measures: Vec<(Measure, usize, AngleUnit, f64)>,
}

/// Parses a sensor CSV; `path` is for messages only.
///
/// # Errors
/// [`AgreementError::Bad`] with the line that can't be understood and what to do.
pub fn read_csv_bytes(
    bytes: &[u8],
    mapping: &Mapping,
    path: &Path,
) -> Result<Vec<SensorSwing>, AgreementError> {
    let text = std::str::from_utf8(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes))
        .map_err(|_| AgreementError::bad(path, "not UTF-8 text. Export it again as UTF-8."))?;
    let mut reader = Reader {
        mapping,
        path,
        columns: None,
        swings: Vec::new(),
        marked: String::new(),
        fresh: false,
        row_in_swing: 0,
    };
    for (i, line) in text.lines().enumerate().skip(mapping.skip_lines) {
        reader.line(i + 1, line.trim())?;
    }
    reader.finish()
}

struct Reader<'a> {
    mapping: &'a Mapping,
    path: &'a Path,
    columns: Option<Columns>,
    swings: Vec<SensorSwing>,
    /// Name given by the last `# swing:` line.
    marked: String,
    /// A `# swing:` line came and no sample since.
    fresh: bool,
    row_in_swing: usize,
}

impl Reader<'_> {
    fn bad(&self, line: usize, detail: impl std::fmt::Display) -> AgreementError {
        AgreementError::bad(self.path, format!("line {line}: {detail}"))
    }

    fn line(&mut self, number: usize, line: &str) -> Result<(), AgreementError> {
        if line.is_empty() {
            return Ok(());
        }
        if let Some(comment) = line.strip_prefix('#') {
            return self.comment(number, comment.trim());
        }
        let cells = self.cells(number, line)?;
        let known = self.columns.take();
        let words = |t: &String| !self.missing(t) && self.number(t).is_none();
        // A header may be repeated, or differ, after a swing line.
        let header = |c: &Columns| match c.time {
            Some(i) => self.fresh && cells.get(i).is_some_and(|t| self.number(t).is_none()),
            None => {
                let mut titles = c.measures.iter().map(|(_, i, ..)| cells.get(*i));
                titles.all(|t| t.is_some_and(words))
            }
        };
        match known.filter(|c| !header(c)) {
            Some(columns) => {
                self.sample(number, &cells, &columns)?;
                self.columns = Some(columns);
            }
            None => self.columns = Some(self.header(number, &cells)?),
        }
        Ok(())
    }

    fn cells(&self, number: usize, line: &str) -> Result<Vec<String>, AgreementError> {
        let delimiter = self.mapping.delimiter.bytes().next().unwrap_or(b',');
        let mut csv = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .flexible(true)
            .from_reader(line.as_bytes());
        match csv.records().next() {
            Some(Ok(r)) => Ok(r.iter().map(|c| c.trim().to_owned()).collect()),
            Some(Err(e)) => Err(self.bad(number, format!("{e}. Export the file again."))),
            None => Ok(Vec::new()),
        }
    }

    fn comment(&mut self, number: usize, text: &str) -> Result<(), AgreementError> {
        if let Some(name) = text.strip_prefix("swing:") {
            self.marked = name.trim().to_owned();
            self.fresh = true;
        } else if let Some(rest) = text.strip_prefix("event:") {
            let mut words = rest.split_whitespace().rev();
            let (time, name) = (words.next(), words.rev().collect::<Vec<_>>().join(" "));
            let event = self.mapping.event(&name).ok_or_else(|| {
                self.bad(number, format!("event \"{name}\" is unknown. Use address, top, impact or finish, or add it to [events] of the mapping."))
            })?;
            let seconds = time.and_then(|t| self.number(t)).ok_or_else(|| {
                self.bad(
                    number,
                    "an event line reads `# event: top 1.234`. Correct it.",
                )
            })?;
            self.swing_for(self.marked.clone());
            if let Some(s) = self.swings.last_mut() {
                s.events.insert(event, seconds);
            }
        }
        Ok(())
    }

    fn header(&self, number: usize, cells: &[String]) -> Result<Columns, AgreementError> {
        let find = |name: &str| cells.iter().position(|c| c == name);
        let m = self.mapping;
        let time_name = m.time.column.as_deref().unwrap_or("time_s");
        let time = find(time_name);
        if time.is_none() && (m.time.column.is_some() || m.time.rate_hz.is_none()) {
            return Err(self.bad(number, format!("no column \"{time_name}\" in the header. Name the time column under [time] of a mapping file, or give rate_hz there.")));
        }
        let mut measures = Vec::new();
        for measure in Measure::ALL {
            if let Some(rule) = m.columns.get(&measure) {
                let at = find(&rule.column).ok_or_else(|| {
                    let have = cells.join(", ");
                    self.bad(number, format!("no column \"{}\", which the mapping names for {measure}. The header has: {have}.", rule.column))
                })?;
                measures.push((measure, at, rule.unit, f64::from(rule.sign)));
            } else if let Some(at) = find(&format!("{measure}_deg")) {
                measures.push((measure, at, AngleUnit::Deg, 1.0));
            }
        }
        if measures.is_empty() {
            return Err(self.bad(number, format!("no column of a measure in the header ({}). Name columns as in `thorax_turn_deg`, or give a mapping file.", cells.join(", "))));
        }
        Ok(Columns {
            time,
            swing: find(&m.swing_column),
            event: find(&m.event_column),
            measures,
        })
    }

    fn missing(&self, cell: &str) -> bool {
        cell.is_empty()
            || self
                .mapping
                .missing
                .iter()
                .any(|m| m.eq_ignore_ascii_case(cell))
    }

    fn number(&self, cell: &str) -> Option<f64> {
        let text = if self.mapping.decimal == "," {
            cell.replace(',', ".")
        } else {
            cell.to_owned()
        };
        text.parse::<f64>().ok().filter(|v| v.is_finite())
    }

    /// Makes the swing of this name the last one, if it isn't.
    fn swing_for(&mut self, name: String) {
        if self.swings.last().is_none_or(|s| s.name != name) {
            // Rows of one swing may come in several blocks.
            match self.swings.iter().position(|s| s.name == name) {
                Some(i) => {
                    let swing = self.swings.remove(i);
                    self.row_in_swing = swing.time_s.len();
                    self.swings.push(swing);
                }
                None => {
                    self.row_in_swing = 0;
                    self.swings.push(SensorSwing {
                        name,
                        ..SensorSwing::default()
                    });
                }
            }
        }
    }

    fn sample(
        &mut self,
        number: usize,
        cells: &[String],
        columns: &Columns,
    ) -> Result<(), AgreementError> {
        let cell = |i: usize| cells.get(i).map_or("", String::as_str);
        let name = match columns.swing {
            Some(i) => cell(i).to_owned(),
            None => self.marked.clone(),
        };
        self.fresh = false;
        self.swing_for(name);
        let rule = &self.mapping.time;
        let time = match columns.time {
            Some(i) => {
                let v = self.number(cell(i)).ok_or_else(|| {
                    self.bad(
                        number,
                        format!("\"{}\" is not a time. Correct or remove the row.", cell(i)),
                    )
                })?;
                match (rule.unit, rule.rate_hz) {
                    (TimeUnit::S, _) => v,
                    (TimeUnit::Ms, _) => v / 1e3,
                    (TimeUnit::Us, _) => v / 1e6,
                    (TimeUnit::Frames, rate) => v / rate.unwrap_or(1.0),
                }
            }
            None => self.row_in_swing as f64 / rule.rate_hz.unwrap_or(1.0),
        };
        self.row_in_swing += 1;
        let mut values = Vec::with_capacity(columns.measures.len());
        for (measure, i, unit, sign) in &columns.measures {
            let text = cell(*i);
            let value = if self.missing(text) {
                None
            } else {
                Some(self.number(text).ok_or_else(|| {
                    self.bad(number, format!("\"{text}\" under {measure} is not a number. Correct it, or list the text under `missing` in the mapping."))
                })?)
            };
            values.push((*measure, value.map(|v| sign * unit.to_degrees(v))));
        }
        let event = match columns.event.map(cell) {
            Some(word) if !self.missing(word) => {
                Some(self.mapping.event(word).ok_or_else(|| {
                    self.bad(
                        number,
                        format!("event \"{word}\" is unknown. Add it to [events] of the mapping."),
                    )
                })?)
            }
            _ => None,
        };
        let path = self.path;
        let Some(swing) = self.swings.last_mut() else {
            return Ok(());
        };
        if let Some(last) = swing.time_s.last()
            && time <= *last
        {
            return Err(AgreementError::bad(
                path,
                format!(
                    "line {number}: time {time} s doesn't come after {last} s. Mark where a new swing begins with a `# swing: NAME` line or a swing column."
                ),
            ));
        }
        let before = swing.time_s.len();
        swing.time_s.push(time);
        for (m, v) in values {
            let series = swing.series.entry(m).or_default();
            series.resize(before, None);
            series.push(v);
        }
        if let Some(e) = event {
            swing.events.insert(e, time);
        }
        Ok(())
    }

    fn finish(mut self) -> Result<Vec<SensorSwing>, AgreementError> {
        self.swings.retain(|s| !s.time_s.is_empty());
        if self.swings.is_empty() {
            return Err(AgreementError::bad(
                self.path,
                "no samples. A sensor file needs a header with time_s and measures such as thorax_turn_deg, and one row a sample.",
            ));
        }
        for swing in &mut self.swings {
            let n = swing.time_s.len();
            for series in swing.series.values_mut() {
                series.resize(n, None);
            }
            derive::unwrap_turns(swing);
            if let Some(to) = self.mapping.swings.get(&swing.name) {
                swing.name.clone_from(to);
            }
        }
        Ok(self.swings)
    }
}
