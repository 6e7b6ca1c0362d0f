//! In: a folder of clips. Out: every swing measured exactly once, through a journal.
