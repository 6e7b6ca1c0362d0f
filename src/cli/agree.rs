//! `quarterturn agree`: estimates against a sensor session.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::Exit;
use super::say::{failed, say};
use super::shared::holds_something;
use crate::agreement::sensor::{Mapping, load_sensor};
use crate::agreement::{
    AgreementError, Comparison, Learned, compare, export, full_json, headline_json, learn,
    load_results, page, written_words,
};
use crate::file_error::At;
use crate::report::words::counted;
use crate::result::{StoredSwing, stem, write_by_rename, write_json};
use crate::worker::Failure;

#[derive(Debug, Args)]
pub struct AgreeArgs {
    /// Folder of measured swings, or one measured swing
    pub results: PathBuf,
    /// Sensor recordings of the same swings (CSV or C3D)
    #[arg(required_unless_present = "c3d")]
    pub sensor: Vec<PathBuf>,
    /// New folder for the page, figures and exports
    #[arg(long)]
    pub out: PathBuf,
    /// TOML file that tells the sensor file's names, signs, units, rates and marker labels
    #[arg(long, value_name = "FILE")]
    pub mapping: Option<PathBuf>,
    /// Write a studio calibration for `measure --calibration`
    #[arg(long, value_name = "FILE", requires = "sensor")]
    pub learn: Option<PathBuf>,
    /// Also write every measured swing as C3D: segment axes, angles, events
    #[arg(long)]
    pub c3d: bool,
    /// Print one JSON object on standard output, nothing else
    #[arg(long)]
    pub json: bool,
    /// Say nothing but errors
    #[arg(long)]
    pub quiet: bool,
}

pub fn run(args: &AgreeArgs) -> Exit {
    work(args).unwrap_or_else(|e| failed(args.json, e.into()))
}

impl From<AgreementError> for Failure {
    fn from(error: AgreementError) -> Self {
        match error {
            AgreementError::TooLittle(_) | AgreementError::Nothing(_) => Self::nothing(error),
            _ => Self::usage(error),
        }
    }
}

fn work(args: &AgreeArgs) -> Result<Exit, AgreementError> {
    for path in [Some(&args.out), args.learn.as_ref()].into_iter().flatten() {
        if holds_something(path) {
            let why = "exists already and is never overwritten. Give another name, or remove it.";
            return Err(AgreementError::bad(path, why));
        }
    }
    let mapping = match &args.mapping {
        Some(path) => Mapping::read(path)?,
        None => Mapping::default(),
    };
    let measured = load_results(&args.results)?;
    let mut sensor = Vec::new();
    for path in &args.sensor {
        sensor.extend(load_sensor(path, &mapping)?);
    }
    let comparison = (!args.sensor.is_empty()).then(|| compare(&measured, &sensor, &mapping));
    std::fs::create_dir_all(&args.out).at(&args.out)?;
    if args.c3d {
        write_c3d(args, &measured)?;
    }
    let Some(c) = comparison else {
        if args.json {
            say!("{}", json!({"measures": {}, "swings": {}}));
        } else if !args.quiet {
            say!(
                "{} written as C3D to {}",
                counted(measured.len(), "swing"),
                args.out.display()
            );
        }
        return Ok(Exit::Done);
    };
    let learned = args.learn.as_ref().map(|path| teach(path, args, &c));
    let shown = learned.as_ref().map(|l| match l {
        Ok(l) => Ok(l.clone()),
        Err(e) => Err(e.to_string()),
    });
    let html = page::page(&c, shown.as_ref());
    write_by_rename(&args.out.join("agreement.html"), html.as_bytes())?;
    let readings = args.out.join("readings.csv");
    let table = export::long_csv(&c).map_err(std::io::Error::other);
    write_by_rename(&readings, &table.at(&readings)?)?;
    write_json(&args.out.join("agreement.json"), &full_json(&c))?;
    if args.json {
        say!("{}", headline_json(&c));
    } else if !args.quiet {
        tell(args, &c, learned.as_ref());
    }
    for (name, why) in &c.left_out {
        eprintln!("{name}: left out: {why}.");
    }
    if let Some(Err(e)) = learned {
        return Err(e);
    }
    Ok(if c.swings.is_empty() {
        eprintln!(
            "No swing could be compared. The page says why: {}",
            args.out.join("agreement.html").display()
        );
        Exit::Nothing
    } else if c.left_out.is_empty() {
        Exit::Done
    } else {
        Exit::SomeFailed
    })
}

fn teach(path: &Path, args: &AgreeArgs, c: &Comparison) -> Result<Learned, AgreementError> {
    let files: Vec<String> = args
        .sensor
        .iter()
        .filter_map(|p| Some(p.file_name()?.to_string_lossy().into_owned()))
        .collect();
    let learned = learn(c, &stem(path), &files)?;
    learned.calibration.write(path)?;
    Ok(learned)
}

fn write_c3d(args: &AgreeArgs, measured: &[StoredSwing]) -> Result<(), AgreementError> {
    for m in measured {
        let path = args.out.join(format!("{}.c3d", m.name()));
        let bytes = export::to_c3d(&m.swing, &m.curves)
            .map_err(|e| AgreementError::bad(&m.folder, e.to_string()))?;
        write_by_rename(&path, &bytes)?;
    }
    Ok(())
}

fn tell(args: &AgreeArgs, c: &Comparison, learned: Option<&Result<Learned, AgreementError>>) {
    say!(
        "{} compared; estimate less sensor, degrees, address to finish:",
        counted(c.swings.len(), "swing")
    );
    for (m, a) in &c.measures {
        let Some(curve) = &a.curve else { continue };
        let l = &curve.limits;
        let range = |low: Option<f64>, high: Option<f64>| match (low, high) {
            (Some(a), Some(b)) => format!("{a:+.1} to {b:+.1}"),
            _ => "none".to_owned(),
        };
        let i = l.bias_interval;
        say!(
            "  {:<32} bias {:+.1} (95 %: {})  limits {}  sensor inside our interval {}",
            m.key(),
            l.bias,
            range(i.map(|i| i.low), i.map(|i| i.high)),
            range(l.low, l.high),
            curve.coverage.map_or("not known".to_owned(), |c| format!(
                "{:.0} %",
                100.0 * c.share
            )),
        );
    }
    for s in &c.swings {
        say!(
            "  {}: sensor's clock {:+.4} s from ours ({:+.4} to {:+.4}), by {}",
            s.name,
            s.shift.s,
            s.shift.low,
            s.shift.high,
            s.shift_from
        );
        for n in &s.notes {
            say!("    {n}");
        }
    }
    for w in written_words(c) {
        say!("{w}");
    }
    if let (Some(Ok(l)), Some(path)) = (learned, &args.learn) {
        for v in &l.calibration.views {
            say!(
                "Learnt for {}: {} measures from {} swings of {} players; readings inside, each player left out in turn: {:.0} % before, {:.0} % after.",
                v.set_up.words(),
                v.measures.len(),
                v.evidence.swings,
                v.evidence.players,
                100.0 * v.evidence.coverage_before,
                100.0 * v.evidence.coverage_after
            );
        }
        for w in &l.left_out {
            say!("Not learnt: {w}.");
        }
        say!("Calibration: {}", path.display());
    }
    say!("Page: {}", args.out.join("agreement.html").display());
}
