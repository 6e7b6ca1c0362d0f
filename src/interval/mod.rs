//! In: measures with propagated variances. Out: 95 % intervals, calibrated by split conformal.

mod factors;

pub use factors::{Factors, Z95};
