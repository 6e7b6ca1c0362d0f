//! `quarterturn show` through the built binary and a plain socket.

mod common;
#[path = "common/http.rs"]
mod http;

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::time::{Duration, Instant};

use http::Show;

const FORM: &str = "application/x-www-form-urlencoded";
const AGREED: [(&str, &str); 3] = [("consent", "yes"), ("consent", "yes"), ("consent", "yes")];

/// A library of two swings without pictures.
fn library(folder: &Path) {
    for name in ["first-lesson", "sixth-lesson"] {
        let (swing, curves, _) = common::Truth::load(name).swing(name);
        quarterturn::result::write_result(&folder.join(name), &swing, &curves).expect("writes");
    }
}

/// A text that stands in the typed part of a result.
fn typed(results: &Path, swing: &str, field: &str) -> Option<String> {
    let bytes = std::fs::read(results.join(swing).join("swing.json")).expect("a result");
    let file: serde_json::Value = serde_json::from_slice(&bytes).expect("JSON");
    Some(file["typed_in"].get(field)?.as_str()?.to_owned())
}

fn nothing_but(folder: &Path) -> Vec<String> {
    std::fs::read_dir(folder)
        .map(|all| {
            all.flatten()
                .map(|e| e.file_name().to_string_lossy().into_owned())
                .collect()
        })
        .unwrap_or_default()
}

#[test]
fn only_the_one_with_the_key_and_the_right_address_is_let_in() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    library(&results);
    let show = Show::start(&results, &[]);
    assert!(show.host.starts_with("127.0.0.1:"), "{}", show.host);

    let raw = |head: &str| {
        show.send(format!("GET / HTTP/1.1\r\n{head}Connection: close\r\n\r\n").as_bytes())
    };
    assert_eq!(raw(&format!("Host: {}\r\n", show.host)).status, 401);
    assert_eq!(
        raw(&format!(
            "Host: {}\r\nCookie: quarterturn_key={}\r\n",
            show.host,
            "0".repeat(32)
        ))
        .status,
        401
    );
    assert_eq!(
        raw(&format!("Host: rebound.example\r\n{}\r\n", show.cookie())).status,
        421
    );
    assert_eq!(
        raw(&format!("{}\r\n", show.cookie())).status,
        421,
        "no host at all"
    );
    assert_eq!(show.get("/enter?key=wrong").status, 401);

    let entered = show.get(&format!("/enter?key={}", show.key));
    assert_eq!(entered.status, 303);
    let cookie = entered.header("set-cookie").expect("a cookie");
    assert!(
        cookie.contains("httponly") && cookie.contains("samesite=lax"),
        "{cookie}"
    );

    let page = show.get("/");
    assert_eq!(page.status, 200);
    assert!(page.body.contains("Sam Sample") && page.body.contains("2 swings"));
    let policy = page.header("content-security-policy").expect("a policy");
    assert!(
        policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
        "{policy}"
    );
    assert_eq!(page.header("x-content-type-options"), Some("nosniff"));
    assert!(page.header("access-control-allow-origin").is_none());
}

#[test]
fn a_page_of_an_older_version_keeps_its_style_and_gets_no_script_of_its_own() {
    use base64::Engine;
    use sha2::{Digest, Sha256};
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    library(&results);
    let style = "body{margin:1em}";
    let page = format!("<html><head><style>{style}</style></head><script>steal()</script></html>");
    std::fs::write(results.join("first-lesson/report.html"), &page).expect("writes");
    let show = Show::start(&results, &[]);
    let answer = show.get("/swing/first-lesson/report.html");
    assert_eq!((answer.status, &answer.body), (200, &page));
    let policy = answer.header("content-security-policy").expect("a policy");
    // The client tells headers in small letters.
    let hash = |text: &str| {
        let hash = base64::engine::general_purpose::STANDARD.encode(Sha256::digest(text));
        hash.to_ascii_lowercase()
    };
    assert!(
        policy.contains(&format!("style-src 'sha256-{}'", hash(style))),
        "{policy}"
    );
    assert!(
        policy.contains("script-src 'sha256-") && !policy.contains(&hash("steal()")),
        "{policy}"
    );
    assert!(policy.contains("default-src 'none'"), "{policy}");
    assert!(policy.contains("frame-ancestors 'none'"), "{policy}");
}

#[test]
fn no_path_leads_out_of_the_library() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    library(&results);
    std::fs::write(folder.path().join("swing.json"), "secret").expect("writes");
    std::fs::write(results.join("first-lesson/other.txt"), "secret").expect("writes");
    let show = Show::start(&results, &[]);
    assert_eq!(show.get("/swing/first-lesson/swing.json").status, 200);
    for path in [
        "/swing/../swing.json",
        "/swing/%2e%2e/swing.json",
        "/swing/..%2f/swing.json",
        "/swing/first-lesson/..%2f..%2fswing.json",
        "/swing/first-lesson/other.txt",
        "/swing/first-lesson%2f..%2fsixth-lesson/swing.json",
        "/swing/first-lesson%00/swing.json",
        "/swing/%2fetc/passwd",
        "//etc/passwd",
        "/swing/first-lesson/stills/..%2fswing.json",
        "/swing/first-lesson%0d%0aSet-Cookie:%20a=b/notes",
    ] {
        let answer = show.get(path);
        assert!(
            matches!(answer.status, 400 | 404 | 405),
            "{path}: {}",
            answer.status
        );
        assert!(!answer.body.contains("secret"), "{path}");
        assert!(!answer.head.contains("a=b"), "{path}: {}", answer.head);
    }
}

#[test]
fn notes_are_kept_from_this_page_and_from_no_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    library(&results);
    let show = Show::start(&results, &[]);
    let notes = || typed(&results, "first-lesson", "notes");
    let post = |origin: Option<&str>| {
        show.post(
            "/swing/first-lesson/typed",
            FORM,
            b"notes=hips+first%0D%0A%3Cb%3E",
            origin,
        )
    };
    for foreign in [
        None,
        Some("null"),
        Some("http://evil.example"),
        Some("http://127.0.0.1:1"),
    ] {
        assert_eq!(post(foreign).status, 403, "{foreign:?}");
        assert_eq!(notes(), None);
    }
    let own = show.own_origin();
    assert_eq!(post(Some(&own)).status, 303);
    assert_eq!(notes().as_deref(), Some("hips first\n<b>"));
    let page = show.get("/swing/first-lesson");
    assert!(
        page.body.contains("hips first")
            && page.body.contains("&lt;b&gt;")
            && !page.body.contains("<b>\n")
    );
    let long = format!("notes={}", "x".repeat(30_000));
    assert_eq!(
        show.post(
            "/swing/first-lesson/typed",
            FORM,
            long.as_bytes(),
            Some(&own)
        )
        .status,
        413
    );
    let huge = format!("notes={}", "x".repeat(300_000));
    assert_eq!(
        show.post(
            "/swing/first-lesson/typed",
            FORM,
            huge.as_bytes(),
            Some(&own)
        )
        .status,
        413
    );
}

#[test]
fn uploads_that_are_no_videos_too_large_or_without_consent_leave_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let uploads = folder.path().join("results-uploads");
    let pipeline = folder.path().join("small.toml");
    std::fs::write(
        &pipeline,
        "[web]\nupload_max_bytes = 200000\nupload_stall_s = 1.0\nhead_s = 1.0\n",
    )
    .expect("writes");
    let show = Show::start(&results, &["--pipeline", pipeline.to_str().expect("UTF-8")]);
    let own = show.own_origin();
    let clip = std::fs::read(common::samples().join("first-lesson_face_on.mp4")).expect("a clip");
    let send = |fields: &[(&str, &str)], files: &[(&str, &str, &[u8])]| {
        let (kind, body) = Show::form(fields, files);
        show.post("/upload", &kind, &body, Some(&own))
    };
    // The name says video, the bytes don't.
    let answer = send(
        &AGREED,
        &[("face_on", "swing.mp4", b"<html>not a video at all</html>")],
    );
    assert_eq!(answer.status, 415, "{}", answer.body);
    assert!(answer.body.contains("not an MP4 or MOV"));
    assert_eq!(send(&AGREED, &[]).status, 422);
    assert_eq!(
        send(&AGREED[..2], &[("face_on", "a.mp4", &clip)]).status,
        422
    );
    let mut large = clip.clone();
    large.resize(400_000, 0);
    assert_eq!(send(&AGREED, &[("face_on", "a.mp4", &large)]).status, 413);
    let long = "x".repeat(2000);
    assert_eq!(send(&[("player", long.as_str())], &[]).status, 413);
    let (kind, body) = Show::form(&AGREED, &[("face_on", "a.mp4", &clip)]);
    assert_eq!(
        show.post("/upload", &kind, &body, Some("http://evil.example"))
            .status,
        403
    );
    assert_eq!(
        show.post("/upload", "text/plain", &body, Some(&own)).status,
        400
    );

    // A sender that stops in the middle is let go, and its part is removed.
    let started = Instant::now();
    let mut stream = TcpStream::connect(&show.host).expect("connects");
    let head = format!(
        "POST /upload HTTP/1.1\r\nHost: {}\r\n{}\r\nOrigin: {own}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
        show.host,
        show.cookie(),
        body.len()
    );
    stream.write_all(head.as_bytes()).expect("writes");
    stream.write_all(&body[..body.len() / 2]).expect("writes");
    stream
        .set_read_timeout(Some(Duration::from_secs(20)))
        .expect("sets");
    let mut answer = [0; 64];
    let n = stream.read(&mut answer).expect("an answer");
    let answer = String::from_utf8_lossy(&answer[..n]);
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    assert!(started.elapsed() < Duration::from_secs(10));
    assert_eq!(nothing_but(&uploads), Vec::<String>::new());

    // So is one that never ends its head.
    let started = Instant::now();
    let mut stream = TcpStream::connect(&show.host).expect("connects");
    stream
        .write_all(b"GET / HTTP/1.1\r\nHost: ")
        .expect("writes");
    stream
        .set_read_timeout(Some(Duration::from_secs(20)))
        .expect("sets");
    let mut rest = Vec::new();
    let _ = stream.read_to_end(&mut rest);
    assert!(started.elapsed() < Duration::from_secs(10));
    assert!(!String::from_utf8_lossy(&rest).contains("200 OK"));
}

#[test]
fn what_an_earlier_run_left_is_swept_or_measured() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let uploads = folder.path().join("results-uploads");
    std::fs::create_dir_all(uploads.join(".part-cut")).expect("makes");
    let left = uploads.join("0123abcd");
    std::fs::create_dir_all(&left).expect("makes");
    std::fs::write(left.join("face_on.mp4"), b"no video").expect("writes");
    let ticket = r#"{"id": "0123abcd", "name": "ann-1", "player": "Ann", "clips": [["face_on", "face_on.mp4"]]}"#;
    std::fs::write(left.join("upload.json"), ticket).expect("writes");
    let show = Show::start(&results, &[]);
    let state = show.wait_for_job("0123abcd", Duration::from_secs(60));
    assert_eq!(state["stage"], "failed");
    assert_eq!(nothing_but(&uploads), ["0123abcd"]);
}

#[test]
fn a_clip_that_cannot_be_measured_is_told_and_then_deleted_for_good() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let uploads = folder.path().join("results-uploads");
    library(&results);
    let show = Show::start(&results, &[]);
    let own = show.own_origin();
    let mut fields = AGREED.to_vec();
    fields.push(("player", "Ann\r\nX-Evil: 1"));
    // The head of a video and nothing behind it.
    let (kind, body) = Show::form(
        &fields,
        &[(
            "face_on",
            "../../a.mp4",
            b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom",
        )],
    );
    let sent = show.post("/upload", &kind, &body, Some(&own));
    assert_eq!(sent.status, 303, "{}", sent.body);
    assert!(!sent.head.contains("x-evil"));
    let id = sent
        .header("location")
        .and_then(|l| l.strip_prefix("/job/"))
        .expect("a job")
        .to_owned();
    let state = show.wait_for_job(&id, Duration::from_secs(60));
    assert_eq!(state["stage"], "failed");
    let why = state["line"].as_str().expect("a reason");
    assert!(
        why.contains("face_on.mp4") && !why.contains("uploads"),
        "{why}"
    );
    assert_eq!(nothing_but(&uploads), [id]);
    assert!(!folder.path().join("a.mp4").exists());

    let gone = show.post(
        "/player/delete",
        FORM,
        b"player=Ann++X-Evil%3A+1",
        Some(&own),
    );
    assert_eq!(gone.status, 303, "{}", gone.body);
    assert_eq!(nothing_but(&uploads), Vec::<String>::new());
    let ask = show.get("/player/delete?player=Sam%20Sample");
    assert!(ask.body.contains("first-lesson") && ask.body.contains("for good"));
    assert_eq!(
        show.post(
            "/player/delete",
            FORM,
            b"player=Sam+Sample",
            Some("http://evil.example")
        )
        .status,
        403
    );
    assert_eq!(
        show.post("/player/delete", FORM, b"player=Sam+Sample", Some(&own))
            .status,
        303
    );
    assert_eq!(nothing_but(&results), Vec::<String>::new());
}

#[test]
fn any_two_swings_are_compared_and_a_wrong_name_is_not() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    library(&results);
    let show = Show::start(&results, &[]);
    let page = show.get("/compare?first=first-lesson&second=sixth-lesson");
    assert_eq!(page.status, 200);
    assert!(page.body.contains("side by side") && page.body.contains("changed"));
    assert_eq!(
        show.get("/compare?first=first-lesson&second=..").status,
        404
    );
}

/// Sends clips and kills the page at random moments; starts it again each time, and lets the last
/// one finish. Every upload that was answered is measured, or failed for a reason, exactly once.
fn killed(kills: usize, span_s: std::ops::Range<f64>) {
    use rand::{RngExt, SeedableRng};
    let folder = tempfile::tempdir().expect("a folder");
    let (results, uploads) = (
        folder.path().join("results"),
        folder.path().join("results-uploads"),
    );
    std::fs::create_dir_all(&results).expect("makes");
    let good = std::fs::read(common::samples().join("sixth-lesson_face_on.mp4")).expect("a clip");
    let bad = b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom";
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(9);
    let mut answered: Vec<(String, bool)> = Vec::new();
    for kill in 0..kills {
        let show = Show::start(&results, &[]);
        let own = show.own_origin();
        // Every twentieth clip shows a swing; the others fail as soon as they are read.
        let whole = kill % 20 == 0;
        let clip: &[u8] = if whole { &good } else { bad };
        let (kind, body) = Show::form(&AGREED, &[("face_on", "a.mp4", clip)]);
        let sent = show.post("/upload", &kind, &body, Some(&own));
        assert_eq!(sent.status, 303, "{}", sent.body);
        let id = sent
            .header("location")
            .and_then(|l| l.strip_prefix("/job/"));
        answered.push((id.expect("a job").to_owned(), whole));
        std::thread::sleep(Duration::from_secs_f64(random.random_range(span_s.clone())));
        if kill % 3 == 2 {
            // Half an upload, cut by the kill.
            let head = format!(
                "POST /upload HTTP/1.1\r\nHost: {}\r\n{}\r\nOrigin: {own}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
                show.host,
                show.cookie(),
                body.len()
            );
            let mut stream = TcpStream::connect(&show.host).expect("connects");
            stream.write_all(head.as_bytes()).expect("sends");
            stream.write_all(&body[..body.len() / 2]).expect("sends");
        }
        // Dropping it is kill -9.
    }
    let _show = Show::start(&results, &[]);
    for (id, whole) in &answered {
        let ticket = || -> serde_json::Value {
            let text = std::fs::read(uploads.join(id).join("upload.json")).expect("still there");
            serde_json::from_slice(&text).expect("a ticket")
        };
        let name = ticket()["name"].as_str().expect("a name").to_owned();
        let result = results.join(&name).join("swing.json");
        let began = Instant::now();
        while !result.exists() && ticket()["nothing"].is_null() {
            assert!(
                began.elapsed() < Duration::from_secs(300),
                "{id} never ended"
            );
            std::thread::sleep(Duration::from_millis(100));
        }
        assert_eq!(result.exists(), *whole, "{id}");
        assert_eq!(ticket()["nothing"].is_null(), *whole, "{id}: {}", ticket());
    }
    assert_eq!(nothing_but(&uploads).len(), answered.len());
    let whole = answered.iter().filter(|a| a.1).count();
    assert_eq!(
        nothing_but(&results).len(),
        whole,
        "{:?}",
        nothing_but(&results)
    );
    eprintln!(
        "{kills} kills, {} uploads, {whole} measured",
        answered.len()
    );
}

#[test]
fn a_page_killed_while_it_measures_loses_no_upload() {
    killed(4, 0.0..2.0);
}

/// `SHOW_TEST_KILLS` makes it shorter.
#[test]
#[ignore = "takes many minutes"]
fn two_hundred_kills_lose_no_upload_and_measure_none_twice() {
    killed(
        std::env::var("SHOW_TEST_KILLS").map_or(200, |n| n.parse().expect("a number")),
        0.0..2.0,
    );
}
