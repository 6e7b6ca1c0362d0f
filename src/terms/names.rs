//! Roles of phones, moments of a swing, hands.

use std::fmt;

use super::keyed;

keyed! {
    /// Where a camera stands.
    pub enum Role {
        /// In front of the golfer, looking at the chest.
        FaceOn = "face_on" => "face-on",
        /// Behind the hands, looking towards the target.
        DownTheLine = "down_the_line" => "down-the-line",
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

keyed! {
    /// The views that a result rests on: intervals and biases differ between these.
    pub enum ViewMode {
        /// Both roles, fused.
        TwoView = "two_view" => "two views",
        /// One face-on view.
        FaceOn = "face_on" => "face-on only",
        /// One down-the-line view.
        DownTheLine = "down_the_line" => "down-the-line only",
    }
}

impl ViewMode {
    /// The mode of views in these roles.
    pub fn of(roles: impl IntoIterator<Item = Role>) -> Self {
        let mut roles = roles.into_iter();
        match (roles.next(), roles.next()) {
            (Some(Role::FaceOn), None) => Self::FaceOn,
            (Some(Role::DownTheLine), None) => Self::DownTheLine,
            _ => Self::TwoView,
        }
    }
}

keyed! {
    /// The four moments of a swing, in order of time.
    pub enum Event {
        /// The last still moment before the club moves.
        Address = "address" => "Address",
        /// Where thorax and hands turn back.
        Top = "top" => "Top",
        /// The strike.
        Impact = "impact" => "Impact",
        /// The first still moment afterwards.
        Finish = "finish" => "Finish",
    }
}

impl Event {
    /// The moment within a sentence: "at the top".
    pub fn at_words(self) -> &'static str {
        match self {
            Self::Address => "at address",
            Self::Top => "at the top",
            Self::Impact => "at impact",
            Self::Finish => "at the finish",
        }
    }
}

impl fmt::Display for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.key())
    }
}

keyed! {
    /// Which way the golfer swings.
    pub enum Handedness {
        /// The left side leads.
        Right = "right",
        /// The right side leads; the world is mirrored in X before anything is measured.
        Left = "left",
    }
}

impl Handedness {
    /// 1 for a right-hander, −1 for a left-hander: on which side things lie that lie to the right of one.
    pub fn side(self) -> f64 {
        match self {
            Self::Right => 1.0,
            Self::Left => -1.0,
        }
    }
}
