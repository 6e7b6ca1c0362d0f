//! In: segments and joints over time. Out: events with intervals in time, and the measures.
