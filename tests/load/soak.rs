//! The local page in use for long, by good and by bad clients: it neither grows nor tells names.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::Stdio;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::http::{Answer, Show};
use crate::memory::{now_kb, peak_kb};
use crate::program::sample;
use crate::{AGREED, HEAD_ONLY, names};

/// Memory at the end over that after the first minute.
const MOST_GROWTH: f64 = 1.5;
/// What the coach typed and what the phones call their clips; neither may stand in a log.
const PLAYER: &str = "Wilhelmina Zwetschgenbaum";
const FILE: &str = "Ullas-Geburtstag.mp4";
const SECRETS: [&str; 5] = [
    "wilhelmina",
    "zwetschgenbaum",
    "ullas",
    "geburtstag",
    "siebeneisen",
];
const FORM: &str = "application/x-www-form-urlencoded";
/// Small limits, so that uploads can be too large and too slow quickly.
const LIMITS: &str = "[web]\nupload_max_bytes = 1000000\nupload_stall_s = 2.0\nhead_s = 2.0\n";

struct Room<'a> {
    show: &'a Show,
    results: PathBuf,
    good: Vec<u8>,
    /// What was asked and what was answered, how often.
    told: Mutex<BTreeMap<(&'static str, u16), usize>>,
    /// The last uploads' numbers.
    jobs: Mutex<Vec<String>>,
}

type Act = fn(&Room<'_>, &mut ChaCha8Rng) -> Option<Answer>;

/// What clients do, what they may be answered, and how often they do it.
const ACTS: [(&str, usize, &[u16], Act); 13] = [
    ("a page", 40, &[200], |r, _| Some(r.show.get("/"))),
    ("the form", 10, &[200], |r, _| Some(r.show.get("/upload"))),
    // A swing may be deleted while it is looked at.
    ("a swing", 20, &[200, 404], |r, g| r.swing(g)),
    ("a comparison", 2, &[200, 404], |r, g| r.comparison(g)),
    ("notes", 5, &[303, 404], |r, g| r.notes(g)),
    ("a job", 20, &[200, 404], |r, g| r.job(g)),
    ("no such page", 5, &[404], |r, _| {
        Some(r.show.get("/siebeneisen"))
    }),
    ("a clip without a swing", 4, &[303], |r, _| {
        r.upload(HEAD_ONLY, "")
    }),
    ("no video", 5, &[415], |r, _| {
        r.upload(b"<html>no video</html>", "")
    }),
    ("too large", 5, &[413], |r, _| r.upload(&oversize(), "")),
    ("too slow", 2, &[408], |r, _| {
        r.half(Duration::from_secs(20))
    }),
    // Nothing need be answered to a head that never ends.
    ("half a head", 2, &[0, 408], |r, _| Some(r.half_a_head())),
    ("no key", 10, &[401], |r, _| {
        let head = format!(
            "GET /swing/{PLAYER} HTTP/1.1\r\nHost: {}\r\nCookie: quarterturn_key=00\r\nConnection: close\r\n\r\n",
            r.show.host
        );
        Some(r.show.send(head.replace(PLAYER, "wilhelmina").as_bytes()))
    }),
];

fn oversize() -> Vec<u8> {
    let mut clip = HEAD_ONLY.to_vec();
    clip.resize(1_500_000, 0);
    clip
}

impl Room<'_> {
    /// A good or bad clip; the answer's job is kept.
    fn upload(&self, clip: &[u8], more: &str) -> Option<Answer> {
        let mut fields = AGREED.to_vec();
        let player = format!("{PLAYER}{more}");
        fields.push(("player", &player));
        let (kind, body) = Show::form(&fields, &[("face_on", FILE, clip)]);
        let own = self.show.own_origin();
        let answer = self.show.post("/upload", &kind, &body, Some(&own));
        if let Some(id) = answer
            .header("location")
            .and_then(|l| l.strip_prefix("/job/"))
        {
            let mut jobs = self.jobs.lock().expect("a lock");
            jobs.push(id.to_owned());
            let surplus = jobs.len().saturating_sub(20);
            jobs.drain(..surplus);
        }
        Some(answer)
    }

    /// Half an upload, and then silence for as long; none: the line is cut at once.
    fn half(&self, wait: Duration) -> Option<Answer> {
        let (kind, body) = Show::form(&AGREED, &[("face_on", FILE, &self.good)]);
        let head = format!(
            "POST /upload HTTP/1.1\r\nHost: {}\r\n{}\r\nOrigin: {}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
            self.show.host,
            self.show.cookie(),
            self.show.own_origin(),
            body.len()
        );
        let mut stream = TcpStream::connect(&self.show.host).expect("connects");
        stream.write_all(head.as_bytes()).expect("sends");
        stream.write_all(&body[..body.len() / 2]).expect("sends");
        if wait.is_zero() {
            return None;
        }
        stream.set_read_timeout(Some(wait)).expect("sets");
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        Some(Answer::parse(&all))
    }

    fn half_a_head(&self) -> Answer {
        let mut stream = TcpStream::connect(&self.show.host).expect("connects");
        let head = format!("GET /siebeneisen HTTP/1.1\r\nHost: {}", self.show.host);
        stream.write_all(head.as_bytes()).expect("sends");
        let wait = Some(Duration::from_secs(20));
        stream.set_read_timeout(wait).expect("sets");
        let mut all = Vec::new();
        let ended = stream.read_to_end(&mut all);
        assert!(ended.is_ok(), "it was not let go: {ended:?}");
        Answer::parse(&all)
    }

    fn any_swing(&self, random: &mut ChaCha8Rng) -> Option<String> {
        let all = names(&self.results);
        let all: Vec<_> = all.into_iter().filter(|n| !n.starts_with('.')).collect();
        (!all.is_empty()).then(|| all[random.random_range(0..all.len())].clone())
    }

    fn swing(&self, random: &mut ChaCha8Rng) -> Option<Answer> {
        let name = self.any_swing(random)?;
        let parts = ["", "/report.html", "/swing.json", "/curves.csv"];
        let part = parts[random.random_range(0..parts.len())];
        Some(self.show.get(&format!("/swing/{name}{part}")))
    }

    fn comparison(&self, random: &mut ChaCha8Rng) -> Option<Answer> {
        let (a, b) = (self.any_swing(random)?, self.any_swing(random)?);
        if a == b {
            return None;
        }
        let path = format!("/compare?first={a}&second={b}");
        Some(self.show.get(&path))
    }

    fn notes(&self, random: &mut ChaCha8Rng) -> Option<Answer> {
        let name = self.any_swing(random)?;
        let path = format!("/swing/{name}/typed");
        let own = self.show.own_origin();
        let text = b"notes=Siebeneisen+first";
        Some(self.show.post(&path, FORM, text, Some(&own)))
    }

    fn job(&self, random: &mut ChaCha8Rng) -> Option<Answer> {
        let jobs = self.jobs.lock().expect("a lock").clone();
        let id = jobs.get(random.random_range(0..jobs.len().max(1)))?;
        let part = ["", "/state"][random.random_range(0..2)];
        Some(self.show.get(&format!("/job/{id}{part}")))
    }

    fn act(&self, random: &mut ChaCha8Rng) {
        let total: usize = ACTS.iter().map(|a| a.1).sum();
        let mut pick = random.random_range(0..total);
        for (what, weight, allowed, act) in &ACTS {
            if pick < *weight {
                if let Some(answer) = act(self, random) {
                    let status = answer.status;
                    assert!(
                        allowed.contains(&status),
                        "{what}: {status} {}",
                        answer.body
                    );
                    self.count(what, status);
                }
                return;
            }
            pick -= weight;
        }
    }

    fn count(&self, what: &'static str, status: u16) {
        *self
            .told
            .lock()
            .expect("a lock")
            .entry((what, status))
            .or_default() += 1;
    }

    /// The coach's own hand: a whole swing now and then, a line that is cut, and everything of a
    /// player deleted.
    fn coach(&self, until: Instant) {
        for round in 0.. {
            // No measurement may be under way when the player is deleted.
            let sent = self.upload(&self.good, " Good").expect("an answer");
            assert_eq!(sent.status, 303, "{}", sent.body);
            self.count("a swing sent", sent.status);
            let id = sent.header("location").expect("a job");
            let id = id.trim_start_matches("/job/");
            let state = self.show.wait_for_job(id, Duration::from_secs(300));
            assert_eq!(state["stage"], "done", "{state}");
            self.half(Duration::ZERO);
            if Instant::now() > until {
                return;
            }
            let player = if round % 3 == 2 { " Good" } else { "" };
            let form = format!("player={PLAYER}{player}").replace(' ', "+");
            let own = self.show.own_origin();
            loop {
                let path = "/player/delete";
                let gone = self.show.post(path, FORM, form.as_bytes(), Some(&own));
                self.count("a player deleted", gone.status);
                // Refused while one of the player's clips waits or is measured.
                match gone.status {
                    303 => break,
                    409 => std::thread::sleep(Duration::from_millis(200)),
                    other => panic!("{other}: {}", gone.body),
                }
                if Instant::now() > until {
                    return;
                }
            }
            std::thread::sleep(Duration::from_secs(5));
        }
    }
}

#[test]
#[ignore = "takes ten minutes"]
fn in_long_use_the_page_neither_grows_nor_tells_names() {
    // `SHOW_TEST_SOAK_S` makes it shorter.
    let seconds = std::env::var("SHOW_TEST_SOAK_S").map_or(600, |n| n.parse().expect("a number"));
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let pipeline = folder.path().join("small.toml");
    std::fs::write(&pipeline, LIMITS).expect("writes");
    let log = folder.path().join("log.txt");
    let told = Stdio::from(std::fs::File::create(&log).expect("a file"));
    let more = ["--pipeline", pipeline.to_str().expect("UTF-8")];
    let show = Show::run(&results, &more, told, "debug");
    let room = Room {
        show: &show,
        results,
        good: std::fs::read(sample("sixth-lesson_face_on.mp4")).expect("a clip"),
        told: Mutex::default(),
        jobs: Mutex::default(),
    };
    let began = Instant::now();
    let until = began + Duration::from_secs(seconds);
    let settled = Duration::from_secs(60.min(seconds / 2));
    let first_kb = std::thread::scope(|scope| {
        for seed in 0..4 {
            let room = &room;
            scope.spawn(move || {
                let mut random = ChaCha8Rng::seed_from_u64(seed);
                while Instant::now() < until {
                    room.act(&mut random);
                    std::thread::sleep(Duration::from_millis(random.random_range(10..60)));
                }
            });
        }
        scope.spawn(|| room.coach(until));
        std::thread::sleep(settled);
        let first_kb = now_kb(show.pid());
        while Instant::now() < until {
            eprintln!(
                "{:.0} s: {} KB",
                began.elapsed().as_secs_f64(),
                now_kb(show.pid())
            );
            std::thread::sleep(settled);
        }
        first_kb
    });
    let (last_kb, peak) = (now_kb(show.pid()), peak_kb(show.pid()));
    let told = room.told.lock().expect("a lock");
    for ((what, status), n) in told.iter() {
        eprintln!("{what}: {status}, {n} times");
    }
    let asked: usize = told.values().sum();
    let log = std::fs::read_to_string(&log).expect("a log").to_lowercase();
    eprintln!(
        "{:.0} s, {asked} requests; memory after {:.0} s {first_kb} KB, at the end {last_kb} KB, at most {peak} KB; log {} lines",
        began.elapsed().as_secs_f64(),
        settled.as_secs_f64(),
        log.lines().count()
    );
    for (what, ..) in ACTS.iter().filter(|a| a.1 >= 4) {
        assert!(told.keys().any(|k| k.0 == *what), "{what} never happened");
    }
    assert_eq!(show.get("/").status, 200);
    assert!(
        (last_kb as f64) < MOST_GROWTH * first_kb as f64,
        "it grew from {first_kb} to {last_kb} KB"
    );
    assert!(log.contains("connection"), "a log was kept");
    for secret in SECRETS {
        let line = log.lines().find(|l| l.contains(secret));
        assert!(line.is_none(), "{secret} stands in the log: {line:?}");
    }
}
