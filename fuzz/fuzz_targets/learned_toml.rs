#![no_main]
//! Any text as a file of what was learnt for intervals.
libfuzzer_sys::fuzz_target!(|text: &str| {
    if let Ok(learned) = quarterturn::config::Learned::from_text(text) {
        assert!(learned.factors.iter().all(|f| f.scale.is_finite() && f.scale > 0.0));
    }
});
