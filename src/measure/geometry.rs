//! The cameras of a prepared swing.

use std::collections::BTreeSet;

use nalgebra::{DMatrix, Vector2, Vector3};

use super::options::{Known, Options};
use super::prepare::Prepared;
use crate::camera::{
    Attitude, Camera, CameraFit, FittedView, JOINTS, JointSample, PARAMETERS, Problem,
    STILL_POINTS, StillPoint, ViewData, role_azimuth, solve,
};
use crate::config::CameraConfig;
use crate::find::Phases;
use crate::math::rotation::wrap;
use crate::math::series::nearest;
use crate::math::stats::median;
use crate::pair::{Instant, RotationSample, Seen, ViewSeries};
use crate::pose::{TorsoPoint, landmark};
use crate::warning::Warning;

/// The joints that two views must agree on.
const JOINT_POINTS: [TorsoPoint; JOINTS] = [
    TorsoPoint::HipL,
    TorsoPoint::HipR,
    TorsoPoint::KneeL,
    TorsoPoint::KneeR,
    TorsoPoint::AnkleL,
    TorsoPoint::AnkleR,
    TorsoPoint::ShoulderL,
    TorsoPoint::ShoulderR,
    TorsoPoint::WristL,
    TorsoPoint::WristR,
];

/// The still points of one view: medians over its still stretch.
fn still_points(view: &ViewSeries, swing: &Phases, config: &CameraConfig) -> [Seen; STILL_POINTS] {
    let to = swing.begins_s();
    let near = config.still_reach * (swing.top.time_s - to).max(0.0);
    let still: Vec<&Instant> = view
        .instants
        .iter()
        .filter(|i| (swing.still_from_s - near..=to + near).contains(&i.time_s))
        .collect();
    let middle = |pick: &dyn Fn(&Instant) -> Seen| -> Seen {
        let seen: Vec<(Vector2<f64>, f64)> = still.iter().filter_map(|i| pick(i)).collect();
        let x = median(&seen.iter().map(|s| s.0.x).collect::<Vec<_>>())?;
        let y = median(&seen.iter().map(|s| s.0.y).collect::<Vec<_>>())?;
        let sigma = median(&seen.iter().map(|s| s.1).collect::<Vec<_>>())?;
        Some((Vector2::new(x, y), sigma))
    };
    let limb = |i: usize| move |f: &Instant| f.landmarks.get(i).copied().flatten();
    let mid_hip = |f: &Instant| -> Seen {
        let (a, b) = (f.point(TorsoPoint::HipL)?, f.point(TorsoPoint::HipR)?);
        Some(((a.0 + b.0) / 2.0, a.1.max(b.1)))
    };
    StillPoint::ALL.map(|p| match p {
        StillPoint::AnkleLead => middle(&limb(landmark::ANKLE[0])),
        StillPoint::AnkleTrail => middle(&limb(landmark::ANKLE[1])),
        StillPoint::ToeLead => middle(&limb(landmark::TOE[0])),
        StillPoint::ToeTrail => middle(&limb(landmark::TOE[1])),
        StillPoint::HipMiddle => middle(&mid_hip),
        StillPoint::Head => middle(&|f| f.point(TorsoPoint::Head)),
    })
}

/// At most `n` of the items, evenly spread in time; of every other item both kinds, since close frames
/// are read plain and mirrored by turns.
fn spread<T: Clone>(items: &[T], n: usize, time_s: impl Fn(&T) -> f64) -> Vec<T> {
    let last = items.len().saturating_sub(1);
    let (Some(a), Some(b)) = (items.first(), items.last()) else {
        return Vec::new();
    };
    if n < 2 {
        return items.to_vec();
    }
    let times: Vec<f64> = items.iter().map(&time_s).collect();
    let (from, to) = (time_s(a), time_s(b));
    let by_turns = last / (n - 1) > 1;
    let chosen: BTreeSet<usize> = (0..n)
        .filter_map(|k| {
            let t = from + (to - from) * k as f64 / (n - 1) as f64;
            let i = nearest(&times, t)? + usize::from(by_turns && k % 2 == 1);
            Some(i.min(last))
        })
        .collect();
    chosen.iter().map(|i| items[*i].clone()).collect()
}

fn view_data(
    view: &ViewSeries,
    swing: &Phases,
    azimuth: f64,
    samples: Option<usize>,
    config: &CameraConfig,
) -> ViewData {
    // A little of the address, and the follow-through while it is fast.
    let down_s = swing.down_s().unwrap_or(0.0);
    let from = swing.begins_s() - config.moving_before * down_s;
    let moving = |t: f64| (from..=swing.fast_s + config.moving_after * down_s).contains(&t);
    let instants: Vec<&Instant> = view.instants.iter().filter(|i| moving(i.time_s)).collect();
    let rotations: Vec<RotationSample> =
        instants.iter().filter_map(|i| i.rotation.clone()).collect();
    let joints: Vec<JointSample> = instants
        .iter()
        .map(|i| JointSample {
            time_s: i.time_s,
            points: JOINT_POINTS.map(|p| i.point(p)),
        })
        .collect();
    let thin = |n: usize| {
        (
            spread(&rotations, n, |r| r.time_s),
            spread(&joints, n, |j| j.time_s),
        )
    };
    let (rotations, joints) = samples.map_or((rotations.clone(), joints.clone()), thin);
    ViewData {
        role: view.role,
        size_px: view.size_px,
        focal_px: view.focal_px,
        still: still_points(view, swing, config),
        azimuth,
        rotations,
        joints,
    }
}

/// Seconds that the strike's sound takes from the ball to a camera.
pub fn travel_s(camera: &Camera, config: &CameraConfig) -> f64 {
    let ball_m = Vector3::new(0.0, -config.ball_before_feet_m, 0.0);
    (camera.position_m - ball_m).norm() / config.speed_of_sound_m_s
}

/// Finds the cameras; falls back to cameras exactly in their roles, said so, where they can't be.
pub fn find_cameras(
    prepared: &Prepared,
    options: &Options,
    warnings: &mut Vec<Warning>,
) -> CameraFit {
    let config = &prepared.pipeline.camera;
    if let Some(fit) = known(prepared, &options.known) {
        return fit;
    }
    // The first view is thinned; the second keeps every frame, to be interpolated.
    let data: Vec<ViewData> = prepared
        .views
        .iter()
        .zip(prepared.swings.iter().zip(&prepared.seats))
        .enumerate()
        .map(|(i, (v, (swing, seat)))| {
            view_data(
                v,
                swing,
                seat.azimuth,
                (i == 0).then_some(config.max_samples),
                config,
            )
        })
        .collect();
    let (stature_m, stature_spread) = match options.stature_cm {
        Some(cm) => (cm / 100.0, config.stature_typed_spread),
        None => (config.stature_prior_m, config.stature_prior_spread),
    };
    let mut problem = Problem {
        views: &data,
        config,
        stature_m,
        stature_spread,
        offset_s: prepared.offset.map_or(0.0, |o| o.offset_s),
        offset_sigma_s: prepared.offset.map_or(1.0, |o| o.sigma_s),
    };
    let start = problem.start();
    if prepared
        .offset
        .is_some_and(|o| o.from == crate::pair::OffsetFrom::Sound)
        && data.len() == 2
    {
        // Each phone heard the strike after its own travel time.
        let travel = |v| travel_s(&problem.camera(&start, v), config);
        problem.offset_s -= travel(0) - travel(1);
    }
    match solve(&problem) {
        Ok(fit) => fit,
        Err(error) => {
            warnings.push(Warning::new(
                "cameras_assumed",
                format!("Where the cameras stood could not be found ({error}); they were taken to stand exactly in their places, and the intervals allow for that."),
            ));
            assumed(&problem)
        }
    }
}

/// Cameras that were told rather than found; `None` where one of the views' is not among them.
fn known(prepared: &Prepared, told: &[Known]) -> Option<CameraFit> {
    let own: Vec<&Known> = prepared
        .views
        .iter()
        .map(|v| told.iter().find(|k| k.role == v.role))
        .collect::<Option<_>>()?;
    let attitude = |k: &Known| {
        let m = k.camera.world_from_camera.matrix();
        let ahead = m.column(2);
        Attitude {
            azimuth: wrap(ahead[1].atan2(ahead[0]) - role_azimuth(k.role)),
            pitch: ahead[2].clamp(-1.0, 1.0).asin(),
            // Right points down by as much as the camera is turned clockwise.
            roll: -m[(2, 0)].clamp(-1.0, 1.0).asin(),
        }
    };
    Some(CameraFit {
        views: own
            .iter()
            .map(|k| FittedView {
                camera: k.camera,
                attitude: attitude(k),
                sigma: Attitude::default(),
            })
            .collect(),
        covariance: DMatrix::zeros(0, 0),
        places: DMatrix::zeros(0, 0),
        offset_s: own.last()?.starts_s - own.first()?.starts_s,
        offset_sigma_s: 0.0,
        misfit: f64::NAN,
    })
}

/// Cameras by the priors alone.
fn assumed(problem: &Problem<'_>) -> CameraFit {
    let x = problem.start();
    let c = problem.config;
    let n = problem.views.len();
    let size = PARAMETERS * n + usize::from(n == 2);
    let mut covariance = DMatrix::zeros(size, size);
    let sigma = Attitude {
        azimuth: c.azimuth_sigma_deg.to_radians(),
        pitch: c.pitch_sigma_deg.to_radians(),
        roll: c.roll_sigma_deg.to_radians(),
    };
    for v in 0..n {
        for (k, s) in [sigma.azimuth, sigma.pitch, sigma.roll]
            .into_iter()
            .enumerate()
        {
            covariance[(PARAMETERS * v + k, PARAMETERS * v + k)] = s * s;
        }
        let focal = PARAMETERS * v + 3;
        covariance[(focal, focal)] = problem.focal_prior(v).1.powi(2);
    }
    if n == 2 {
        covariance[(size - 1, size - 1)] = problem.offset_sigma_s.powi(2);
    }
    CameraFit {
        views: (0..n)
            .map(|v| FittedView {
                camera: problem.camera(&x, v),
                attitude: problem.attitude(&x, v),
                sigma,
            })
            .collect(),
        places: DMatrix::zeros(3 * n, size),
        covariance,
        offset_s: problem.offset_s,
        offset_sigma_s: problem.offset_sigma_s,
        misfit: f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreading_keeps_the_ends_and_both_of_two_kinds() {
        assert_eq!(spread(&[1, 2, 3], 3, |i| f64::from(*i)), [1, 2, 3]);
        for len in [5, 60, 61, 90, 119, 120, 121, 237, 400] {
            let items: Vec<usize> = (0..len).collect();
            let out = spread(&items, 60, |i| *i as f64);
            assert!(
                out.len() <= 60 && out.len() + 12 >= len.min(60),
                "{len}: {}",
                out.len()
            );
            assert_eq!((out.first(), out.last()), (Some(&0), Some(&(len - 1))));
            assert!(out.windows(2).all(|w| w[0] < w[1]), "{len}");
            let odd = out.iter().filter(|i| *i % 2 == 1).count();
            assert!(
                2 * odd.abs_diff(out.len() - odd) <= out.len(),
                "{len}: {odd}"
            );
        }
    }

    #[test]
    fn where_readings_lie_closer_no_more_of_them_are_taken() {
        let mut times: Vec<f64> = (0..20).map(|i| f64::from(i) / 20.0).collect();
        times.extend((0..60).map(|i| 1.0 + f64::from(i) / 120.0));
        let out = spread(&times, 30, |t| *t);
        let late = out.iter().filter(|t| **t >= 1.0).count();
        assert!((8..=12).contains(&late), "{late} of {}", out.len());
    }
}
