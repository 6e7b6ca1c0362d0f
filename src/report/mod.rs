//! In: a result, its curves and the clips. Out: pages, charts, stills and annotated video.
