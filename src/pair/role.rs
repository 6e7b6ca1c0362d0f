//! Which camera stood where, and which way the golfer swings.

use super::heading::Heading;
use crate::config::PairConfig;
use crate::math::rotation::wrap;
use crate::math::stats::median;
use crate::terms::{Handedness, Role};
use crate::warning::Warning;

/// A view's role and how far the picture is from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seat {
    pub role: Role,
    /// Angle between the golfer's heading at address and the role's, radians.
    pub off_by: f64,
}

#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RoleError {
    #[error(
        "both clips look {0}: two views are needed from different sides. Measure them as two swings, each alone"
    )]
    SameRole(Role),
    #[error(
        "the golfer was read in too few frames to tell where the camera stood. Film the whole body, head to feet, in good light"
    )]
    TooFew,
}

/// The way of swinging that a track shows, by the direction of the fastest turn, and that rate in
/// radians a second. A right-hander's downswing turns counter-clockwise seen from above.
pub fn swing_hand(heading: &Heading, config: &PairConfig) -> Option<(Handedness, f64)> {
    let rate = heading.thorax_rate(config.rate_half_window_s);
    let fastest = rate
        .into_iter()
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    let hand = if fastest > 0.0 {
        Handedness::Right
    } else {
        Handedness::Left
    };
    Some((hand, fastest.abs()))
}

/// Heading at address: the median of pelvis and thorax in `[from, to]` of playback time.
pub fn heading_between(heading: &Heading, from: f64, to: f64) -> Option<f64> {
    let pick = |s: usize| -> Vec<f64> {
        heading
            .time_s
            .iter()
            .zip(&heading.angle[s])
            .filter(|(t, _)| (from..=to).contains(*t))
            .map(|(_, a)| *a)
            .collect()
    };
    // Pelvis and thorax were unwrapped apart: bring the thorax to the pelvis's turn.
    let (p, t) = (median(&pick(0))?, median(&pick(1))?);
    Some(p + wrap(t - p) / 2.0)
}

/// How far an address heading is from what a role shows, radians.
fn distance(heading: f64, role: Role, hand: Handedness) -> f64 {
    let expected = match (role, hand) {
        (Role::FaceOn, _) => 0.0,
        (Role::DownTheLine, Handedness::Right) => std::f64::consts::FRAC_PI_2,
        (Role::DownTheLine, Handedness::Left) => -std::f64::consts::FRAC_PI_2,
    };
    wrap(heading - expected).abs()
}

/// Roles of one or two views from their address headings; `told` holds what the user said.
/// The pictures win over a word that they plainly contradict, with a warning.
pub fn seat_views(
    headings: &[Option<f64>],
    told: &[Option<Role>],
    hand: Handedness,
    config: &PairConfig,
) -> Result<(Vec<Seat>, Vec<Warning>), RoleError> {
    let mut warnings = Vec::new();
    let mut seats = Vec::new();
    for (heading, told) in headings.iter().zip(told) {
        let heading = heading.ok_or(RoleError::TooFew)?;
        let seen = Role::ALL
            .into_iter()
            .min_by(|a, b| distance(heading, *a, hand).total_cmp(&distance(heading, *b, hand)))
            .unwrap_or(Role::FaceOn);
        let limit = config.role_doubt_deg.to_radians();
        let role = match told {
            Some(told) if distance(heading, *told, hand) <= limit => *told,
            Some(told) => {
                warnings.push(Warning::new(
                    "role_corrected",
                    format!("The clip given as {told} looks {seen}: the golfer's chest faces {:.0}° away from where a {told} camera would see it. It was measured as {seen}.", distance(heading, *told, hand).to_degrees()),
                ));
                seen
            }
            None => seen,
        };
        let off_by = distance(heading, role, hand);
        if off_by > limit {
            warnings.push(Warning::new(
                "role_doubt",
                format!("The {role} camera seems to stand {:.0}° from its place. Turns from address still hold; turns to the target line do not.", off_by.to_degrees()),
            ));
        }
        seats.push(Seat { role, off_by });
    }
    if let [a, b] = seats.as_slice()
        && a.role == b.role
    {
        return Err(RoleError::SameRole(a.role));
    }
    Ok((seats, warnings))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn config() -> PairConfig {
        Pipeline::default().pair
    }

    #[test]
    fn roles_come_from_where_the_chest_faces() {
        let (seats, warnings) = seat_views(
            &[Some(1.4), Some(0.1)],
            &[None, None],
            Handedness::Right,
            &config(),
        )
        .expect("two roles");
        assert_eq!(
            (seats[0].role, seats[1].role),
            (Role::DownTheLine, Role::FaceOn)
        );
        assert!(warnings.is_empty());
    }

    #[test]
    fn a_left_hander_down_the_line_faces_left() {
        let (seats, _) =
            seat_views(&[Some(-1.5)], &[None], Handedness::Left, &config()).expect("a role");
        assert_eq!(seats[0].role, Role::DownTheLine);
        assert!(seats[0].off_by < 0.1);
    }

    #[test]
    fn a_wrong_word_is_corrected_and_said() {
        let (seats, warnings) = seat_views(
            &[Some(0.0)],
            &[Some(Role::DownTheLine)],
            Handedness::Right,
            &config(),
        )
        .expect("a role");
        assert_eq!(seats[0].role, Role::FaceOn);
        assert_eq!(warnings[0].code, "role_corrected");
    }

    #[test]
    fn two_clips_from_one_side_are_no_pair() {
        let two = seat_views(
            &[Some(0.0), Some(0.2)],
            &[None, None],
            Handedness::Right,
            &config(),
        );
        assert_eq!(two, Err(RoleError::SameRole(Role::FaceOn)));
    }
}
