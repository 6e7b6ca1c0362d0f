//! What was learnt from swings with known truth: `pipelines/calibration.toml`, written by
//! `tests/bench/calibrate.py`, or a file of that form named by `interval.calibration`.

use std::path::Path;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use super::ConfigError;
use crate::file_error::At;
use crate::terms::{Event, Measure, Role, ViewMode, keyed};

keyed! {
    /// A segment whose rotation is measured.
    pub enum Segment {
        /// The hips.
        Pelvis = "pelvis",
        /// The rib cage.
        Thorax = "thorax",
    }
}

keyed! {
    /// The three angles of a segment, in the order of the sequence.
    pub enum SegmentAngle {
        /// First: azimuth of the left-right axis.
        Turn = "turn",
        /// Second: side bend.
        Side = "side",
        /// Third: forward bend.
        Forward = "forward",
    }
}

/// How one view's readings of one angle err, in the network's own standard deviations: by something
/// that lasts the whole swing (`offset`, `slope` a radian of turn from address, `bend` round each of
/// some turns), and by something that lasts about `BodyConfig::alike_s` (`noise`). Standard
/// deviations: a mean that one renderer taught is no mean of people (docs/accuracy.md).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spread {
    /// Which view.
    pub role: Role,
    /// Of which segment.
    pub segment: Segment,
    /// Which of its angles.
    pub angle: SegmentAngle,
    /// Spread of what is added all through the swing.
    pub offset: f64,
    /// Spread of what grows with the turn, a radian of turn from address.
    pub slope: f64,
    /// Spread of what comes back whenever the turn does.
    pub bend: f64,
    /// Spread of what passes.
    pub noise: f64,
}

/// How alike the two views of one swing err: correlations of their offsets and of their slopes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Alike {
    /// Of which segment.
    pub segment: Segment,
    /// Which of its angles.
    pub angle: SegmentAngle,
    /// Correlation of the two views' offsets.
    pub offset: f64,
    /// Correlation of their slopes.
    pub slope: f64,
}

/// A factor on propagated standard deviations, by split conformal prediction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Factor {
    /// For which views.
    pub mode: ViewMode,
    /// Of which measure.
    pub measure: Measure,
    /// The event, or absent for all events and the curve.
    pub event: Option<Event>,
    /// What the half-width is multiplied by.
    pub scale: f64,
    /// Number of calibration scores it rests on.
    pub n: usize,
}

/// What part of the variance of their errors two swings of one student, outfit and place of the
/// cameras share: the correlation of their errors, and the ends that hold in nine of ten draws of
/// other students.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shared {
    /// How the swings were filmed.
    pub mode: ViewMode,
    /// Of which measure.
    pub measure: Measure,
    /// The event, or absent for all events.
    pub event: Option<Event>,
    /// The least, 0 to 1.
    pub low: f64,
    /// The most probable, 0 to 1.
    pub share: f64,
    /// The most, 0 to 1.
    pub high: f64,
    /// Number of pairs of readings it rests on.
    pub n: usize,
}

keyed! {
    /// What an estimate's sureness may depend on beyond its propagated standard deviation.
    pub enum Feature {
        /// Logarithm of the network's standard deviation of the turn, degrees, views by their weights.
        Network = "network",
        /// The views' difference over its standard deviation; from address where the measure is.
        Apart = "apart",
        /// Frames read plain and frames read mirrored apart: half their difference in turn, degrees.
        Sides = "sides",
        /// Logarithm of the cameras' misfit.
        Misfit = "misfit",
        /// Logarithm of the golfer's height in the picture, pixels; the smaller view's.
        Pixels = "pixels",
        /// Cameras off their roles, radians; the farther one's.
        Azimuth = "azimuth",
        /// Turn from the takeaway, radians, without sign.
        Turn = "turn",
        /// Speed of turning, radians a second, without sign.
        Rate = "rate",
        /// Height of the hands over the hips, golfer heights; the first view's.
        Hands = "hands",
        /// Turn from the takeaway less what the hands' rise since then usually goes with, radians.
        Arms = "arms",
        /// Logarithm of the propagated standard deviation, degrees.
        Sigma = "sigma",
    }
}

/// Values of all features, in the order of [`Feature::ALL`].
pub type Evidence = [f64; Feature::ALL.len()];

/// A feature's share in the logarithm of a standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Term {
    /// What it depends on.
    pub feature: Feature,
    /// Change of the logarithm a unit of the feature.
    pub weight: f64,
    /// The value is held within what was seen while learning.
    pub low: f64,
    /// The largest value that was seen.
    pub high: f64,
}

/// A learnt score: propagated standard deviations are multiplied by the exponential of its terms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Score {
    /// For which views.
    pub mode: ViewMode,
    /// For which measures.
    pub measures: Vec<Measure>,
    /// What is added up.
    pub terms: Vec<Term>,
}

impl Score {
    /// The factor that the evidence gives.
    pub fn factor(&self, evidence: &Evidence) -> f64 {
        let share = |t: &Term| {
            let value = evidence.get(t.feature as usize).copied().unwrap_or(0.0);
            t.weight * value.clamp(t.low, t.high.max(t.low))
        };
        self.terms.iter().map(share).sum::<f64>().exp()
    }
}

/// What real people showed that rendered ones don't: how much too small standard deviations are where
/// the network is as unsure as it is of a real person. Widens nothing below `network_low_deg`, which
/// rendered people seldom pass, and by the whole `factor` from `network_high_deg` on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct People {
    /// Of which segment.
    pub segment: Segment,
    /// The network's standard deviation of the turn, degrees.
    pub network_low_deg: f64,
    /// From here on the whole factor holds, degrees.
    pub network_high_deg: f64,
    /// What the standard deviation is multiplied by there.
    pub factor: f64,
}

impl People {
    /// The factor on a standard deviation.
    pub fn factor(&self, evidence: &Evidence) -> f64 {
        let network = evidence.get(Feature::Network as usize).copied();
        let (low, high) = (self.network_low_deg.ln(), self.network_high_deg.ln());
        let share = (network.unwrap_or(low) - low) / (high - low).max(1e-3);
        1.0 + (self.factor - 1.0).max(0.0) * share.clamp(0.0, 1.0)
    }
}

/// All that was learnt.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Learned {
    /// What it was learnt from, in words.
    pub made: String,
    /// How each view errs.
    #[serde(default)]
    pub spreads: Vec<Spread>,
    /// How alike two views err.
    #[serde(default)]
    pub alike: Vec<Alike>,
    /// What sureness depends on besides.
    #[serde(default)]
    pub scores: Vec<Score>,
    /// Scales by split conformal prediction.
    #[serde(default)]
    pub factors: Vec<Factor>,
    /// What real people add.
    #[serde(default)]
    pub people: Vec<People>,
    /// Factors on the root of the sum of squares of two half-widths, for the difference of two
    /// swings of one student, outfit and place of the cameras.
    #[serde(default)]
    pub differences: Vec<Factor>,
    /// What such swings share, for the mean of several.
    #[serde(default)]
    pub shared: Vec<Shared>,
}

const TEXT: &str = include_str!("../../pipelines/calibration.toml");
const MAX_BYTES: u64 = 1 << 20;
static BUILT_IN: LazyLock<Result<Learned, String>> = LazyLock::new(|| Learned::from_text(TEXT));

impl Learned {
    /// What comes with the program, or what stands in `file`.
    ///
    /// # Errors
    /// [`ConfigError`] where the file can't be read or understood.
    pub fn load(file: Option<&Path>) -> Result<Self, ConfigError> {
        let Some(path) = file else {
            let bad = |e| ConfigError::bad("pipelines/calibration.toml", e);
            return BUILT_IN.clone().map_err(bad);
        };
        // A device or a huge file named by mistake is not read.
        let about = std::fs::metadata(path).at(path)?;
        if !about.is_file() || about.len() > MAX_BYTES {
            return Err(ConfigError::bad(
                path.display(),
                "this is no calibration file",
            ));
        }
        let text = std::fs::read_to_string(path).at(path)?;
        Self::from_text(&text).map_err(|e| ConfigError::bad(path.display(), e))
    }

    /// What stands in the text of such a file.
    ///
    /// # Errors
    /// What can't be understood, or which value makes no sense.
    pub fn from_text(text: &str) -> Result<Self, String> {
        let learned: Self = toml::from_str(text).map_err(|e| e.message().to_owned())?;
        match learned.first_fault() {
            Some(what) => Err(format!("{what} is out of reason")),
            None => Ok(learned),
        }
    }

    /// The first kind of value that would make an interval negative, endless or no number.
    fn first_fault(&self) -> Option<&'static str> {
        let spread = |v: f64| (0.0..=100.0).contains(&v);
        let factor = |v: f64| v > 0.0 && v <= 1000.0;
        let spreads = |s: &Spread| [s.offset, s.slope, s.bend, s.noise].into_iter().all(spread);
        let alike = |a: &Alike| [a.offset, a.slope].iter().all(|v| (-1.0..=1.0).contains(v));
        let term = |t: &Term| t.weight.abs() <= 100.0 && t.low <= t.high && t.high.is_finite();
        let people = |p: &People| {
            p.network_low_deg > 0.0 && p.network_low_deg < p.network_high_deg && factor(p.factor)
        };
        let scales = |all: &[Factor]| all.iter().all(|f| factor(f.scale));
        let terms = self.scores.iter().flat_map(|s| &s.terms);
        [
            (self.spreads.iter().all(spreads), "a spread"),
            (self.alike.iter().all(alike), "a correlation"),
            (terms.into_iter().all(term), "a term of a score"),
            (scales(&self.factors), "a factor"),
            (scales(&self.differences), "a factor of a difference"),
            (self.people.iter().all(people), "what people add"),
        ]
        .into_iter()
        .find_map(|(good, what)| (!good).then_some(what))
    }

    /// How a view's readings of an angle err; a cautious guess where nothing was learnt.
    pub fn spread(&self, role: Role, segment: Segment, angle: SegmentAngle) -> Spread {
        let known = self
            .spreads
            .iter()
            .find(|s| (s.role, s.segment, s.angle) == (role, segment, angle));
        known.copied().unwrap_or(Spread {
            role,
            segment,
            angle,
            offset: 0.8,
            slope: 0.2,
            bend: 0.5,
            noise: 0.4,
        })
    }

    /// Correlations of the views' offsets and slopes; none where nothing was learnt.
    pub fn alike(&self, segment: Segment, angle: SegmentAngle) -> (f64, f64) {
        self.alike
            .iter()
            .find(|a| (a.segment, a.angle) == (segment, angle))
            .map_or((0.0, 0.0), |a| (a.offset, a.slope))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_file_is_valid() {
        Learned::load(None).unwrap_or_else(|e| panic!("{e}"));
    }

    #[test]
    fn values_that_would_spoil_an_interval_are_refused() {
        for (table, key, wrong, what) in [
            ("[[spreads]]", "offset", "-0.264", "a spread"),
            ("[[spreads]]", "noise", "nan", "a spread"),
            ("[[alike]]", "slope", "-1.79", "a correlation"),
            ("[[factors]]", "scale", "0.0", "a factor"),
            ("[[scores]]", "weight", "inf", "a term of a score"),
        ] {
            let told = Learned::from_text(&spoiled(table, key, wrong)).expect_err(wrong);
            assert!(told.starts_with(what), "{told}");
        }
    }

    /// The built-in file with another value at a key's first place in the first of some tables.
    fn spoiled(table: &str, key: &str, wrong: &str) -> String {
        let (before, table_on) = TEXT.split_once(table).expect("such a table");
        let (head, tail) = table_on
            .split_once(&format!("{key} = "))
            .expect("such a key");
        let end = tail.find([',', ' ', '\n', '}']).expect("an end");
        format!("{before}{table}{head}{key} = {wrong}{}", &tail[end..])
    }
}
