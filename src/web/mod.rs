//! In: a folder of results. Out: a local page with a library, uploads and comparisons.
