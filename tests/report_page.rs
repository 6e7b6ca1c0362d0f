//! The page, the stills and the videos of a whole swing, from real clip files.

mod common;

use quarterturn::terms::{Event, Role};

#[test]
fn a_swing_gets_a_page_stills_and_playable_videos() {
    let folder = match std::env::var_os("QUARTERTURN_KEEP_REPORT") {
        Some(f) => std::path::PathBuf::from(f),
        None => tempfile::tempdir().expect("a folder").keep(),
    };
    common::write_all(&folder, "first-lesson");
    let page = std::fs::read_to_string(folder.join("report.html")).expect("a page");
    assert!(page.len() < 3_000_000, "{} bytes", page.len());
    for part in ["http://", "https://", "url(http", "@import", "srcset"] {
        assert!(!page.contains(part), "{part} in the page");
    }
    let swing = quarterturn::result::read_swing(&folder.join("swing.json")).expect("a result");
    for (event, at) in &swing.at {
        for (measure, e) in at {
            let deg = e.deg.expect("given");
            let mark = format!("value=\"{deg}\" data-event=\"{event}\" data-measure=\"{measure}\"");
            assert!(page.contains(&mark), "{mark}");
        }
    }
    for caution in quarterturn::report::cautions::CAUTIONS {
        assert!(page.contains(caution), "{caution}");
    }
    for role in Role::ALL {
        for event in Event::ALL {
            let still = folder.join(format!("stills/{}_{}.jpg", role.key(), event.key()));
            let picture = image::open(&still).expect("a picture");
            assert_eq!((picture.width(), picture.height()), (540, 960));
        }
        let length = |name: String| {
            let info = ffmpeg_next::format::input(&folder.join(name)).expect("a video");
            info.duration() as f64 / 1e6
        };
        let (real, slow) = (
            length(format!("{}.mp4", role.key())),
            length(format!("{}_slow.mp4", role.key())),
        );
        assert!(real > 2.0 && real < 2.6, "{real}");
        assert!((slow / real - 4.0).abs() < 0.2, "{slow} to {real}");
    }
    if std::env::var_os("QUARTERTURN_KEEP_REPORT").is_none() {
        std::fs::remove_dir_all(&folder).expect("removes");
    }
}

/// A clip that begins after the takeaway: no address, and the top was not seen either.
#[test]
fn moments_that_were_not_seen_are_told_around() {
    use quarterturn::result::{Between, Estimate, Why, judge};
    use quarterturn::terms::Measure;
    let told = |missing: &[Event]| {
        let (mut swing, mut curves, _) = common::Truth::load("first-lesson").swing("cut");
        for event in missing {
            swing.events.remove(event);
            swing.at.remove(event);
        }
        for (measure, e) in swing.at.values_mut().flatten() {
            if measure.spec().from_address {
                *e = Estimate::default();
            }
        }
        swing.tempo = None;
        swing.between = vec![Between {
            from: Event::Impact,
            to: Event::Finish,
            pelvis_turn: Estimate::new(-50.0, -58.0, -42.0),
            thorax_turn: Estimate::new(-70.0, -120.0, -20.0),
        }];
        judge(
            &mut swing,
            &mut curves,
            &quarterturn::config::Pipeline::default().usable,
        );
        let page = quarterturn::report::page::report_page(&quarterturn::report::page::PageInput {
            swing: &swing,
            curves: &curves,
            references: &quarterturn::report::References::load(None).expect("built in"),
            views: &[],
            scrub_s: &[],
            films: quarterturn::report::Films::There,
            config: &quarterturn::config::Pipeline::default().report,
        });
        (swing, page.expect("a page"))
    };
    let (swing, page) = told(&[Event::Address, Event::Top]);
    assert!(page.contains("At impact") && page.contains("was not seen in this swing"));
    assert!(page.contains("No address was seen"));
    let hips = swing.at[&Event::Impact][&Measure::PelvisTurn]
        .deg
        .expect("a value");
    let card = page
        .split("<article class=\"card\">")
        .nth(1)
        .expect("a card");
    assert!(
        card.contains("Hips to the target line") && card.contains(&format!("value=\"{hips}\""))
    );
    assert!(page.contains("From impact to the finish: hips <b>−50° (−58 to −42)</b>"));
    assert!(
        page.contains("shoulders (rib cage) <b>can't tell"),
        "100° wide"
    );
    let from_address = swing.at[&Event::Impact][&Measure::PelvisTurnFromAddress];
    assert_eq!(from_address.untold(), Some(Why::MomentNotSeen));
    // Nothing of the swing at all is a page as well.
    let (_, page) = told(&Event::ALL);
    assert!(page.contains("Neither the top of the backswing nor impact nor the finish"));
}

/// A ratio keeps its decimal, and what a per cent is of is said.
#[test]
fn tempo_and_sway_are_written_with_their_units() {
    use quarterturn::result::Quantity;
    use quarterturn::terms::Unit;
    let folder = tempfile::tempdir().expect("a folder");
    let (mut swing, curves, _) = common::Truth::load("first-lesson").swing("units");
    let quantity = |value: f64, half: f64, unit| Quantity {
        value: Some(value),
        low: Some(value - half),
        high: Some(value + half),
        unit,
        why: None,
    };
    let tempo = swing.tempo.as_mut().expect("a tempo");
    tempo.ratio = quantity(3.08, 0.4, Unit::BackToDown);
    let sway = vec![quantity(7.0, 3.0, Unit::StanceWidthPercent)];
    swing.sway.insert(Event::Top, sway);
    common::write_parts(folder.path(), &swing, &curves, &[]);
    let page = std::fs::read_to_string(folder.path().join("report.html")).expect("a page");
    assert!(
        page.contains("3.1 to 1 (2.7 to 3.5)"),
        "a ratio with its decimal"
    );
    assert!(page.contains("7 % of stance width (4 to 10)"));
    assert!(page.contains("as a share of the width of the stance"));
}
