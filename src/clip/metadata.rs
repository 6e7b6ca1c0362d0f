//! What phones write beside the pictures.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// All tags of a container and its video stream, keys in lower case; the stream's win.
#[derive(Clone, Debug, Default)]
pub struct Tags(BTreeMap<String, String>);

impl Tags {
    /// Tags of one place in the file; those of an earlier one with the same key are replaced.
    pub fn add<'a>(&mut self, pairs: impl Iterator<Item = (&'a str, &'a str)>) {
        for (k, v) in pairs {
            self.0.insert(k.to_lowercase(), v.to_owned());
        }
    }

    fn number(&self, wanted: impl Fn(&str) -> bool) -> Option<f64> {
        self.0
            .iter()
            .filter(|(k, _)| wanted(k))
            .find_map(|(_, v)| v.split_whitespace().next()?.parse::<f64>().ok())
            .filter(|v| v.is_finite() && *v > 0.0)
    }

    /// Frames a second while filming.
    pub fn capture_fps(&self) -> Option<f64> {
        self.number(|k| k.ends_with("capture.fps"))
            .filter(|v| (1.0..=2000.0).contains(v))
    }

    /// 35 mm equivalent focal length, mm.
    pub fn focal_35mm(&self) -> Option<f64> {
        self.number(|k| k.contains("focal") && k.contains("35"))
            .filter(|v| (8.0..=400.0).contains(v))
    }

    /// Seconds since 1970 UTC, from an ISO 8601 creation time.
    pub fn created_unix_s(&self) -> Option<f64> {
        self.0
            .iter()
            .filter(|(k, _)| k.contains("creation") || k.contains("date"))
            .find_map(|(_, v)| parse_iso(v))
    }
}

/// `YYYY-MM-DDThh:mm:ss[.fff][Z|±hh:mm|±hhmm]` to seconds since 1970; without a zone it is UTC.
fn parse_iso(text: &str) -> Option<f64> {
    let text = text.trim();
    let at = text.parse::<Timestamp>().ok().or_else(|| {
        let local = text.parse::<DateTime>().ok()?;
        TimeZone::UTC.to_timestamp(local).ok()
    })?;
    // A clock that was never set tells a year that no phone filmed in.
    let year = TimeZone::UTC.to_datetime(at).year();
    (1904..=2200)
        .contains(&year)
        .then(|| at.as_duration().as_secs_f64())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn iso_times_are_read_with_and_without_zone() {
        assert_eq!(parse_iso("1970-01-02T00:00:00.000000Z"), Some(86_400.0));
        assert_eq!(parse_iso("2024-02-29T12:30:15+0100"), Some(1_709_206_215.0));
        assert_eq!(parse_iso("2024-02-29 11:30:15"), Some(1_709_206_215.0));
        assert_eq!(
            parse_iso("2024-02-29T13:30:15.5+02:00"),
            Some(1_709_206_215.5)
        );
        assert_eq!(parse_iso("yesterday"), None);
        assert_eq!(parse_iso("1800-01-01T00:00:00Z"), None);
        assert_eq!(
            parse_iso("2024-01-01T9223372036854775807:9223372036854775807:0Z"),
            None
        );
    }

    #[test]
    fn phone_tags_are_found_by_their_endings() {
        let mut t = Tags::default();
        t.add(
            [
                ("com.android.capture.fps", "240.000000"),
                (
                    "com.apple.quicktime.camera.focal_length.35mm_equivalent",
                    "26",
                ),
            ]
            .into_iter(),
        );
        assert_eq!(t.capture_fps(), Some(240.0));
        assert_eq!(t.focal_35mm(), Some(26.0));
        t.add([("com.android.capture.fps", "nan")].into_iter());
        assert_eq!(t.capture_fps(), None);
    }
}
