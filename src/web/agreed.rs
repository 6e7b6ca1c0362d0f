//! Who agreed to being filmed in this run, so that a lesson of thirty swings asks once.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use crate::batch::lock;

/// Players and when they agreed. Kept in memory alone: another start of the page asks again.
pub struct Agreed {
    lasts: Duration,
    at: Mutex<BTreeMap<String, Instant>>,
}

impl Agreed {
    /// `lasts`: how long nobody is asked again.
    pub fn new(lasts: Duration) -> Self {
        Self {
            lasts,
            at: Mutex::default(),
        }
    }

    /// A player agreed just now. Without a name there is nobody to remember.
    pub fn keep(&self, player: &str) {
        if !player.is_empty() {
            let mut at = lock(&self.at);
            at.retain(|_, when| when.elapsed() < self.lasts);
            at.insert(player.to_owned(), Instant::now());
        }
    }

    /// Whether a player agreed not long ago.
    pub fn holds(&self, player: &str) -> bool {
        let at = lock(&self.at);
        at.get(player)
            .is_some_and(|when| when.elapsed() < self.lasts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_agreed_is_remembered_by_the_whole_name_and_not_for_ever() {
        let agreed = Agreed::new(Duration::from_secs(60));
        agreed.keep("Ann");
        agreed.keep("");
        assert!(agreed.holds("Ann") && !agreed.holds("Anna") && !agreed.holds(""));
        let short = Agreed::new(Duration::ZERO);
        short.keep("Ann");
        assert!(!short.holds("Ann"));
    }
}
