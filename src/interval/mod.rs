//! In: measures with propagated variances. Out: 95 % intervals, calibrated by split conformal.
