//! What a result does not tell, in words: why, and what to film better.

use std::collections::BTreeMap;

use crate::result::{ODD_PICTURES, POINTS_JUMP, SwingResult, VIEWS_DISAGREE, Why};
use crate::terms::{Event, Role};

/// What stands where a number would.
pub const CANT_TELL: &str = "can't tell";

/// The reason in a word or two, to stand behind "can't tell".
pub fn short(why: Why) -> &'static str {
    match why {
        Why::ClockInDoubt => "clock in doubt",
        Why::MomentNotSeen => "moment not seen",
        Why::NotSeen => "not seen",
        Why::ViewsContradict => "the views contradict each other",
        Why::OddPictures => "odd pictures",
        Why::MomentUnsure => "moment not sharp",
        Why::OneView => "one view",
        Why::TooWide => "too unsure",
    }
}

/// Why, in a sentence, and what to do better with the next clip.
pub fn advice(why: Why, swing: &SwingResult) -> String {
    match why {
        Why::ClockInDoubt => "Nothing tells how fast the clip was filmed, so seconds and speeds can't be told; angles, the order of things and the tempo's ratio can. Film at normal speed with sound, or measure again with --time-scale (1 for normal speed, 8 for 240 frames a second shown at 30).".into(),
        Why::MomentNotSeen => "A moment that these count from was not seen. Start filming two seconds before the takeaway and stop after the finish.".into(),
        Why::NotSeen => "Hips, shoulders or knees were hidden or out of the picture there. Film the golfer whole, head to feet, with nothing in front.".into(),
        Why::ViewsContradict => "The two views read turns there that contradict each other. Look at the stills, see that both clips show the same swing, and film both sides again from hip height.".into(),
        Why::OddPictures => "The pictures are too unlike those that the program knows. Film nearer, in good light, from hip height, with the golfer head to feet in the picture.".into(),
        Why::MomentUnsure => "The moment itself is not sharp, and the body moves fast there. Film with 60 frames a second or more, with sound, and stand still before the takeaway.".into(),
        Why::OneView => {
            let other = match swing.views.first().map(|v| v.role) {
                Some(Role::FaceOn) => Role::DownTheLine,
                _ => Role::FaceOn,
            };
            format!("One view alone sees too little depth for these. Film {other} as well, with a second phone.")
        }
        Why::TooWide => "The intervals are too wide to be of use. Film nearer, in good light, with both phones on stands at hip height.".into(),
    }
}

/// Numbers that can't be told for one reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Untold {
    pub why: Why,
    /// "hip turn at the top", in the order of the page.
    pub names: Vec<String>,
}

/// Every number that can't be told, by reason.
pub fn untold(swing: &SwingResult) -> Vec<Untold> {
    let mut by_why: BTreeMap<Why, Vec<String>> = BTreeMap::new();
    let mut add = |why: Option<Why>, name: String| {
        if let Some(why) = why {
            by_why.entry(why).or_default().push(name);
        }
    };
    for event in Event::ALL {
        for (measure, e) in swing.at.get(&event).into_iter().flatten() {
            add(
                e.why,
                lower(&format!("{} {}", measure.words(), event.at_words())),
            );
        }
        let sway = swing.sway.get(&event).into_iter().flatten();
        for q in sway {
            add(q.why, format!("hip sway {}", event.at_words()));
        }
    }
    if let Some(e) = &swing.peak_separation {
        add(e.why, "largest separation".into());
    }
    if let Some(t) = &swing.tempo {
        add(t.backswing.why, "takeaway to top".into());
        add(t.downswing.why, "top to impact".into());
        add(t.ratio.why, "ratio of the tempo".into());
    }
    if let Some(s) = &swing.turn_speed {
        add(s.pelvis.why, "fastest opening of the hips".into());
        add(s.thorax.why, "fastest opening of the shoulders".into());
        add(
            s.pelvis_before_thorax.why,
            "time between the two peaks".into(),
        );
    }
    by_why
        .into_iter()
        .map(|(why, names)| Untold { why, names })
        .collect()
}

/// The names in a sentence, the first few of them.
pub fn listed(names: &[String]) -> String {
    const MOST: usize = 4;
    let shown: Vec<&str> = names.iter().take(MOST).map(String::as_str).collect();
    match names.len().saturating_sub(MOST) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|c| c.to_lowercase().chain(letters).collect())
        .unwrap_or_default()
}

/// One plain sentence where the pictures themselves are to be doubted.
pub fn doubt(swing: &SwingResult) -> Option<String> {
    let has = |code: &str| swing.warnings.iter().any(|w| w.code == code);
    let what: Vec<&str> = [
        (
            ODD_PICTURES,
            "the pictures are unlike those that the program knows",
        ),
        (VIEWS_DISAGREE, "the two views contradict each other"),
        (
            POINTS_JUMP,
            "what was found of the body jumps from frame to frame",
        ),
    ]
    .into_iter()
    .filter_map(|(code, words)| has(code).then_some(words))
    .collect();
    if what.is_empty() {
        return None;
    }
    Some(format!(
        "Trust these numbers less than usual: {}.",
        what.join(", and ")
    ))
}
