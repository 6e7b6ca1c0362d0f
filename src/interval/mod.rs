//! In: the body under the cameras as found and under each of their parameters moved, and what was
//! learnt. Out: every measure with its propagated variance as a 95 % interval, calibrated by split conformal.

mod estimate;
mod evidence;
mod factors;

pub use estimate::{Estimator, Ranged};
pub use factors::{Factors, Z95};
