//! In: measured swings and a sensor session. Out: how far they agree, and a studio calibration.
