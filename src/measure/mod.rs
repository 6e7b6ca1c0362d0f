//! In: the clips of one swing and options. Out: the swing measured, through all the rooms.
