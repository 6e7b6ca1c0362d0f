//! Memory of running processes, as Linux tells it.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

fn kilobytes(pid: u32, name: &str) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix(name))?;
    line.trim_start_matches(':')
        .split_whitespace()
        .next()?
        .parse()
        .ok()
}

/// The most memory that a running process ever had, KB.
pub fn peak_kb(pid: u32) -> u64 {
    kilobytes(pid, "VmHWM").expect("a running process")
}

/// The memory that a running process has, KB.
pub fn now_kb(pid: u32) -> u64 {
    kilobytes(pid, "VmRSS").expect("a running process")
}

/// Watches the processes that a process starts.
pub struct Children {
    stop: Arc<AtomicBool>,
    most: Arc<AtomicU64>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Children {
    pub fn watch(pid: u32) -> Self {
        let (stop, most) = (Arc::new(AtomicBool::new(false)), Arc::default());
        let (ended, seen): (Arc<AtomicBool>, Arc<AtomicU64>) = (stop.clone(), Arc::clone(&most));
        let thread = std::thread::spawn(move || {
            while !ended.load(Ordering::Relaxed) {
                for child in children(pid) {
                    // It may have ended since.
                    let kb = kilobytes(child, "VmHWM").unwrap_or(0);
                    seen.fetch_max(kb, Ordering::Relaxed);
                }
                std::thread::sleep(Duration::from_millis(3));
            }
        });
        Self {
            stop,
            most,
            thread: Some(thread),
        }
    }

    /// The most memory that one of them was seen with, KB.
    pub fn most_kb(mut self) -> u64 {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("watched to the end");
        }
        self.most.load(Ordering::Relaxed)
    }
}

fn children(pid: u32) -> Vec<u32> {
    let threads = std::fs::read_dir(format!("/proc/{pid}/task"));
    threads
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|t| std::fs::read_to_string(t.path().join("children")).ok())
        .flat_map(|text| {
            text.split_whitespace()
                .filter_map(|n| n.parse().ok())
                .collect::<Vec<u32>>()
        })
        .collect()
}
