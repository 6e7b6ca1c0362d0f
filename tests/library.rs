//! The library of `quarterturn show` through the built binary and a plain socket: players, search,
//! renaming, moving, deleting, and five thousand swings.

mod common;
#[path = "common/http.rs"]
mod http;

use std::path::Path;
use std::time::{Duration, Instant};

use http::Show;
use quarterturn::result::{SwingResult, read_swing};

const FORM: &str = "application/x-www-form-urlencoded";

/// Writes a result without curves and pictures.
fn put(results: &Path, id: &str, template: &SwingResult, player: &str, lesson: &str, label: &str) {
    let mut swing = template.clone();
    swing.name = id.into();
    swing.typed_in.player = Some(player.into()).filter(|p: &String| !p.is_empty());
    swing.typed_in.lesson = lesson.parse().ok();
    swing.typed_in.label = Some(label.into()).filter(|l: &String| !l.is_empty());
    let folder = results.join(id);
    std::fs::create_dir_all(&folder).expect("made");
    let text = serde_json::to_vec_pretty(&swing).expect("JSON");
    std::fs::write(folder.join("swing.json"), text).expect("written");
}

fn template() -> SwingResult {
    common::Truth::load("first-lesson").swing("first-lesson").0
}

/// Two players over two lessons.
fn small(results: &Path) {
    let t = template();
    put(results, "a1", &t, "Ann Example", "2026-04-02", "hips held");
    put(results, "a2", &t, "Ann Example", "2026-05-14", "hips held");
    put(
        results,
        "a3",
        &t,
        "Ann Example",
        "2026-05-14",
        "hips <free>",
    );
    put(results, "b1", &t, "Bea & Sons", "2026-05-20", "");
    put(results, "none", &t, "", "", "");
}

fn player_of(results: &Path, id: &str) -> Option<String> {
    let swing = read_swing(&results.join(id).join("swing.json")).expect("reads");
    swing.typed_in.player
}

#[test]
fn players_stand_first_and_their_lessons_by_date() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    small(&results);
    let show = Show::start(&results, &[]);
    let page = show.get("/").body;
    let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("{text}: {page}"));
    assert!(at("Bea &amp; Sons") < at("Ann Example"), "the latest first");
    assert!(at("Ann Example") < at("No name given"));
    assert!(page.contains("last lesson 20 May 2026") && page.contains("last lesson 14 May 2026"));
    assert!(page.contains("3 swings in 2 lessons"));
    assert!(page.contains("/player?name=Bea%20%26%20Sons"));

    let ann = show.get("/player?name=Ann%20Example");
    assert_eq!(ann.status, 200);
    let at = |text: &str| ann.body.find(text).unwrap_or_else(|| panic!("{text}"));
    assert!(at("14 May 2026") < at("2 April 2026"));
    assert!(ann.body.contains("hips held, 1 swing") && ann.body.contains("hips &lt;free&gt;"));
    assert!(!ann.body.contains("Bea"));
    assert_eq!(show.get("/player?name=Nobody").status, 404);
    assert_eq!(
        show.get("/player?name=").status,
        200,
        "those without a name"
    );
}

#[test]
fn a_search_finds_by_any_word_and_narrows_by_every_field() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    small(&results);
    let show = Show::start(&results, &[]);
    let found = |query: &str| -> Vec<String> {
        let page = show.get(&format!("/find{query}"));
        assert_eq!(page.status, 200, "{query}");
        ["a1", "a2", "a3", "b1", "none"]
            .into_iter()
            .filter(|id| page.body.contains(&format!("href=\"/swing/{id}\"")))
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(found("").len(), 5);
    assert_eq!(found("?q=ANN+held"), ["a1", "a2"]);
    assert_eq!(found("?q=2026-05"), ["a2", "a3", "b1"]);
    assert_eq!(found("?player=Ann+Example&from=2026-05-01"), ["a2", "a3"]);
    assert_eq!(found("?label=hips+%3Cfree%3E"), ["a3"]);
    assert_eq!(found("?to=2026-04-30"), ["a1"]);
    assert!(found("?q=%22%3E%3Cscript%3E").is_empty());
    let page = show.get("/find?q=%22%3E%3Cscript%3Ex").body;
    assert!(!page.contains("<script>x"), "{page}");
    assert!(page.contains("No swing fits"));
    // What is no number of a page is refused, what is beyond the last shows the last.
    assert_eq!(show.get("/find?page=999").status, 200);
    assert_eq!(show.get("/find?page=-1").status, 400);
}

#[test]
fn a_swing_is_moved_to_another_player_and_lesson_and_nothing_else_changes() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    small(&results);
    std::fs::write(results.join("a2/notes.txt"), "of an earlier version").expect("written");
    let before = read_swing(&results.join("a2/swing.json")).expect("reads");
    let show = Show::start(&results, &[]);
    let own = show.own_origin();
    assert!(show.get("/swing/a2").body.contains("of an earlier version"));
    let post = |body: &str| {
        show.post("/swing/a2/typed", FORM, body.as_bytes(), Some(&own))
            .status
    };
    assert_eq!(post("player=Cleo&lesson=2026-06-01&label=+one+piece+"), 303);
    let mut after = read_swing(&results.join("a2/swing.json")).expect("reads");
    let typed = std::mem::take(&mut after.typed_in);
    assert_eq!(typed.player.as_deref(), Some("Cleo"));
    assert_eq!(typed.label.as_deref(), Some("one piece"));
    assert_eq!(
        typed.lesson.map(|l| l.to_string()).as_deref(),
        Some("2026-06-01")
    );
    assert_eq!(typed.club, before.typed_in.club, "not in the form");
    assert_eq!(typed.notes.as_deref(), Some("of an earlier version"));
    assert!(!results.join("a2/notes.txt").exists());
    after.typed_in = before.typed_in.clone();
    assert_eq!(after, before);
    assert!(show.get("/player?name=Cleo").body.contains("1 June 2026"));
    assert_eq!(post("lesson=2026-02-30"), 422);
    assert_eq!(post("lesson="), 303, "no day typed");
    assert_eq!(
        show.post(
            "/swing/a2/typed",
            FORM,
            b"player=Eve",
            Some("http://evil.example")
        )
        .status,
        403
    );
    assert_eq!(
        show.post("/swing/..%2fa2/typed", FORM, b"player=Eve", Some(&own))
            .status,
        404
    );
    assert_eq!(player_of(&results, "a2").as_deref(), Some("Cleo"));
}

#[test]
fn a_player_is_renamed_and_two_are_put_together_after_asking() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let uploads = folder.path().join("results-uploads");
    small(&results);
    let sent = uploads.join("0123abcd");
    std::fs::create_dir_all(&sent).expect("made");
    let ticket = r#"{"id": "0123abcd", "name": "a1", "player": "Ann Example", "clips": [["face_on", "face_on.mp4"]], "nothing": {"outcome": "failed", "error": "told"}}"#;
    std::fs::write(sent.join("upload.json"), ticket).expect("written");
    let show = Show::start(&results, &[]);
    let own = show.own_origin();
    let post = |body: &str| show.post("/player/rename", FORM, body.as_bytes(), Some(&own));
    let renamed = post("player=Ann+Example&to=Anne+Example");
    assert_eq!(renamed.status, 303);
    assert_eq!(
        renamed.header("location"),
        Some("/player?name=anne%20example"),
        "lowered by the test's client"
    );
    for id in ["a1", "a2", "a3"] {
        assert_eq!(player_of(&results, id).as_deref(), Some("Anne Example"));
    }
    let kept = std::fs::read_to_string(sent.join("upload.json")).expect("there");
    assert!(
        kept.contains("Anne Example") && !kept.contains("Ann Example"),
        "{kept}"
    );

    let asked = post("player=Anne+Example&to=Bea+%26+Sons");
    assert_eq!(asked.status, 200, "asks first");
    assert!(asked.body.contains("3 swings") && asked.body.contains("Bea &amp; Sons"));
    assert_eq!(player_of(&results, "a1").as_deref(), Some("Anne Example"));
    assert_eq!(
        post("player=Anne+Example&to=Bea+%26+Sons&together=yes").status,
        303
    );
    for id in ["a1", "a2", "a3", "b1"] {
        assert_eq!(player_of(&results, id).as_deref(), Some("Bea & Sons"));
    }
    assert_eq!(post("player=Nobody&to=Somebody").status, 404);
    assert_eq!(post("player=Bea+%26+Sons&to=++").status, 422);
    assert_eq!(
        show.post("/player/rename", FORM, b"player=Bea+%26+Sons&to=X", None)
            .status,
        403
    );
}

#[test]
fn small_pictures_come_from_the_swings_own_stills_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    small(&results);
    let stills = results.join("a1/stills");
    std::fs::create_dir(&stills).expect("made");
    image::RgbImage::from_pixel(540, 960, image::Rgb([40, 90, 160]))
        .save(stills.join("face_on_top.jpg"))
        .expect("written");
    let show = Show::start(&results, &[]);
    let small = show.get("/swing/a1/thumb");
    assert_eq!(
        (small.status, small.header("content-type")),
        (200, Some("image/jpeg"))
    );
    assert!(small.body.len() < 20_000);
    assert_eq!(show.get("/swing/a2/thumb").status, 404, "no still");
    assert_eq!(show.get("/swing/..%2fresults%2fa1/thumb").status, 404);
    let page = show.get("/player?name=Ann%20Example").body;
    assert_eq!(page.matches("/swing/a1/thumb").count(), 1);
    assert!(!page.contains("/swing/a2/thumb") && page.contains("no picture"));
}

/// Five thousand swings of 150 players, as a folder of a busy coach holds them after years.
#[test]
#[ignore = "writes five thousand results"]
fn five_thousand_swings_open_in_under_a_second() {
    const SWINGS: usize = 5000;
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let t = template();
    let (_, curves, _) = common::Truth::load("first-lesson").swing("first-lesson");
    let one = folder.path().join("one");
    quarterturn::result::write_result(&one, &t, &curves).expect("written");
    let picture = folder.path().join("top.jpg");
    image::RgbImage::from_fn(540, 960, |x, y| {
        image::Rgb([(x / 3) as u8, (y / 4) as u8, 120])
    })
    .save(&picture)
    .expect("written");
    for i in 0..SWINGS {
        let id = format!("swing-{i:04}");
        // A few have very many swings: the first one has 500.
        let player = if i % 10 == 0 {
            "Busy Example".to_owned()
        } else {
            format!("Player {:03}", i % 149)
        };
        let day = format!("2026-{:02}-{:02}", 1 + i % 12, 1 + (i / 12) % 28);
        put(
            &results,
            &id,
            &t,
            &player,
            &day,
            if i % 3 == 0 { "hips held" } else { "hips free" },
        );
        let stills = results.join(&id).join("stills");
        std::fs::create_dir(&stills).expect("made");
        std::fs::hard_link(&picture, stills.join("face_on_top.jpg")).expect("linked");
        std::fs::hard_link(one.join("curves.csv"), results.join(&id).join("curves.csv"))
            .expect("linked");
    }
    let began = Instant::now();
    let show = Show::start(&results, &[]);
    let started = began.elapsed();
    let timed = |path: &str| {
        let began = Instant::now();
        let page = show.get(path);
        assert_eq!(page.status, 200, "{path}");
        (began.elapsed(), page.body)
    };
    let (first, page) = timed("/");
    assert!(page.contains("5000 swings") && page.contains("Busy Example"));
    eprintln!(
        "start {started:?}, first page {first:?}, {} kB",
        page.len() / 1000
    );
    let mut slowest = Duration::ZERO;
    for path in [
        "/",
        "/find",
        "/find?q=busy+held",
        "/find?page=49",
        "/player?name=Busy%20Example",
        "/player?name=Busy%20Example&page=4",
        "/swing/swing-0000",
        "/swing/swing-4999/thumb",
    ] {
        let (took, page) = timed(path);
        eprintln!("{path}: {took:?}, {} kB", page.len() / 1000);
        slowest = slowest.max(took);
    }
    let own = show.own_origin();
    let changed = show.post("/swing/swing-0000/typed", FORM, b"label=new", Some(&own));
    assert_eq!(changed.status, 303);
    let (after, page) = timed("/find?label=new");
    assert!(
        page.contains("1 swing<") || page.contains(">1 swing"),
        "the change is seen"
    );
    eprintln!("after a change: {after:?}");
    assert!(slowest < Duration::from_secs(1), "{slowest:?}");
    assert!(
        first < Duration::from_secs(5),
        "read all files in {first:?}"
    );
}

/// The first picture of the four moments in a page, decoded.
fn first_still(page: &str) -> image::RgbImage {
    use base64::Engine;
    let moments = page.split("class=\"moments\"").nth(1).expect("moments");
    let data = moments
        .split("data:image/jpeg;base64,")
        .nth(1)
        .expect("a picture");
    let data = data.split('"').next().expect("an end");
    let bytes = base64::engine::general_purpose::STANDARD
        .decode(data)
        .expect("base64");
    image::load_from_memory(&bytes)
        .expect("a picture")
        .into_rgb8()
}

/// How much neighbouring pixels differ around a place, on average.
fn detail(picture: &image::RgbImage, at: [f64; 2], reach: f64) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for (x, y, p) in picture.enumerate_pixels() {
        let off = (f64::from(x) - at[0]).hypot(f64::from(y) - at[1]);
        if off < reach && x > 0 && y > 0 {
            let left = picture.get_pixel(x - 1, y);
            let up = picture.get_pixel(x, y - 1);
            for c in 0..3 {
                let v = f64::from(p.0[c]);
                sum += (v - f64::from(left.0[c])).abs() + (v - f64::from(up.0[c])).abs();
                n += 2.0;
            }
        }
    }
    sum / f64::max(n, 1.0)
}

#[test]
fn a_student_takes_a_file_without_a_name_and_with_the_head_hidden() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let (mut swing, curves, overlays) = common::Truth::load("first-lesson").swing("first-lesson");
    swing.typed_in.notes = Some("between the coach and me".into());
    swing.warnings.push(quarterturn::warning::Warning::new(
        "told",
        "first-lesson_face_on.mp4 by Sam Sample was cut.",
    ));
    common::write_parts(&results.join("sam-1"), &swing, &curves, &overlays);
    let heads: serde_json::Value =
        serde_json::from_slice(&std::fs::read(results.join("sam-1/heads.json")).expect("kept"))
            .expect("JSON");
    let show = Show::start(&results, &[]);
    let get = |query: &str| {
        let answer = show.get(&format!("/swing/sam-1/share{query}"));
        assert_eq!(answer.status, 200, "{query}: {}", answer.body);
        assert!(
            answer
                .header("content-disposition")
                .is_some_and(|d| d.starts_with("attachment") && !d.contains("sam"))
        );
        answer.body
    };
    let plain = get("");
    for secret in ["Sam Sample", "sam-1", "first-lesson", "between the coach"] {
        assert!(!plain.contains(secret), "{secret}");
    }
    assert!(plain.contains("the face-on clip by the player was cut"));
    assert!(
        !plain.contains("http://") && !plain.contains("https://") && !plain.contains("src=\"/")
    );
    assert!(plain.contains("default-src 'none'") && plain.contains("no clinical measurement"));
    for caution in quarterturn::report::cautions::CAUTIONS {
        assert!(plain.contains(caution), "{caution}");
    }
    assert!(
        plain.matches("data:image/jpeg").count() > 20,
        "pictures to move through"
    );
    assert!(plain.len() < 3_000_000, "{}", plain.len());
    let named = get("?named=yes");
    assert!(named.contains("Sam Sample") && !named.contains("between the coach"));

    let hidden = get("?head=hidden");
    assert!(hidden.contains("head is made unrecognisable"));
    let (shown, covered) = (first_still(&plain), first_still(&hidden));
    assert_eq!(shown.dimensions(), covered.dimensions());
    let view = &heads["views"]["face_on"];
    let address_s = swing.events[&quarterturn::terms::Event::Address]
        .s
        .expect("seen");
    let seen = view["seen"].as_array().expect("a track").iter().map(|s| {
        let n = |i: usize| s[i].as_f64().expect("a number");
        [n(0), n(1), n(2)]
    });
    let head = seen
        .min_by(|a, b| {
            (a[0] - address_s)
                .abs()
                .total_cmp(&(b[0] - address_s).abs())
        })
        .expect("a head");
    let scale = f64::from(shown.width()) / view["width"].as_f64().expect("a width");
    let at = [head[1] * scale, head[2] * scale];
    let reach = 0.6 * scale * view["radius_px"].as_f64().expect("a radius");
    let (before, after) = (detail(&shown, at, reach), detail(&covered, at, reach));
    assert!(after < 0.5 * before, "{after:.2} of {before:.2}");

    // Without a track the head can't be hidden, and that is said rather than left undone.
    std::fs::remove_file(results.join("sam-1/heads.json")).expect("removed");
    let refused = show.get("/swing/sam-1/share?head=hidden");
    assert_eq!(refused.status, 500);
    assert!(refused.body.contains("Measure the swing again"));
    assert!(show.get("/swing/sam-1").body.contains("measure it again"));
}

#[test]
fn a_page_made_before_names_what_was_typed_since() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    common::write_all(&results.join("first-lesson"), "first-lesson");
    let show = Show::start(&results, &[]);
    let page =
        || std::fs::read_to_string(results.join("first-lesson/report.html")).expect("a page");
    let before = page();
    assert!(before.contains("Sam Sample"));
    let own = show.own_origin();
    let changed = show.post(
        "/swing/first-lesson/typed",
        FORM,
        b"player=Al+%3Cb%3E&label=one",
        Some(&own),
    );
    assert_eq!(changed.status, 303);
    let after = page();
    assert!(
        !after.contains("Sam Sample")
            && after.contains("Al &lt;b&gt;")
            && after.contains("<b>one</b>")
    );
    assert!(
        after.len().abs_diff(before.len()) < 200,
        "nothing else changes"
    );
}

#[test]
fn pages_of_two_clips_measured_alone_lead_to_each_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let first = results.join("first-lesson");
    for (folder, id) in [(&results, "first-lesson"), (&first, "other-clip")] {
        put(folder, id, &template(), "", "2026-05-14", "");
    }
    std::fs::write(first.join("report.html"), "the first").expect("writes");
    std::fs::write(first.join("other-clip/report.html"), "the other").expect("writes");
    let show = Show::start(&results, &[]);
    // As the first one's page names it, and from there back, as the other's does.
    let beside = show.get("/swing/first-lesson/other-clip/report.html");
    assert_eq!((beside.status, beside.body.as_str()), (200, "the other"));
    let policy = beside.header("content-security-policy").expect("a policy");
    assert!(policy.contains("default-src 'none'"), "{policy}");
    assert_eq!(
        show.get("/swing/first-lesson/report.html").body,
        "the first"
    );
    let data = show.get("/swing/first-lesson/other-clip/swing.json");
    assert_eq!(data.status, 200);
    // The library's own way to it ends where the way back is right.
    let listed = show.get("/swing/first-lesson,%20the%20other%20clip/report.html");
    assert!((300..400).contains(&listed.status), "{}", listed.status);
    let to = listed.header("location").expect("where to");
    assert_eq!(to, "/swing/first-lesson/other-clip/report.html");
    for path in [
        "/swing/sixth-lesson/other-clip/report.html",
        "/swing/first-lesson/other-clip/other.txt",
        "/swing/first-lesson/other-clip/..%2freport.html",
    ] {
        assert_eq!(show.get(path).status, 404, "{path}");
    }
}
