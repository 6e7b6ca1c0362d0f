//! In: tracks with roles. Out: each camera's focal length, gravity and azimuth to the target line,
//! with a covariance, or the reason why they can't be found.
