//! One struct a room. Units are in the names; reasons stand in `pipelines/two-view.toml`.

use serde::{Deserialize, Serialize};

/// `[clip]`: what is decoded, and how much of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClipConfig {
    /// Decoded frames that may wait for the networks.
    pub queue_frames: usize,
    /// Longest clip that is read, seconds of playback.
    pub max_duration_s: f64,
    /// Largest picture that is decoded, pixels.
    pub max_pixels: u64,
    /// Shortest side of a picture that is read, pixels.
    pub min_side_pixels: u32,
    /// Most frames that are read.
    pub max_frames: usize,
    /// Most pixels that are decoded, over all frames, millions.
    pub max_megapixels_in_all: u64,
    /// A strike is at least this much louder than the background, decibels.
    pub strike_min_db: f64,
}

/// `[pose]`: whom the networks look at, and how often.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PoseConfig {
    /// Detector score (probability) for a person.
    pub detector_min_score: f64,
    /// Overlap (intersection over union) above which two detections are one person.
    pub detector_max_overlap: f64,
    /// Landmark presence (probability) below which the region is lost.
    pub min_presence: f64,
    /// Shortest time for which somebody must be seen, seconds of playback.
    pub min_seen_s: f64,
    /// Detector score of somebody who moves, or was seen there before.
    pub detector_weak_score: f64,
    /// Frames to wait between detector calls while nobody is found.
    pub search_every_frames: usize,
    /// A region smaller than this share of the picture's short side calls for a closer look.
    pub search_small_share: f64,
    /// Sides of the squares for a closer and a wider look at a region, in its sides.
    pub search_near_close: f64,
    /// Side of the wider square, in the region's sides.
    pub search_near_wide: f64,
    /// Change of a cell's brightness between two searches that counts as movement, 0..255.
    pub search_moved_levels: f64,
    /// Share of the picture above which movement is the camera's.
    pub search_moved_most: f64,
    /// Moving things that are looked at.
    pub search_most_moved: usize,
    /// Sides of the closer and the wider square that are looked at round what moved, in its extents.
    pub search_moved_close: f64,
    /// Side of the wider square, in the extents of what moved.
    pub search_moved_wide: f64,
    /// Smallest tile, pixels.
    pub search_tile_px: f64,
    /// Finds in tiles that get a closer look.
    pub search_most_tiled: usize,
    /// Both networks see one body where their regions' centres lie this near, in sides,
    pub search_agree_sides: f64,
    /// their sizes differ by less than this, log of the ratio,
    pub search_agree_log_size: f64,
    /// and they lean alike to this, degrees.
    pub search_agree_roll_deg: f64,
    /// First wait between searches through tiles, seconds of playback; each is twice the one before.
    pub search_tiles_every_s: f64,
    /// Time between looks for other people while the golfer is followed, seconds of playback.
    pub look_round_s: f64,
    /// Looks round in a row without the golfer where they are thought to be that call for a search.
    pub look_round_doubts: usize,
    /// Side of the torso crop over the distance from mid-hip to the farthest of head and ankles.
    pub torso_crop_scale: f64,
    /// Largest movement of any pixel's brightness, 0..255, below which a frame counts as still.
    pub still_threshold: f64,
    /// While still, a frame is read at least this often, seconds.
    pub still_every_s: f64,
    /// Two people count as several when the smaller is at least this share of the larger.
    pub several_share: f64,
    /// Where several people are seen, they are looked at so often to choose the golfer, seconds of playback.
    pub choose_every_s: f64,
    /// Somebody whose hands move at least this share as fast as the fastest's may be the golfer.
    pub choose_share: f64,
    /// Somebody whom the detector scores less than this share of the best on the whole is a thing.
    pub choose_score_share: f64,
    /// Most people who are followed through a clip after the first of them did not swing.
    pub most_others: usize,
    /// Weight of the former crop in the torso crop's centre and side, 0..1.
    pub crop_inertia: f64,
    /// Average the torso network's readings of a crop and of its mirror image.
    pub mirror_average: bool,
    /// With `mirror_average`, a crop that follows the one before it sooner than this, seconds of
    /// playback, is read in one image only, plain and mirrored by turns; 0: every crop in both.
    pub mirror_alternate_s: f64,
    /// The same for frames that were chosen, which may leave out those between, seconds of playback.
    pub mirror_alternate_sparse_s: f64,
    /// Where the torso network's file holds three networks: each how many crops the first two both read one, so
    /// that it is seen whether they contradict each other.
    pub contradiction_every: usize,
    /// From which median angle between those two on, degrees, the third reads for the second.
    pub networks_apart_deg: f64,
    /// Where the torso network reads landmarks too, it alone follows the golfer, in the crop that the
    /// landmarks of the frame before ask for; else the landmark network goes before it in every frame.
    pub one_network: bool,
    /// A crop is read again where the landmarks that it gave ask for one whose centre is this far, in
    /// sides,
    pub crop_again_shift: f64,
    /// or whose side differs by more than this, log of the ratio.
    pub crop_again_log_size: f64,
    /// Frames of the sparse look, about so many a second of playback.
    pub look_per_s: f64,
    /// Most frames that are read of a second of playback.
    pub read_most_per_s: f64,
    /// Most closer looks.
    pub look_rounds: usize,
}

/// From where on pictures count as unlike those that the networks learned from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OddConfig {
    /// The torso network's own standard deviation, degrees.
    pub unsure_deg: f64,
    /// The same on clips as the network knows them, degrees; for the sentence only.
    pub usual_unsure_deg: f64,
    /// A reading against the mean of its neighbours, degrees.
    pub contradiction_deg: f64,
    /// A joint against the middle of its neighbours in time, golfer heights.
    pub jump_heights: f64,
    /// The two networks' places of a joint, golfer heights.
    pub apart_heights: f64,
    /// Spread of the trunk's length over its mean.
    pub trunk_share: f64,
    /// Share of frames without the golfer between the first and the last with them.
    pub lost_share: f64,
}

/// `[pair]`: which clips belong together, and how far apart their clocks are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairConfig {
    /// Half-width of the line that a turning speed is read from, seconds.
    pub rate_half_window_s: f64,
    /// Angle from a role's place beyond which the role is doubted, degrees.
    pub role_doubt_deg: f64,
    /// A heading at address within this of a role's is the golfer's, beyond it the camera's, degrees.
    pub stands_crooked_deg: f64,
    /// How far pelvis and thorax are open at impact, the mean of both, degrees.
    pub impact_open_deg: f64,
    /// Correlation of turning speeds below which two clips show different swings.
    pub min_correlation: f64,
    /// Misfit of the cameras' common fit that counts as one standard deviation.
    pub match_misfit: f64,
    /// Difference of two views' takeaways that counts as one standard deviation, seconds.
    pub match_takeaway_s: f64,
    /// The same of their tops, seconds.
    pub match_top_s: f64,
    /// Sum of squares above which two clips don't show one swing.
    pub match_limit: f64,
    /// Turns are compared from so long before the takeaway, in downswings,
    pub match_before: f64,
    /// to so long after the hands' fastest moment, in downswings.
    pub match_after: f64,
    /// Largest difference between the sound's and the motion's offset, seconds.
    pub sound_motion_tolerance_s: f64,
    /// Standard deviation of an offset by sound (at least) and by motion, seconds.
    pub sound_offset_sigma_s: f64,
    /// Standard deviation of an offset by motion, seconds.
    pub motion_offset_sigma_s: f64,
    /// Longest series that is correlated, steps of 1/240 s.
    pub max_correlation_steps: usize,
}

/// `[camera]`: priors and weights of the search for the cameras.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CameraConfig {
    /// Standard deviation of a camera's viewing direction about its role, degrees.
    pub azimuth_sigma_deg: f64,
    /// Standard deviation of looking up or down, degrees.
    pub pitch_sigma_deg: f64,
    /// Standard deviation of the phone's tilt to the side, degrees.
    pub roll_sigma_deg: f64,
    /// Usual height of a phone, metres,
    pub height_prior_m: f64,
    /// and its standard deviation, metres.
    pub height_sigma_m: f64,
    /// Usual distance of a phone from the golfer's feet, metres.
    pub distance_prior_m: f64,
    /// Standard deviation of the logarithm of the distance.
    pub distance_spread: f64,
    /// Focal length over the picture's long side where the file tells none.
    pub focal_prior_over_long_side: f64,
    /// Standard deviation of the logarithm of the focal length, by the prior and by the file.
    pub focal_prior_spread: f64,
    /// The same by the file.
    pub focal_metadata_spread: f64,
    /// Usual stature, metres.
    pub stature_prior_m: f64,
    /// Standard deviation of stature over its value, by the prior and when typed in.
    pub stature_prior_spread: f64,
    /// The same when typed in.
    pub stature_typed_spread: f64,
    /// Standard deviation of the line of the ankles and of the toes about the target line, degrees.
    pub ankle_line_sigma_deg: f64,
    /// The same of the line of the toes, degrees.
    pub toe_line_sigma_deg: f64,
    /// How many independent readings all rotation and joint samples are worth.
    pub independent_rotations: f64,
    /// The same of the joints.
    pub independent_joints: f64,
    /// Most samples of the swing that the search uses.
    pub max_samples: usize,
    /// Neighbouring frames farther apart than this are a gap, seconds.
    pub max_gap_s: f64,
    /// Degrees of freedom of the Student weights against outliers.
    pub student_nu: f64,
    /// Standard deviation of a landmark, as a share of the golfer's picture height.
    pub landmark_sigma: f64,
    /// Speed of sound, metres per second.
    pub speed_of_sound_m_s: f64,
    /// The ball lies so far in front of the feet, metres.
    pub ball_before_feet_m: f64,
    /// The still points are read from so long before the still stretch to so long after it, in backswings.
    pub still_reach: f64,
    /// The views are compared from so long before the takeaway, in downswings,
    pub moving_before: f64,
    /// to so long after the hands' fastest moment, in downswings.
    pub moving_after: f64,
}

/// `[body]`: how views are fused and smoothed over time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BodyConfig {
    /// Angular acceleration that a segment may have about each axis, degrees per second squared,
    /// one standard deviation, held over 1/60 s: the noise of the smoother's process.
    pub acceleration_deg_s2: f64,
    /// No reading is trusted better than this, degrees.
    pub sigma_floor_deg: f64,
    /// Longest time without a reading that is bridged, seconds.
    pub max_gap_s: f64,
    /// Degrees of freedom of the Student weights against outliers.
    pub student_nu: f64,
    /// Half-width of the window in which readings count as those of one instant, seconds.
    pub instant_s: f64,
    /// Time for which one reading's information stands, seconds: more frames tell no more.
    pub reading_s: f64,
    /// Time over which a view's passing errors are alike, seconds.
    pub alike_s: f64,
    /// Two views are compared from so long before the takeaway, seconds,
    pub compare_before_s: f64,
    /// to so long after it, seconds,
    pub compare_after_s: f64,
    /// at steps of this, seconds.
    pub compare_every_s: f64,
    /// A view's weight fades over this from the ends of what it saw, seconds.
    pub fade_s: f64,
    /// Half-width of the mean of what frames read plain and frames read mirrored differ by, seconds.
    pub sides_half_s: f64,
}

/// `[swing]`: moments of the swing and what is read at them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SwingConfig {
    /// Farthest that a strike may be from the hands' return, in downswings.
    pub strike_from_hands: f64,
    /// Standard deviation of an impact from sound at least, seconds.
    pub impact_by_sound_sigma_s: f64,
    /// The same of sound that was stretched with its pictures, share of the downswing's time.
    pub impact_by_stretched_sound: f64,
    /// Half-width of the smoothing of limb angles, seconds.
    pub limb_half_window_s: f64,
    /// Standard deviation of a knee angle from one view's own 3D points, degrees.
    pub single_view_knee_sigma_deg: f64,
    /// Reach round the top and the fastest moment, as one view has them, in which the segments' own
    /// are looked for, in downswings.
    pub round_top: f64,
    /// The same for the thorax's fastest opening, in downswings.
    pub fastest_near: f64,
    /// Farthest of the fused thorax's own turning back from where the views put the top, in downswings.
    pub top_near: f64,
    /// Share of the top that is as the finding of the swing saw it; the rest is as the fused curves
    /// turn back.
    pub top_as_found: f64,
    /// Standard deviation of the top for each second that the two differ by.
    pub top_apart: f64,
    /// Soonest that impact may follow the top, in downswings as first seen.
    pub impact_least: f64,
    /// Latest that it may, likewise.
    pub impact_most: f64,
    /// The address is averaged over so long before the takeaway at least, in backswings.
    pub address_least: f64,
    /// The fastest opening is looked for from so long before the top, in downswings,
    pub opening_before_top: f64,
    /// to so long after impact, in downswings.
    pub opening_after_impact: f64,
    /// The largest separation is looked for from so long before the top, seconds.
    pub separation_before_top_s: f64,
    /// The stance is read so long before the takeaway, seconds.
    pub sway_before_takeaway_s: f64,
    /// Standard deviation of a shift of the hips' middle, metres.
    pub sway_sigma_m: f64,
    /// Ankles nearer to each other than this are no stance to measure in, metres.
    pub least_stance_m: f64,
}

/// `[interval]`: what every interval holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IntervalConfig {
    /// A file like `pipelines/calibration.toml` to use instead of it; empty for that one.
    pub calibration: String,
    /// Smallest standard deviation of any angle, degrees.
    pub sigma_floor_deg: f64,
    /// Scale of intervals for which no calibration is on record.
    pub default_scale: f64,
    /// Disagreement of two views over its standard deviation above which the page says so.
    pub disagreement_warning: f64,
}

/// Widest 95 % intervals, high end less low end, that a number may have and still be of use. A wider
/// one is written as "can't tell".
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsableConfig {
    /// Turn of the hips from address or between two moments, degrees.
    pub hip_turn_deg: f64,
    /// The same of the shoulders (rib cage), degrees.
    pub chest_turn_deg: f64,
    /// Turn against the target line, degrees.
    pub turn_to_line_deg: f64,
    /// Separation, degrees.
    pub separation_deg: f64,
    /// Side bend and forward bend, degrees.
    pub bend_deg: f64,
    /// Knee flexion, degrees.
    pub knee_deg: f64,
    /// Sway, per cent of the stance's width and centimetres.
    pub sway_percent: f64,
    /// Sway, centimetres.
    pub sway_cm: f64,
    /// Takeaway to top and top to impact, seconds.
    pub backswing_s: f64,
    /// Top to impact, seconds.
    pub downswing_s: f64,
    /// One segment's fastest moment before the other's, seconds.
    pub lead_s: f64,
    /// Backswing over downswing.
    pub ratio: f64,
    /// Fastest turning, degrees a second.
    pub speed_deg_s: f64,
    /// Within this many seconds of a moment a curve says no more than the number there.
    pub near_moment_s: f64,
}

/// `[report]`: pages, stills, videos and comparisons.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReportConfig {
    /// Quality of the annotated video (constant rate factor, lower is better).
    pub video_crf: u32,
    /// The encoder's preset, by its own name.
    pub video_preset: String,
    /// Quantisation step of the annotated video where the encoder is OpenH264, 1 to 51, lower is better.
    pub video_step: u32,
    /// Longest side of the annotated video and the stills, pixels; smaller clips keep their size.
    pub video_long_side_px: u32,
    /// Most frames a second in the annotated video at true speed.
    pub video_max_fps: f64,
    /// Frames from one key frame to the next.
    pub video_keyframe_every: u32,
    /// How many times longer the slow-motion version lasts.
    pub slow_motion_factor: u32,
    /// Real seconds of video kept before address and after the finish.
    pub video_margin_s: f64,
    /// Real seconds that an event's caption stays.
    pub caption_hold_s: f64,
    /// Half length of the bar drawn for the hips, metres.
    pub pelvis_half_width_m: f64,
    /// Half length of the bar drawn for the shoulders (rib cage), metres.
    pub thorax_half_width_m: f64,
    /// JPEG quality of the stills, 1 to 100.
    pub still_quality: u8,
    /// Longest side of a still inside the page, pixels.
    pub page_still_long_side_px: u32,
    /// Pictures of each view that the page's scrubber moves through.
    pub scrub_frames: usize,
    /// Longest side of such a picture, pixels.
    pub scrub_long_side_px: u32,
    /// Best and worst JPEG quality of such a picture, 1 to 100.
    pub scrub_quality_best: u8,
    /// Worst such quality, 1 to 100.
    pub scrub_quality_worst: u8,
    /// Most bytes of pictures inside one page, before they are written as text.
    pub page_picture_bytes: usize,
    /// Makes the golfer's head unrecognisable in everything that is written.
    pub blur_face: bool,
    /// Radius of what is hidden, trunk lengths (middle of the hips to middle of the shoulders).
    pub face_blur_radius: f64,
    /// How far a head may have moved while it was not seen, trunk lengths a second.
    pub face_blur_drift: f64,
    /// Mean colours across what is hidden, run into each other; at most 12.
    pub face_blur_cells: f64,
    /// A difference of two swings that stays within this many degrees counts as no change.
    pub compare_same_deg: f64,
    /// Cameras whose distances differ by more than this share stood in two places.
    pub same_distance_share: f64,
    /// Cameras whose directions differ by more than this did, degrees, where their own intervals don't
    /// say more.
    pub same_azimuth_deg: f64,
}

/// `[web]`: what the local page takes and how long it waits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WebConfig {
    /// Largest upload that the local page takes, bytes.
    pub upload_max_bytes: u64,
    /// Longest silence within an upload, seconds.
    pub upload_stall_s: f64,
    /// Longest upload, seconds.
    pub upload_total_s: f64,
    /// Longest wait for a request's head, seconds.
    pub head_s: f64,
    /// Connections that the local page serves at once.
    pub connections: usize,
    /// Clips of two phones that come in within this may show one swing, seconds.
    pub pair_within_s: f64,
    /// What a player agreed to is not asked again for this long, seconds.
    pub agreed_for_s: f64,
}

/// `[batch]`: how swings are found in long clips, which clips of a folder belong together, and what workers may take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BatchConfig {
    /// Clips up to this length hold one swing, seconds of real time.
    pub single_swing_s: f64,
    /// Frames of each real second in which swings of a longer clip are looked for.
    pub scan_fps: f64,
    /// Probability from which a quick look's find is measured: the measurement itself looks closer.
    pub scan_least_probability: f64,
    /// Strikes closer than this are one swing's, seconds of real time.
    pub swing_gap_s: f64,
    /// What is read of a swing before its backswing, in backswings.
    pub before_backswings: f64,
    /// What is read after the end, in follow-throughs.
    pub after_follow_throughs: f64,
    /// A strike this near the impact is the swing's own, seconds of real time.
    pub strike_reach_s: f64,
    /// Strikes of two clips agree within this, seconds.
    pub strike_agree_s: f64,
    /// Impacts that two clips show agree within this, seconds.
    pub hands_agree_s: f64,
    /// Largest difference of two phones' clocks, seconds.
    pub clock_search_s: f64,
    /// Creation times of two clips of one swing agree within this, the clocks' difference taken off, seconds.
    pub clock_tolerance_s: f64,
    /// Largest difference of clocks that a single pair is believed at, seconds.
    pub clock_lone_s: f64,
    /// Time that a worker may take: this much, and so much for each second of clip, seconds.
    pub worker_base_s: f64,
    /// Time that a worker may take for each second of clip, seconds.
    pub worker_per_clip_s: f64,
    /// Memory that an engine of many machines sets aside for a worker, MB.
    pub worker_memory_mb: u64,
    /// Disk space that must be free before a swing begins, MB.
    pub min_free_mb: u64,
}
