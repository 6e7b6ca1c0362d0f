//! In: the tracks of the clips. Out: which clips belong together, each clip's role, the handedness,
//! and the time offset between phones.
