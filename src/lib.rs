//! quarterturn: how far a golf student's pelvis and thorax turned, from one or two phone clips
//! and no sensors, with 95 % intervals.
//!
//! Rooms, in the order the data goes: [`clip`] → [`pose`] → [`find`] → [`pair`] → [`camera`] →
//! [`body`] → [`swing`] → `interval` → [`result`] → [`report`]. [`measure`] drives one swing through them.
//! The table in DEVELOPERS.md has all rooms, and each may use those above it there.

#![warn(missing_docs, clippy::missing_errors_doc)]
// What a user's file decides is an error, never a panic.
#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

pub mod agreement;
mod batch;
pub mod body;
pub mod camera;
pub mod cli;
pub mod clip;
pub mod config;
pub mod file_error;
pub mod find;
mod interval;
pub mod math;
pub mod measure;
pub mod pair;
pub mod pose;
pub mod progress;
pub mod report;
pub mod result;
pub mod sets;
pub mod swing;
pub mod terms;
pub mod warning;
mod web;
mod worker;
