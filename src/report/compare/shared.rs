//! Do two swings share their lasting errors? Those of one player and outfit, filmed from one place,
//! go into both alike and cancel in the difference.

use crate::config::{Learned, ReportConfig};
use crate::result::{CameraEntry, SwingResult, ViewEntry};
use crate::terms::{Event, Measure, ViewMode};

/// What two swings share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Errors {
    /// One player, filmed from one place: the errors that last are shared.
    Shared(ViewMode),
    /// Independent as far as can be told, and why.
    Independent(&'static str),
}

impl Errors {
    /// Asks both results: one named player, one hand, and each view filmed alike from one place.
    pub fn of(first: &SwingResult, second: &SwingResult, config: &ReportConfig) -> Self {
        let name =
            |s: &SwingResult| Some(s.typed_in.player().to_lowercase()).filter(|p| !p.is_empty());
        match (name(first), name(second)) {
            (Some(a), Some(b)) if a == b => {}
            (Some(_), Some(_)) => return Self::Independent("the players differ"),
            _ => return Self::Independent("the player's name was not typed in for both"),
        }
        if first.handedness != second.handedness || first.views.len() != second.views.len() {
            return Self::Independent("they were not filmed alike");
        }
        let pairs = || first.views.iter().zip(&second.views);
        if !pairs().all(|(a, b)| filmed_alike(a, b)) {
            return Self::Independent("they were not filmed alike");
        }
        let one_place = |(a, b): (&ViewEntry, &ViewEntry)| {
            let cameras = a.camera.as_ref().zip(b.camera.as_ref());
            cameras.is_some_and(|(a, b)| same_place(a, b, config))
        };
        if !pairs().all(one_place) {
            return Self::Independent("the cameras stood in different places");
        }
        Self::Shared(ViewMode::of(first.views.iter().map(|v| v.role)))
    }

    /// Factor on the root of the sum of squares of the half-widths; 1 for independent errors, and
    /// where nothing was learnt.
    pub fn scale(self, learned: &Learned, measure: Measure, event: Event) -> f64 {
        let Self::Shared(mode) = self else {
            return 1.0;
        };
        let find = |e: Option<Event>| {
            learned
                .differences
                .iter()
                .find(|f| f.mode == mode && f.measure == measure && f.event == e)
                .map(|f| f.scale)
        };
        find(Some(event)).or_else(|| find(None)).unwrap_or(1.0)
    }

    /// How the intervals of the differences were made, in plain words.
    pub fn words(self) -> String {
        match self {
            Self::Shared(_) => "Both swings are one player's, filmed alike from the same place, so they \
                share the errors that last: the half-widths of their intervals are added in quadrature \
                and the sum narrowed by what pairs of such swings with known truth allow. Clothes were \
                taken to be the same: if they were changed, the differences are less sure than shown."
                .to_owned(),
            Self::Independent(why) => format!(
                "The errors of two swings are taken as independent ({why}), so the half-widths of their \
                 intervals are added in quadrature. Two swings of one named player, filmed from the same \
                 place, would be told apart more sharply."
            ),
        }
    }
}

fn filmed_alike(a: &ViewEntry, b: &ViewEntry) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() <= 0.02 * x.abs().max(y.abs());
    a.role == b.role
        && (a.width, a.height) == (b.width, b.height)
        && near(a.fps, b.fps)
        && near(a.time_scale, b.time_scale)
}

fn same_place(a: &CameraEntry, b: &CameraEntry, config: &ReportConfig) -> bool {
    let (Some((x, low_x, high_x)), Some((y, low_y, high_y))) =
        (a.azimuth_off_role.parts(), b.azimuth_off_role.parts())
    else {
        return false;
    };
    let unsure = ((high_x - low_x) / 2.0).hypot((high_y - low_y) / 2.0);
    let far = match (a.distance_m, b.distance_m) {
        (Some(x), Some(y)) => (x - y).abs() > config.same_distance_share * x.max(y),
        _ => true,
    };
    (x - y).abs() <= unsure.max(config.same_azimuth_deg) && !far
}
