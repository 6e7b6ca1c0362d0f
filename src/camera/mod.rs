//! In: what each view saw, with roles, and a stature if known. Out: each camera's focal length,
//! attitude and place in the world with a covariance, and the phones' time offset; or the reason
//! why they can't be found.

mod model;
mod problem;
mod residuals;
mod solve;
mod view_data;

pub use model::{Attitude, Camera, camera_from_crop, role_azimuth};
pub use problem::Problem;
pub use solve::{CameraFit, FitError, FittedView, PARAMETERS, solve};
pub use view_data::{JOINTS, JointSample, STILL_POINTS, StillPoint, ViewData};
