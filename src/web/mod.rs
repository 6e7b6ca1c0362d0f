//! In: a folder of results. Out: a local page with a library, uploads and comparisons.
//!
//! The page is for one coach: every request needs the token of this run, comes from this server's
//! own pages, and names this server's own address. Nothing outside is ever asked for anything.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod agreed;
mod client;
mod filter;
mod guard;
mod index;
mod jobs;
mod library;
mod measuring;
mod pages;
mod pairing;
mod pick;
mod remove;
mod rename;
mod render_thread;
mod serve;
mod sniff;
mod state;
mod thumbs;
mod ticket;
mod upload;
mod work;

pub use serve::{Addresses, serve};
pub use state::ShowOptions;
