//! What a result does not tell, in words: why, and what to film better.

use crate::result::{SwingResult, Why};
use crate::terms::{Event, Measure, Role};
use crate::warning::{ODD_PICTURES, VIEWS_DISAGREE};

/// What stands where a number would.
pub const CANT_TELL: &str = "can't tell";

/// The reason in a word or two, to stand behind "can't tell".
pub fn short(why: Why) -> &'static str {
    match why {
        Why::ClockInDoubt => "clock in doubt",
        Why::MomentNotSeen => "moment not seen",
        Why::NotSeen => "not seen",
        Why::CameraInDoubt => "camera out of place",
        Why::ViewsContradict => "the views contradict each other",
        Why::OddPictures => "odd pictures",
        Why::MomentUnsure => "moment not sharp",
        Why::OneView => "one view",
        Why::TooWide => "too unsure",
    }
}

/// The reason as a phrase of its own.
pub fn phrase(why: Why) -> &'static str {
    match why {
        Why::ClockInDoubt => "how fast it was filmed is in doubt",
        Why::MomentNotSeen => "a moment that it counts from was not seen",
        Why::NotSeen => "not seen there",
        Why::CameraInDoubt => "the camera seems to stand far from its place",
        Why::ViewsContradict => "too unsure: the two views contradict each other",
        Why::OddPictures => "the pictures are too odd to be read",
        Why::MomentUnsure => "too unsure: the moment is not sharp",
        Why::OneView => "too unsure from one view",
        Why::TooWide => "too unsure to be of use",
    }
}

/// Why, in a sentence, and what to do better with the next clip.
pub fn advice(why: Why, swing: &SwingResult) -> String {
    match why {
        Why::ClockInDoubt => "Nothing tells how fast the clip was filmed, so seconds and speeds can't be told; angles, the order of things and the tempo's ratio can. Film at normal speed with sound, or measure again with --time-scale (1 for normal speed, 8 for 240 frames a second shown at 30).".into(),
        Why::MomentNotSeen => "A moment that these count from was not seen. Start filming two seconds before the takeaway and stop after the finish.".into(),
        Why::NotSeen => "Hips, shoulders or knees were hidden or out of the picture there. Film the golfer whole, head to feet, with nothing in front.".into(),
        Why::CameraInDoubt => "A camera seems to stand far from where one face-on or down-the-line stands, so the target line can't be told. Film from the front, or from behind the hands towards the target.".into(),
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
    /// The reason.
    pub why: Why,
    /// "hip turn at the top", in the order of the page.
    pub names: Vec<String>,
}

/// Every number that can't be told, by reason.
pub fn untold(swing: &SwingResult) -> Vec<Untold> {
    Why::ALL
        .into_iter()
        .map(|why| Untold {
            why,
            names: names(swing, why),
        })
        .filter(|u| !u.names.is_empty())
        .collect()
}

fn names(swing: &SwingResult, why: Why) -> Vec<String> {
    let mut names: Vec<String> = Measure::ALL
        .into_iter()
        .filter_map(|m| {
            let at = |e: &Event| swing.at.get(e).and_then(|at| at.get(&m));
            let seen = Event::ALL.iter().filter(|e| at(e).is_some()).count();
            let here: Vec<&str> = Event::ALL
                .iter()
                .filter(|e| at(e).is_some_and(|e| e.why == Some(why)))
                .map(|e| e.at_words())
                .collect();
            let name = lower(m.words());
            match here.len() {
                0 => None,
                // At every moment: its name says enough.
                n if n == seen => Some(name),
                _ => Some(format!("{name} {}", here.join(" and "))),
            }
        })
        .collect();
    let mut add = |found: Option<Why>, name: &str| {
        if found == Some(why) && !names.iter().any(|n| n == name) {
            names.push(name.to_owned());
        }
    };
    for q in swing.sway.values().flatten() {
        add(q.why, "hip sway");
    }
    if let Some(e) = &swing.peak_separation {
        add(e.why, "largest separation");
    }
    if let Some(t) = &swing.tempo {
        add(t.backswing.why, "takeaway to top");
        add(t.downswing.why, "top to impact");
        add(t.ratio.why, "ratio of the tempo");
    }
    if let Some(s) = &swing.turn_speed {
        add(s.pelvis.why, "fastest opening of the hips");
        add(s.thorax.why, "fastest opening of the shoulders");
        add(s.pelvis_before_thorax.why, "time between the two peaks");
    }
    names
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::result::{Estimate, old_swing};

    fn swing() -> SwingResult {
        let mut swing = old_swing();
        for e in swing.at.values_mut().flat_map(|at| at.values_mut()) {
            *e = Estimate::new(10.0, 8.0, 12.0);
        }
        swing.tempo = None;
        swing.turn_speed = None;
        swing
    }

    #[test]
    fn a_measure_is_named_with_its_moments_unless_it_lacks_at_all() {
        let mut s = swing();
        for (event, at) in &mut s.at {
            at.entry(Measure::LeadKneeFlexion).or_default().why = Some(Why::OneView);
            if *event == Event::Top {
                at.entry(Measure::PelvisTurnFromAddress).or_default().why = Some(Why::OneView);
            }
        }
        let told = untold(&s);
        let [one_view] = told.as_slice() else {
            panic!("{told:?}");
        };
        assert_eq!(one_view.why, Why::OneView);
        assert_eq!(one_view.names, ["hip turn at the top", "lead knee bend"]);
    }

    #[test]
    fn a_long_list_is_cut_and_counted() {
        let names: Vec<String> = ('a'..='f').map(String::from).collect();
        assert_eq!(listed(&names[..4]), "a, b, c, d");
        assert_eq!(listed(&names), "a, b, c, d and 2 more");
    }

    #[test]
    fn one_sentence_tells_all_that_makes_the_pictures_doubtful() {
        use crate::warning::Warning;
        let mut s = swing();
        s.warnings.clear();
        assert_eq!(doubt(&s), None);
        s.warnings.push(Warning::new(ODD_PICTURES, "Odd."));
        s.warnings
            .push(Warning::at(Event::Top, VIEWS_DISAGREE, "They do."));
        let told = doubt(&s).expect("doubtful");
        assert!(
            told.contains("unlike") && told.contains("contradict"),
            "{told}"
        );
        assert_eq!(told.matches('.').count(), 1, "one sentence: {told}");
    }

    #[test]
    fn the_other_view_is_asked_for() {
        let mut s = swing();
        s.views.truncate(1);
        assert!(advice(Why::OneView, &s).contains("Film down-the-line as well"));
        s.views[0].role = Role::DownTheLine;
        assert!(advice(Why::OneView, &s).contains("Film face-on as well"));
    }
}
