//! The strike's way to the phone.

use quarterturn::config::Pipeline;

/// Speed of sound in dry air, m/s: ISO 9613-1 at 0 °C, growing with the root of temperature.
fn speed_m_s(celsius: f64) -> f64 {
    331.3 * (1.0 + celsius / 273.15).sqrt()
}

#[test]
fn the_configured_speed_is_that_of_air_at_twenty_degrees() {
    let pipeline = Pipeline::default();
    assert!((speed_m_s(20.0) - pipeline.camera.speed_of_sound_m_s).abs() < 0.3);
}

#[test]
fn cold_and_heat_stay_within_the_stated_sigma_of_impact() {
    let pipeline = Pipeline::default();
    let way_m = 8.0;
    for celsius in [-10.0, 0.0, 20.0, 40.0] {
        let late = way_m / speed_m_s(celsius) - way_m / pipeline.camera.speed_of_sound_m_s;
        assert!(
            late.abs() < 0.5 * pipeline.swing.impact_by_sound_sigma_s,
            "{late} s at {celsius} °C"
        );
    }
    // Ignoring the way altogether would not.
    assert!(way_m / speed_m_s(20.0) > 5.0 * pipeline.swing.impact_by_sound_sigma_s);
}
