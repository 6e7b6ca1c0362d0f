//! Writes what the networks see in a clip as JSON, for work on geometry without the networks.
//!
//! usage: observe CLIP OUT.json [PIPELINE.toml]
//!
//! Every frame is read; with SAMPLE_STILL set in the environment, those that measuring would read.

use std::path::PathBuf;

use quarterturn::config::Pipeline;
use quarterturn::measure::{closer_looks, shows_a_swing};
use quarterturn::pose::{ModelFiles, Reading, Runners, observe};
use quarterturn::progress::{Cancel, Silent};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args_os().skip(1).map(PathBuf::from);
    let (Some(clip), Some(out)) = (args.next(), args.next()) else {
        return Err("usage: observe CLIP OUT.json [PIPELINE.toml]".into());
    };
    let mut pipeline = Pipeline::load(args.next().as_deref())?;
    if std::env::var_os("MIRROR_AVERAGE").is_some() {
        // Every reading the mean of both images, at any frame rate.
        pipeline.pose.mirror_average = true;
        pipeline.pose.mirror_alternate_s = 0.0;
    }
    let files = ModelFiles::find()?;
    let runners = Runners::start(&files, 2)?;
    let track = observe(
        &clip,
        &files,
        &pipeline,
        Reading {
            every_frame: std::env::var_os("SAMPLE_STILL").is_none(),
            part: None,
            runners: &runners,
            closer: closer_looks,
            shows: shows_a_swing,
            // Who does not swing is read as carefully: people with markers are seen so.
            may_show: |_, _, _| true,
        },
        &Silent,
        &Cancel::default(),
    )?;
    std::fs::write(out, serde_json::to_vec(&track)?)?;
    Ok(())
}
