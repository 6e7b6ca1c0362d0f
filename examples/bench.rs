//! Times the whole reading of clips against its parts, in one run, on all cores.
//!
//! usage: bench CLIP [ROUNDS]
//!
//! Prints `ratio NAME VALUE` and `rate NAME FRAMES_PER_SECOND` lines, frames for a second of the processor's
//! work where the name says so. Every figure is the median
//! over the rounds; the kinds take turns, so that a machine that slows down slows them alike.
//! As many clips are read at the same time as there are cores, one thread for the networks of each,
//! as `quarterturn folder` does.

use std::path::{Path, PathBuf};
use std::time::Instant;

use ort::value::{Tensor, TensorRef};
use quarterturn::clip::FrameReader;
use quarterturn::config::Pipeline;
use quarterturn::measure::{closer_looks, may_show_a_swing, shows_a_swing};
use quarterturn::pose::{
    FlipAugmentation, ModelFiles, Reading, Runners, ViewTrack, observe, open_session, sample_crop,
};
use quarterturn::progress::{Cancel, Silent};

type Fallible<T> = Result<T, Box<dyn std::error::Error + Send + Sync>>;

fn main() -> Fallible<()> {
    let mut args = std::env::args_os().skip(1);
    let clip = PathBuf::from(args.next().ok_or("usage: bench CLIP [ROUNDS]")?);
    let rounds: usize = match args.next() {
        Some(n) => n.to_string_lossy().parse()?,
        None => 5,
    };
    let files = ModelFiles::find()?;
    let pipeline = Pipeline::default();
    let cores = std::thread::available_parallelism()?.get();
    let track = read(&clip, &files, &pipeline, true)?;
    let frames = track.observations.len();
    let crops = prepare(&clip, &files, &pipeline, &track)?;

    let mut times: [Vec<f64>; 4] = Default::default();
    let mut work = Vec::new();
    for _ in 0..rounds.max(1) {
        times[0].push(together(cores, || bare(&files, &crops))?);
        let before = processor_s();
        times[1].push(together(cores, || {
            read(&clip, &files, &pipeline, true).map(drop)
        })?);
        work.extend(processor_s().zip(before).map(|(now, then)| now - then));
        times[2].push(together(cores, || {
            read(&clip, &files, &pipeline, false).map(drop)
        })?);
        times[3].push(together(cores, || decode(&clip, &pipeline))?);
    }
    let rate = times.map(|mut t| {
        t.sort_by(f64::total_cmp);
        (frames * cores) as f64 / t[t.len() / 2]
    });
    let [bare, whole, sampled, decoding] = rate;
    println!("rate bare_networks {bare:.2}");
    println!("rate whole_every_frame {whole:.2}");
    work.sort_by(f64::total_cmp);
    if let Some(seconds) = work.get(work.len() / 2) {
        let rate = (frames * cores) as f64 / seconds;
        println!("rate whole_every_frame_processor {rate:.2}");
    }
    println!("rate whole_sampled {sampled:.2}");
    println!("rate decoding {decoding:.2}");
    println!("ratio whole_vs_bare_networks {:.3}", whole / bare);
    println!("ratio sampled_vs_bare_networks {:.3}", sampled / bare);
    println!("ratio whole_vs_decoding {:.3}", whole / decoding);
    Ok(())
}

/// Processor seconds of this process so far; `None` where the system does not tell as Linux does.
fn processor_s() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = stat.rsplit(')').next()?.split_whitespace().collect();
    let ticks = |i: usize| fields.get(i)?.parse::<f64>().ok();
    // Linux counts these in hundredths of a second on every architecture that this runs on.
    Some((ticks(11)? + ticks(12)?) / 100.0)
}

/// Runs `work` on each core at the same time; seconds until all are done.
fn together(cores: usize, work: impl Fn() -> Fallible<()> + Sync) -> Fallible<f64> {
    let began = Instant::now();
    std::thread::scope(|scope| {
        let all: Vec<_> = (0..cores).map(|_| scope.spawn(&work)).collect();
        all.into_iter()
            .try_for_each(|t| t.join().map_err(|_| "a thread panicked")?)
    })?;
    Ok(began.elapsed().as_secs_f64())
}

fn read(
    clip: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    every_frame: bool,
) -> Fallible<ViewTrack> {
    let runners = Runners::start(files, 1)?;
    let reading = Reading {
        every_frame,
        part: None,
        runners: &runners,
        closer: closer_looks,
        shows: shows_a_swing,
        may_show: may_show_a_swing,
    };
    Ok(observe(
        clip,
        files,
        pipeline,
        reading,
        &Silent,
        &Cancel::default(),
    )?)
}

fn decode(clip: &Path, pipeline: &Pipeline) -> Fallible<()> {
    for frame in FrameReader::open(clip, &pipeline.clip)? {
        std::hint::black_box(frame?);
    }
    Ok(())
}

/// The networks' inputs for one frame.
struct Crops {
    /// `None` where one network reads all.
    landmarks: Option<Vec<f32>>,
    torso: Vec<f32>,
    /// FlipAugmentation of the torso crop that are read.
    torso_runs: usize,
}

/// The crops that the whole reading looked at.
fn prepare(
    clip: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    track: &ViewTrack,
) -> Fallible<Vec<Crops>> {
    const SIZE: usize = 256;
    let torso = open_session(files, &files.torso, &["rotation"])?;
    let reads_all = torso.outputs().iter().any(|o| o.name() == "landmarks");
    let alone = reads_all && pipeline.pose.one_network;
    let mut all = Vec::new();
    let mut former = None;
    for (frame, seen) in FrameReader::open(clip, &pipeline.clip)?.zip(&track.observations) {
        let image = frame?.image;
        let Some(person) = &seen.person else {
            former = None;
            continue;
        };
        let Some(torso) = &person.torso else { continue };
        let images = FlipAugmentation::after(former, seen.time_s, &pipeline.pose);
        former = Some((seen.time_s, images));
        let rows = sample_crop(&image, &torso.region, SIZE, 1.0 / 255.0, 0.0);
        let planes = (0..3)
            .flat_map(|c| rows.iter().skip(c).step_by(3).copied())
            .collect();
        all.push(Crops {
            landmarks: (!alone)
                .then(|| sample_crop(&image, &person.region, SIZE, 1.0 / 255.0, 0.0)),
            torso: planes,
            torso_runs: images.runs(),
        });
    }
    Ok(all)
}

/// The networks alone, loaded as the whole reading loads them; the torso network as often a frame as
/// the reading runs it (twice where it reads the mirror image too).
fn bare(files: &ModelFiles, crops: &[Crops]) -> Fallible<()> {
    let mut landmarks = open_session(files, &files.landmarks, &["landmarks"])?;
    let mut torso = open_session(files, &files.torso, &["rotation"])?;
    let told = torso.inputs().iter().any(|i| i.name() == "mirrored");
    for c in crops {
        if let Some(rows) = &c.landmarks {
            let input = TensorRef::from_array_view(([1usize, 256, 256, 3], rows.as_slice()))?;
            std::hint::black_box(landmarks.run(ort::inputs!["image" => input])?.len());
        }
        for _ in 0..c.torso_runs {
            let input = TensorRef::from_array_view(([1usize, 3, 256, 256], c.torso.as_slice()))?;
            let said = if told {
                let no = || Tensor::from_array(([1usize], vec![false]));
                torso.run(ort::inputs![
                    "image" => input, "mirrored" => no()?, "contradicted" => no()?
                ])?
            } else {
                torso.run(ort::inputs!["image" => input])?
            };
            std::hint::black_box(said.len());
        }
    }
    Ok(())
}
