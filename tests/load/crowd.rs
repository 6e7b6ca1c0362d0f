//! A hundred phones send at once.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::Barrier;
use std::time::{Duration, Instant};

use crate::http::{Answer, Show};
use crate::memory::peak_kb;
use crate::program::sample;
use crate::{AGREED, HEAD_ONLY, names};

const PHONES: usize = 100;
/// Every so many phones send a clip that shows a swing; the others fail as soon as they are read.
const GOOD_EVERY: usize = 50;
/// Bytes behind each clip, in a box that players pass over.
const PADDING: usize = 4 << 20;
/// If the page held in memory what is sent, it would be 400 MB.
const MOST_KB: u64 = 200_000;

/// A clip that differs from phone to phone.
fn clip(phone: usize, good: &[u8]) -> Vec<u8> {
    let mut bytes = if phone.is_multiple_of(GOOD_EVERY) {
        good.to_vec()
    } else {
        HEAD_ONLY.to_vec()
    };
    let text = format!("phone {phone:03}");
    bytes.extend((8 + text.len() as u32).to_be_bytes());
    bytes.extend(b"free");
    bytes.extend(text.as_bytes());
    bytes.extend((8 + PADDING as u32).to_be_bytes());
    bytes.extend(b"free");
    bytes
}

fn send(show: &Show, phone: usize, clip: &[u8], padding: &[u8]) -> Answer {
    // One name for all, so that the names of the results are as alike as can be.
    let mut fields = AGREED.to_vec();
    let club = format!("club {phone:03}");
    fields.extend([("player", "Same Name"), ("club", &club)]);
    let (kind, form) = Show::form(&fields, &[("face_on", "swing.mp4", clip)]);
    let end = "\r\n------quarterturn-test--\r\n";
    let start = form.strip_suffix(end.as_bytes()).expect("the form's end");
    let head = format!(
        "POST /upload HTTP/1.1\r\nHost: {}\r\n{}\r\nOrigin: {}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        show.host,
        show.cookie(),
        show.own_origin(),
        form.len() + padding.len()
    );
    let mut stream = TcpStream::connect(&show.host).expect("connects");
    let wait = Some(Duration::from_secs(120));
    stream.set_read_timeout(wait).expect("sets");
    for piece in [head.as_bytes(), start, padding, end.as_bytes()] {
        // One that is refused early is still answered.
        if stream.write_all(piece).is_err() {
            break;
        }
    }
    let mut all = Vec::new();
    let _ = stream.read_to_end(&mut all);
    Answer::parse(&all)
}

#[test]
fn a_hundred_uploads_at_once_are_each_taken_once_or_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let uploads = folder.path().join("results-uploads");
    let show = Show::start(&results, &[]);
    let good = std::fs::read(sample("sixth-lesson_face_on.mp4")).expect("a clip");
    let padding = vec![0; PADDING];
    let began = Instant::now();
    let gate = Barrier::new(PHONES);
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let phones: Vec<_> = (0..PHONES)
            .map(|phone| {
                let (show, gate, good, padding) = (&show, &gate, &good, &padding);
                scope.spawn(move || {
                    let clip = clip(phone, good);
                    gate.wait();
                    send(show, phone, &clip, padding)
                })
            })
            .collect();
        phones
            .into_iter()
            .map(|p| p.join().expect("sends"))
            .collect()
    });
    let took = began.elapsed();
    assert_eq!(show.get("/").status, 200, "it goes on");

    let mut taken = BTreeMap::new();
    for (phone, answer) in answers.iter().enumerate() {
        let location = answer.header("location");
        match (
            answer.status,
            location.and_then(|l| l.strip_prefix("/job/")),
        ) {
            (303, Some(id)) => {
                assert!(taken.insert(id.to_owned(), phone).is_none(), "{id} twice");
            }
            (400..600, _) => assert!(
                answer.body.contains("role=\"alert\""),
                "phone {phone} was refused without a word: {}",
                answer.head
            ),
            _ => panic!("phone {phone}: {} {}", answer.status, answer.head),
        }
    }
    assert!(!taken.is_empty(), "all were refused");
    let there: Vec<&str> = taken.keys().map(String::as_str).collect();
    assert_eq!(names(&uploads), there, "what was taken lies there, no more");
    let mut measured = BTreeSet::new();
    for (id, phone) in &taken {
        let kept = std::fs::read(uploads.join(id).join("face_on.mp4")).expect("the clip");
        let sent = clip(*phone, &good);
        assert_eq!(kept.len(), sent.len() + PADDING, "phone {phone}");
        assert!(kept.starts_with(&sent), "phone {phone}");
        let state = show.wait_for_job(id, Duration::from_secs(300));
        let shows_a_swing = phone.is_multiple_of(GOOD_EVERY);
        let stage = if shows_a_swing { "done" } else { "failed" };
        assert_eq!(state["stage"], stage, "phone {phone}: {state}");
        if shows_a_swing {
            measured.insert(format!("club {phone:03}"));
        }
    }
    let clubs: Vec<String> = names(&results)
        .iter()
        .map(|name| {
            let text = std::fs::read(results.join(name).join("swing.json")).expect("a result");
            let swing: serde_json::Value = serde_json::from_slice(&text).expect("JSON");
            swing["typed_in"]["club"].as_str().expect("typed").into()
        })
        .collect();
    assert_eq!(clubs.len(), measured.len(), "none twice: {clubs:?}");
    assert_eq!(clubs.into_iter().collect::<BTreeSet<_>>(), measured);
    let peak = peak_kb(show.pid());
    eprintln!(
        "{PHONES} uploads of {} MB in {:.1} s: {} taken, {} refused, {} measured; peak memory {peak} KB",
        PADDING >> 20,
        took.as_secs_f64(),
        taken.len(),
        PHONES - taken.len(),
        measured.len()
    );
    assert!(peak < MOST_KB, "{peak} KB");
}
