//! Runs a job and compares what the program did with its row.

use crate::program::quarterturn;
use crate::program::truth::Truth;
use crate::room::Job;
use crate::table::Row;

/// Farthest from the truth that a face-on clip of its own may be read at the top, degrees, and at
/// impact, seconds. They catch a wrong clock, side or strike; the accuracy table is tighter.
const TURN_DEG: f64 = 15.0;
const IMPACT_S: f64 = 0.035;

pub fn check(job: &Job, row: &Row) -> Result<(), String> {
    let mut command = quarterturn();
    command
        .arg("measure")
        .args(&job.arguments)
        .arg("--out")
        .arg(&job.out)
        .args(["--json", "--jobs", "1"]);
    for (name, value) in &job.variables {
        command.env(name, value);
    }
    let output = command.output().expect("the program runs");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let json = String::from_utf8_lossy(&output.stdout).into_owned();
    let fail = |what: String| {
        let json: String = json.chars().take(400).collect();
        Err(format!(
            "- {}: {what}\n  said: {said}  printed: {json}",
            row.name
        ))
    };
    eprintln!("{}: {} {said}", row.name, output.status);
    if said.contains("panicked") || json.contains("panicked") {
        return fail("it panicked".into());
    }
    if output.status.code() != Some(row.exit) {
        return fail(format!("exit {} instead of {}", output.status, row.exit));
    }
    for words in &row.words {
        if !said.contains(words) && !json.contains(words) {
            return fail(format!("\"{words}\" was not said"));
        }
    }
    let Ok(value) = serde_json::from_str::<serde_json::Value>(&json) else {
        return fail("standard output is not one JSON object".into());
    };
    let ended = if row.exit == 0 || row.exit == 3 {
        let told = if row.exit == 3 {
            one_line(&said).map(drop)
        } else {
            Ok(())
        };
        told.and_then(|()| whole_result(job, &value))
            .and_then(|()| match row.as_filmed {
                true => as_filmed(job, &value),
                false => Ok(()),
            })
    } else {
        one_sentence(job, &said, &value).and_then(|()| nothing_left(job))
    };
    ended.or_else(fail)
}

/// The only line on standard error, less the program's name.
fn one_line(said: &str) -> Result<&str, String> {
    let lines: Vec<&str> = said.lines().collect();
    let [line] = lines.as_slice() else {
        return Err(format!(
            "{} lines on standard error instead of one",
            lines.len()
        ));
    };
    line.strip_prefix("quarterturn: ")
        .ok_or_else(|| "the line does not start with the program's name".into())
}

/// A failure is told once, in one line that ends like a sentence, on both outputs alike.
fn one_sentence(job: &Job, said: &str, value: &serde_json::Value) -> Result<(), String> {
    let text = one_line(said)?;
    if value["error"] != text {
        return Err("the JSON does not hold the same sentence as standard error".into());
    }
    if !text.ends_with('.') || text.chars().any(char::is_control) {
        return Err("it is no plain sentence".into());
    }
    // At least what happened, and what to do.
    if !text.contains(". ") && !text.contains(": ") {
        return Err("it says only one thing".into());
    }
    let named = job.arguments.iter().any(|a| {
        let name = std::path::Path::new(a).file_name().unwrap_or_default();
        let name: String = name.to_string_lossy().chars().flat_map(shown).collect();
        !name.is_empty() && text.contains(&name)
    });
    let variable = job
        .variables
        .iter()
        .any(|(_, v)| text.contains(&*v.to_string_lossy()));
    let place = text.contains(&*job.out.to_string_lossy());
    if !job.arguments.is_empty() && !named && !variable && !place {
        return Err("it names no file".into());
    }
    Ok(())
}

/// Control characters in a name are written out.
fn shown(c: char) -> Vec<char> {
    if c.is_control() {
        c.escape_default().collect()
    } else {
        vec![c]
    }
}

/// Nothing, or the numbers whole: they stand before any picture is drawn.
fn nothing_left(job: &Job) -> Result<(), String> {
    let left: Vec<_> = std::fs::read_dir(&job.out)
        .map(|d| d.flatten().map(|e| e.path()).collect())
        .unwrap_or_default();
    let whole = |p: &std::path::PathBuf| {
        let text = std::fs::read_to_string(p.join("swing.json")).unwrap_or_default();
        serde_json::from_str::<serde_json::Value>(&text).is_ok() && p.join("curves.csv").is_file()
    };
    if left.iter().all(whole) {
        Ok(())
    } else {
        Err(format!("it left {left:?}"))
    }
}

fn whole_result(job: &Job, value: &serde_json::Value) -> Result<(), String> {
    let entries: Vec<_> = std::fs::read_dir(&job.out)
        .map_err(|e| e.to_string())?
        .flatten()
        .collect();
    let [folder] = entries.as_slice() else {
        return Err(format!(
            "{} entries in the results' folder instead of one",
            entries.len()
        ));
    };
    for file in ["swing.json", "curves.csv", "report.html"] {
        if !folder.path().join(file).is_file() {
            return Err(format!("no {file}"));
        }
    }
    if value["schema"] != "quarterturn.swing/2" {
        return Err("the JSON is no result".into());
    }
    Ok(())
}

/// Pelvis, thorax and impact are where the truth has them.
fn as_filmed(job: &Job, value: &serde_json::Value) -> Result<(), String> {
    let truth = Truth::of(job.swing);
    for segment in ["pelvis_turn", "thorax_turn"] {
        let read = value["at"]["top"][format!("{segment}_from_address")]["deg"]
            .as_f64()
            .ok_or_else(|| format!("no {segment} at the top"))?;
        let true_deg = truth.since_address(segment, "top");
        if (read - true_deg).abs() > TURN_DEG {
            return Err(format!(
                "{segment} at the top {read:.1}°, in truth {true_deg:.1}°"
            ));
        }
    }
    let first = value["views"][0]["role"].as_str().unwrap_or("face_on");
    let impact = value["events"]["impact"]["s"].as_f64().ok_or("no impact")?;
    let true_s = truth.event_s("imp") - truth.starts_at_s(first);
    if (impact - true_s).abs() > IMPACT_S {
        return Err(format!("impact at {impact:.3} s, in truth {true_s:.3} s"));
    }
    Ok(())
}
