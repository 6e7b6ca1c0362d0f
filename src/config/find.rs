//! The finding of swings. Reasons stand in `pipelines/two-view.toml`.

use serde::{Deserialize, Serialize};

/// `[find]`: how swings are found in one view's track.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindConfig {
    /// Golfer heights that one radian of thorax turn counts as in the distance of two poses.
    pub turn_weight: f64,
    /// Distance of poses from one knot to the next, golfer heights.
    pub step: f64,
    /// The same at least, in standard deviations of a frame's own noise.
    pub step_in_sigmas: f64,
    /// Poses within so many steps are the same: what a golfer sways at rest.
    pub same_pose_steps: f64,
    /// Fewest frames that lie still that are a rest.
    pub rest_frames: usize,
    /// Readings farther apart than this have a gap between them, which stays one, seconds of playback.
    pub close_s: f64,
    /// The same, steps of the kind that only a share of `1 - long_steps` is longer than.
    pub close_steps: f64,
    /// How far round the hands' return a parabola is laid through it, downswings.
    pub hands_near: f64,
    /// Longest rest of a downswing, as a share of its time, and the spread of that.
    pub down_rest: f64,
    /// See `down_rest`.
    pub down_rest_spread: f64,
    /// Who comes to rest so near the first pose, golfer heights, begins there
    pub settled_way: f64,
    /// after a rest of at least so much of the backswing's time.
    pub settled: f64,
    /// Share of steps that are no longer than what `close_steps` counts.
    pub long_steps: f64,
    /// Share of the steps between readings that are as short as the step that they are filled to.
    pub short_steps: f64,
    /// A heading that steps away by more than this and back in the next frame is a reading gone wrong, degrees.
    pub jump_deg: f64,
    /// Highest that hands hang at address over the hips, golfer heights.
    pub address_highest: f64,
    /// Farthest that the wrists of an address are apart, golfer heights.
    pub apart_most: f64,
    /// Usual height of the hands at address under the hips and its spread, golfer heights.
    pub address_below: f64,
    /// Spread of that height, golfer heights.
    pub address_height_spread: f64,
    /// Least closed turn of a backswing, degrees.
    pub least_turn_deg: f64,
    /// Least way of the hands from address to top, golfer heights.
    pub least_moved: f64,
    /// Poses within this share of the backswing from the top are a rest at it.
    pub rest_share: f64,
    /// Log of the odds against a rest at the top.
    pub rest_odds: f64,
    /// Time that such a rest lasts at least, in backswings before it.
    pub rest_least: f64,
    /// Usual closed turn of the thorax from address to top, degrees, and the spread of its logarithm.
    pub back_turn_deg: f64,
    /// Spread of its logarithm.
    pub back_turn_spread: f64,
    /// Usual way of the hands from address to top, golfer heights, and the spread of its logarithm.
    pub back_moved: f64,
    /// Spread of its logarithm.
    pub back_moved_spread: f64,
    /// Usual rise of the hands from address to top, golfer heights, and its spread; more is as good.
    pub back_rise: f64,
    /// Its spread, golfer heights.
    pub back_rise_spread: f64,
    /// Usual way of the hands over the straight line, and its spread; less is as good.
    pub wander: f64,
    /// Its spread.
    pub wander_spread: f64,
    /// Usual sum of turns back and forth over the turn that is left of it, and its spread; less is as good.
    pub waver: f64,
    /// Its spread.
    pub waver_spread: f64,
    /// Time before the takeaway that is asked for stillness, in backswings.
    pub before_share: f64,
    /// Usual speed before a swing over that in the backswing, and its spread; less is as good.
    pub before_speed: f64,
    /// Its spread.
    pub before_speed_spread: f64,
    /// Log of the odds against, where nothing is seen of that time.
    pub before_unseen_odds: f64,
    /// A backswing that begins with the clip: the first share of its time, the share of its way that is
    /// usual in it, and the spread of that; less is as good.
    pub start_share: f64,
    /// Share of the way that is usual in it; less is as good.
    pub start_way: f64,
    /// Spread of that share.
    pub start_way_spread: f64,
    /// Log of the odds against a swing that was under way when the clip began.
    pub address_unseen_odds: f64,
    /// How far from their place at impact hands are at least, as a share of the backswing's way, in a
    /// clip that begins after the takeaway.
    pub begun_away: f64,
    /// Spread of that.
    pub begun_away_spread: f64,
    /// How much higher than their lowest the hands of such a swing are at impact, golfer heights, and
    /// the spread of that; less is as good.
    pub impact_low: f64,
    /// Spread of that height, golfer heights.
    pub impact_low_spread: f64,
    /// Usual distance of the wrists in a backswing, golfer heights, and its spread; less is as good.
    pub apart: f64,
    /// Its spread, golfer heights.
    pub apart_spread: f64,
    /// Usual distance of the hands from their address place at impact over the backswing's way, and its spread; less is as good.
    pub miss: f64,
    /// Its spread.
    pub miss_spread: f64,
    /// Farthest that counts as coming back.
    pub miss_most: f64,
    /// Usual opening of the thorax at impact against address, degrees, and its spread.
    pub impact_open_deg: f64,
    /// Its spread, degrees.
    pub impact_open_spread_deg: f64,
    /// Usual backswing over downswing and the spread of its logarithm.
    pub tempo: f64,
    /// Spread of its logarithm.
    pub tempo_spread: f64,
    /// Usual logarithm of the speed through impact over the downswing's mean, and its spread; more is as good.
    pub impact_speed: f64,
    /// Its spread.
    pub impact_speed_spread: f64,
    /// Least usual opening of the thorax in a downswing, degrees for each golfer height that the hands
    /// moved back, and the spread of its logarithm; more is as good.
    pub open_per_height_deg: f64,
    /// Spread of its logarithm.
    pub open_per_height_spread: f64,
    /// How far the feet move in the picture from address to impact, golfer heights, and the spread of
    /// that; less is as good.
    pub feet_moved: f64,
    /// Spread of that way, golfer heights.
    pub feet_moved_spread: f64,
    /// Least usual height of the shoulders over the hips, golfer heights, and its spread.
    pub trunk_upright: f64,
    /// Spread of that height, golfer heights.
    pub trunk_upright_spread: f64,
    /// Time that the pose usually stays near the impact's, in downswings, and its spread, less is as
    /// good; near is so much of the backswing's way.
    pub dwell: f64,
    /// Spread of that time, in downswings.
    pub dwell_spread: f64,
    /// How near counts as near, in the backswing's way.
    pub dwell_way: f64,
    /// How near to the address a stillness counts as one before the swing, in the backswing's way.
    pub stood_way: f64,
    /// Usual longest stillness there in parts of the time that a backswing moves, at most.
    pub stood: f64,
    /// Its spread.
    pub stood_spread: f64,
    /// How much nearer to one place than to another hands must pass to tell which was the address, golfer heights.
    pub stood_nearer: f64,
    /// Usual distance of the top from the address over the farthest of any pose from there to impact, and its spread.
    pub top_farthest: f64,
    /// Its spread.
    pub top_farthest_spread: f64,
    /// Usual backswing and downswing, seconds of real time.
    pub usual_backswing_s: f64,
    /// Usual downswing, seconds of real time.
    pub usual_downswing_s: f64,
    /// Spread of the logarithm of a downswing's seconds of playback.
    pub downswing_seconds_spread: f64,
    /// Usual opening of the thorax from impact to the end of the follow-through, degrees, and the spread of its logarithm.
    pub through_turn_deg: f64,
    /// Spread of its logarithm.
    pub through_turn_spread: f64,
    /// Spread of the logarithm of the hands' way in the follow-through.
    pub through_moved_spread: f64,
    /// Usual speed of the follow-through over that at impact, and the spread of its logarithm.
    pub through_speed: f64,
    /// Spread of its logarithm.
    pub through_speed_spread: f64,
    /// Log of the odds against a clip that ends before the follow-through does.
    pub cut_off_odds: f64,
    /// Usual time from impact to such a clip's end, in downswings.
    pub cut_off_after: f64,
    /// Spread of a strike's time about the hands' return, in downswings.
    pub strike_spread: f64,
    /// Log of the odds that a strike at the impact gives.
    pub strike_odds: f64,
    /// Longest way of a backswing, and of a downswing with its follow-through, golfer heights.
    pub back_way_most: f64,
    /// Log odds below which a chain is not looked at further.
    pub chain_least: f64,
    /// Log odds below the best chain's at which another has no part in the probability of its swing,
    pub rivals_below: f64,
    /// and at which it has none in where the takeaway is.
    pub alike_below: f64,
    /// Log of the odds of a swing before its parts are compared with usual ones.
    pub swing_odds: f64,
    /// A swing without an address whose follow-through takes less than this many downswings,
    pub backwards_through: f64,
    /// and in which the chest opens fastest after this share of the downswing, may play backwards.
    pub backwards_fast: f64,
    /// Probability from which a movement is taken for a swing.
    pub least_probability: f64,
    /// Distance from the still pose at which a movement has begun, golfer heights, at least.
    pub onset_low: f64,
    /// The same where it is well under way, for the extrapolation to its start.
    pub onset_high: f64,
    /// Farthest extrapolation to a movement's start, in backswings.
    pub onset_reach: f64,
    /// Standard deviation of a movement's start at least, in backswings.
    pub onset_sigma: f64,
    /// Half-width of the mean over which a movement's start is looked at, in phases.
    pub onset_smoothing: f64,
    /// Longest stretch before the takeaway that the address is averaged over, in backswings.
    pub address_window: f64,
    /// Rest after the follow-through that is seen at least, in follow-throughs.
    pub finish_rest: f64,
    /// No frame's hands are trusted better than this, golfer heights.
    pub hands_sigma_least: f64,
    /// No frame's thorax is trusted better than this, degrees.
    pub heading_sigma_least_deg: f64,
    /// How far the hands are ahead of their address place at impact, golfer heights.
    pub hands_lead: f64,
    /// What a way across the picture counts against one up or down where hands are seen along the line;
    /// face-on both count alike.
    pub hands_across: f64,
    /// Standard deviation of an impact from hands alone, in downswings.
    pub hands_back_sigma: f64,
    /// The same of the hands' lowest place, where no address was seen.
    pub hands_lowest_sigma: f64,
    /// Farthest of the top from its guess, in downswings.
    pub top_search: f64,
    /// Candidates for the top on either side of the guess.
    pub top_search_steps: u32,
    /// Samples before the top that fix it: for so long, in backswings, while the pose is so near the
    /// top's, in the backswing's way.
    pub top_before: f64,
    /// How near the pose is to the top's by then, in the backswing's way.
    pub top_before_way: f64,
    /// The same after the top, for so long in downswings.
    pub top_after: f64,
    /// How near the pose is to the top's by then, in the downswing's way.
    pub top_after_way: f64,
    /// How far a smooth curve's extreme comes before the top, and the spread of that, in downswings.
    pub top_guess_early: f64,
    /// Spread of how early it comes, in downswings.
    pub top_guess_sigma: f64,
    /// Standard deviation of the model in the time of a reversal, in downswings.
    pub top_sigma: f64,
    /// The beginning of the thorax's opening: half-width of the mean, in downswings; the two shares of its
    /// fastest rate that tell it; how far they tell it early and their standard deviation, in
    /// downswings.
    pub open_smoothing: f64,
    /// Lower share of the fastest rate that tells the beginning.
    pub open_low: f64,
    /// Higher share of it.
    pub open_high: f64,
    /// How far the two shares tell it early, in downswings.
    pub open_early: f64,
    /// Standard deviation of what they tell, in downswings.
    pub open_sigma: f64,
    /// Standard deviation of the top for each second that hands and chest turn back apart.
    pub top_apart_doubt: f64,
    /// Half-width of the mean over which the thorax's turning back is looked at, in downswings.
    pub top_smoothing: f64,
    /// Share of the turn by which the thorax has opened where its turning back is told; four times that for the extrapolation.
    pub top_left: f64,
    /// Filming rate over playback rate from which the file's word counts as slow motion.
    pub clock_filmed_faster: f64,
    /// Probability of a clip's clock from which seconds and speeds are told.
    pub clock_least_probability: f64,
    /// Spread of the logarithm of players' full swings' times.
    pub clock_swing_spread: f64,
    /// Share of rehearsals on real time among swings.
    pub clock_rehearsal_share: f64,
    /// Share of clips whose speed was changed without a word in the file.
    pub clock_stretched_share: f64,
    /// How long the faster of back- and downswing takes in a usual full swing, in parts of its usual time.
    pub usual_pace: f64,
    /// Swings slower or faster by up to this factor are full swings on real time: limits on what two views
    /// of one may differ by follow those beyond.
    pub pace_slack: f64,
}
