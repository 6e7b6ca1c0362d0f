//! What every page says about its own limits.

/// The cautions, one sentence each, in the order in which they are shown.
pub const CAUTIONS: [&str; 5] = [
    "Pain stops the session.",
    "Turn targets are no medical advice.",
    "A student with back, hip or knee trouble belongs with a licensed professional first.",
    "Local rules on filming people come first, and for minors above all.",
    "A video estimate is no clinical measurement.",
];

/// What the upload page asks before a clip is sent.
pub const CONSENT: [&str; 3] = [
    "The person in the clip knows that it is filmed, measured and kept here, and agrees.",
    "For a minor, a parent or guardian has agreed as well, and your club's and your country's rules allow it.",
    "Nobody else can be recognised in the picture who has not agreed.",
];

/// Why a large separation alone is nothing to aim for.
pub const SEPARATION_STORY: &str = "Separation grows when the shoulders (rib cage) turn further, and it \
grows just as well when the hips are held back. Holding the hips usually lowers both turns, so a large \
separation alone is no achievement: read it together with the two turns, and with what the ball did.";
