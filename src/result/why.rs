//! Why a number can't be told.

use crate::terms::keyed;

keyed! {
    /// Why a number can't be told, in the order in which reasons are listed.
    pub enum Why {
        /// How fast the clip was filmed is in doubt, so seconds and speeds are.
        ClockInDoubt = "clock_in_doubt",
        /// A moment that the number counts from or to was not seen.
        MomentNotSeen = "moment_not_seen",
        /// Hips, shoulders or knees were not seen there, or the angle has no meaning there.
        NotSeen = "not_seen",
        /// A camera stands far from its place, so that nothing tells where the target line runs.
        CameraInDoubt = "camera_in_doubt",
        /// The interval is too wide, and the two views contradict each other there.
        ViewsContradict = "views_contradict",
        /// The pictures are unlike those that the networks learned from, so that no interval can be stood by.
        OddPictures = "odd_pictures",
        /// The interval is too wide, mostly because the moment itself is not sharp.
        MomentUnsure = "moment_unsure",
        /// The interval is too wide from one view; a second one would narrow it.
        OneView = "one_view",
        /// The interval is too wide, for no single reason.
        TooWide = "too_wide",
    }
}
