//! What phones write beside the pictures.

use std::collections::BTreeMap;

/// All tags of a container and its video stream, keys in lower case; the stream's win.
#[derive(Clone, Debug, Default)]
pub struct Tags(BTreeMap<String, String>);

impl Tags {
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

/// `YYYY-MM-DDThh:mm:ss[.fff][Z|±hh:mm|±hhmm]` to seconds since 1970 UTC.
fn parse_iso(text: &str) -> Option<f64> {
    let t = text.trim();
    let (date, rest) = t.split_once(['T', ' '])?;
    let mut d = date.split('-').map(|p| p.parse::<i64>().ok());
    let (y, m, day) = (d.next()??, d.next()??, d.next()??);
    let zone_at = rest
        .find(['Z', '+'])
        .or_else(|| rest.rfind('-'))
        .unwrap_or(rest.len());
    let (clock, zone) = rest.split_at_checked(zone_at)?;
    let mut c = clock.split(':');
    let (h, min) = (
        c.next()?.parse::<i64>().ok()?,
        c.next()?.parse::<i64>().ok()?,
    );
    let s: f64 = c.next().unwrap_or("0").parse().ok()?;
    if !(1904..=2200).contains(&y)
        || !(1..=12).contains(&m)
        || !(1..=31).contains(&day)
        || !(0.0..61.0).contains(&s)
    {
        return None;
    }
    let offset_min = match zone.chars().next() {
        Some(sign @ ('+' | '-')) => {
            let digits: String = zone.chars().filter(char::is_ascii_digit).collect();
            let hours: i64 = digits.get(0..2)?.parse().ok()?;
            let minutes: i64 = digits.get(2..4).unwrap_or("0").parse().ok()?;
            (hours * 60 + minutes) * if sign == '-' { -1 } else { 1 }
        }
        _ => 0,
    };
    // Days from civil date: Howard Hinnant's algorithm, exact for the Gregorian calendar.
    let (yy, mm) = if m <= 2 { (y - 1, m + 9) } else { (y, m - 3) };
    let era = yy.div_euclid(400);
    let yoe = yy.rem_euclid(400);
    let doe = yoe * 365 + yoe / 4 - yoe / 100 + (153 * mm + 2) / 5 + day - 1;
    let days = era * 146_097 + doe - 719_468;
    Some((days * 86_400 + h * 3600 + (min - offset_min) * 60) as f64 + s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn iso_times_are_read_with_and_without_zone() {
        assert_eq!(parse_iso("1970-01-02T00:00:00.000000Z"), Some(86_400.0));
        assert_eq!(parse_iso("2024-02-29T12:30:15+0100"), Some(1_709_206_215.0));
        assert_eq!(parse_iso("yesterday"), None);
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
