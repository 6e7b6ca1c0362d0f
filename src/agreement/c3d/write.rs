//! Writing: float data, parameters first, events in the EVENT group.

use super::number::Processor;
use super::{C3dEvent, Track};

/// What a C3D file is made of. Every track has the same number of points.
#[derive(Clone, Debug)]
pub struct C3dWriter {
    /// How numbers are stored.
    pub processor: Processor,
    /// Frames a second.
    pub rate_hz: f64,
    /// Frame 1 is at 0 s.
    pub first_frame: u16,
    /// The points, all of one length.
    pub tracks: Vec<Track>,
    /// Moments to name.
    pub events: Vec<C3dEvent>,
    /// Labels of the tracks that hold angles, degrees.
    pub angles: Vec<String>,
    /// Group and its texts, such as the frame and the sequence of angles.
    pub texts: (String, Vec<(String, String)>),
}

/// The format counts frames, labels and blocks in few bits.
#[derive(Debug, thiserror::Error)]
#[error("too large for a C3D file: {0}. Export a shorter part of the swing.")]
pub struct TooLarge(String);

struct Section {
    processor: Processor,
    bytes: Vec<u8>,
}

impl Section {
    fn record(&mut self, id: i8, name: &str, body: &[u8]) {
        let name: Vec<u8> = name.bytes().take(127).collect();
        self.bytes.push(name.len() as u8);
        self.bytes.push(id as u8);
        self.bytes.extend(&name);
        // The pointer counts from itself to the next record.
        self.bytes
            .extend(self.processor.put_u16(body.len() as u16 + 2));
        self.bytes.extend(body);
    }

    fn group(&mut self, id: i8, name: &str) {
        self.record(-id, name, &[0]);
    }

    fn parameter(&mut self, id: i8, name: &str, kind: i8, dims: &[usize], data: &[u8]) {
        let mut body = vec![kind as u8, dims.len() as u8];
        body.extend(dims.iter().map(|d| *d as u8));
        body.extend(data);
        body.push(0);
        self.record(id, name, &body);
    }

    fn integer(&mut self, id: i8, name: &str, v: u16) {
        let b = self.processor.put_u16(v);
        self.parameter(id, name, 2, &[], &b);
    }

    fn float(&mut self, id: i8, name: &str, v: f32) {
        let b = self.processor.put_f32(v);
        self.parameter(id, name, 4, &[], &b);
    }

    fn text(&mut self, id: i8, name: &str, text: &str) {
        let b: Vec<u8> = ascii(text).take(255).collect();
        self.parameter(id, name, -1, &[b.len()], &b);
    }

    fn texts(&mut self, id: i8, name: &str, texts: &[String]) {
        let width = texts
            .iter()
            .map(|t| t.len().min(120))
            .max()
            .unwrap_or(1)
            .max(1);
        let data: Vec<u8> = texts
            .iter()
            .flat_map(|t| {
                ascii(t)
                    .chain(std::iter::repeat(b' '))
                    .take(width)
                    .collect::<Vec<_>>()
            })
            .collect();
        self.parameter(id, name, -1, &[width, texts.len()], &data);
    }
}

/// The format knows ASCII only.
fn ascii(text: &str) -> impl Iterator<Item = u8> {
    text.chars()
        .map(|c| if c.is_ascii() { c as u8 } else { b'?' })
}

impl C3dWriter {
    /// The whole file.
    ///
    /// # Errors
    /// [`TooLarge`] where frames, labels or parameters exceed what the format can count.
    pub fn to_bytes(&self) -> Result<Vec<u8>, TooLarge> {
        let p = self.processor;
        let frames = self
            .tracks
            .iter()
            .map(|t| t.points.len())
            .max()
            .unwrap_or(0);
        let last = usize::from(self.first_frame) + frames.max(1) - 1;
        if last > usize::from(u16::MAX) {
            return Err(TooLarge(format!("{frames} frames")));
        }
        if self.tracks.len() > 255 || self.events.len() > 255 {
            return Err(TooLarge(format!("{} tracks", self.tracks.len())));
        }
        let (mut section, data_start_at) = self.parameters(frames);
        let blocks = section.len().div_ceil(512);
        if blocks > 255 {
            return Err(TooLarge("its parameters".into()));
        }
        section.resize(blocks * 512, 0);
        let data_block = 2 + blocks;
        if let Some(b) = section.get_mut(2) {
            *b = blocks as u8;
        }
        for (i, b) in p.put_u16(data_block as u16).into_iter().enumerate() {
            if let Some(slot) = section.get_mut(data_start_at + i) {
                *slot = b;
            }
        }
        let mut out = self.header(last as u16, data_block as u16);
        out.extend(section);
        for f in 0..frames {
            for track in &self.tracks {
                let point = track.points.get(f).copied().flatten();
                for v in point.unwrap_or([0.0; 3]) {
                    out.extend(p.put_f32(v));
                }
                out.extend(p.put_f32(if point.is_some() { 0.0 } else { -1.0 }));
            }
        }
        out.resize(out.len().next_multiple_of(512), 0);
        Ok(out)
    }

    fn header(&self, last: u16, data_block: u16) -> Vec<u8> {
        let p = self.processor;
        let mut h = vec![2, 0x50];
        for w in [self.tracks.len() as u16, 0, self.first_frame, last, 0] {
            h.extend(p.put_u16(w));
        }
        h.extend(p.put_f32(-1.0));
        h.extend(p.put_u16(data_block));
        h.extend(p.put_u16(0));
        h.extend(p.put_f32(self.rate_hz as f32));
        h.resize(512, 0);
        h
    }

    /// The section and where in it the number of the data's first block stands.
    fn parameters(&self, frames: usize) -> (Vec<u8>, usize) {
        let mut s = Section {
            processor: self.processor,
            bytes: vec![1, 0x50, 0, self.processor.code()],
        };
        s.group(1, "POINT");
        s.integer(1, "USED", self.tracks.len() as u16);
        s.integer(1, "FRAMES", frames as u16);
        s.integer(1, "DATA_START", 0);
        // The value is the last word before the one-byte description length.
        let data_start_at = s.bytes.len() - 3;
        s.float(1, "SCALE", -1.0);
        s.float(1, "RATE", self.rate_hz as f32);
        s.text(1, "UNITS", "mm");
        let labels: Vec<String> = self.tracks.iter().map(|t| t.label.clone()).collect();
        let about: Vec<String> = self.tracks.iter().map(|t| t.description.clone()).collect();
        s.texts(1, "LABELS", &labels);
        s.texts(1, "DESCRIPTIONS", &about);
        if !self.angles.is_empty() {
            s.texts(1, "ANGLES", &self.angles);
            s.text(1, "ANGLE_UNITS", "deg");
        }
        s.text(1, "X_SCREEN", "+X");
        s.text(1, "Y_SCREEN", "+Z");
        s.group(2, "ANALOG");
        s.integer(2, "USED", 0);
        s.group(3, "EVENT");
        s.integer(3, "USED", self.events.len() as u16);
        if !self.events.is_empty() {
            let names: Vec<String> = self.events.iter().map(|e| e.label.clone()).collect();
            let general = vec!["General".to_owned(); names.len()];
            let mut times = Vec::new();
            for e in &self.events {
                // Minutes, seconds.
                let minutes = (e.time_s / 60.0).floor();
                times.extend(self.processor.put_f32(minutes as f32));
                times.extend(self.processor.put_f32((e.time_s - 60.0 * minutes) as f32));
            }
            s.texts(3, "CONTEXTS", &general);
            s.texts(3, "LABELS", &names);
            s.parameter(3, "TIMES", 4, &[2, self.events.len()], &times);
        }
        s.group(4, &self.texts.0);
        for (name, text) in &self.texts.1 {
            s.text(4, name, text);
        }
        (s.bytes, data_start_at)
    }
}
