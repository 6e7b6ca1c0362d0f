//! Agreement with a sensor session, checked against the rendered truth and outside references.

mod c3d;
mod calibration;
mod clocks;
mod command;
mod fixture;
mod markers;
mod schema;
mod sensor_csv;
mod statistics;
