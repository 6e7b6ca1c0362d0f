//! The exact truth of a rendered sample swing.

use super::sample;

pub struct Truth(serde_json::Value);

impl Truth {
    pub fn of(name: &str) -> Self {
        let text = std::fs::read(sample(&format!("{name}_truth.json"))).expect("a truth file");
        Self(serde_json::from_slice(&text).expect("JSON"))
    }

    /// Time of an event on the truth's clock: `addr`, `top`, `imp` or `fin`.
    pub fn event_s(&self, key: &str) -> f64 {
        self.0["events"][key].as_f64().expect("an event")
    }

    /// When a view's clip starts on the truth's clock.
    pub fn starts_at_s(&self, role: &str) -> f64 {
        self.0["views"][role]["starts_at_s"]
            .as_f64()
            .expect("a start")
    }

    /// A field of the sample nearest to `t`.
    pub fn at(&self, field: &str, t: f64) -> f64 {
        let samples = self.0["samples"].as_array().expect("samples");
        let time = |s: &serde_json::Value| s["t"].as_f64().expect("a time");
        let nearest = samples
            .iter()
            .min_by(|a, b| (time(a) - t).abs().total_cmp(&(time(b) - t).abs()))
            .expect("a sample");
        nearest[field]
            .as_f64()
            .unwrap_or_else(|| panic!("no {field}"))
    }

    /// A field at an event, less its value at address.
    pub fn since_address(&self, field: &str, event: &str) -> f64 {
        self.at(field, self.event_s(event)) - self.at(field, self.event_s("addr"))
    }
}
