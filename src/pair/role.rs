//! Which camera stood where, and which way the golfer swings.

use super::heading::Heading;
use crate::config::PairConfig;
use crate::math::rotation::wrap;
use crate::math::stats::median;
use crate::terms::{Handedness, Role};
use crate::warning::{ROLE_DOUBT, Warning};

/// A view's role and how far the picture is from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seat {
    /// Which view it is taken for.
    pub role: Role,
    /// Angle between the golfer's heading at address and the role's, radians.
    pub off_by: f64,
    /// Where the search for the camera starts: its azimuth against the role's as a right-hander's
    /// view, radians, positive counter-clockwise seen from above. 0 near the role, where phones set
    /// by eye are likelier than golfers who stand crooked.
    pub azimuth: f64,
}

/// Why roles can't be told.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RoleError {
    /// A clip shows no heading at address.
    #[error(
        "the golfer was read in too few frames to tell where the camera stood. Film the whole body, head to feet, in good light"
    )]
    TooFew,
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

/// How far an address heading is from what a role shows, radians: as much as the camera stands
/// farther round, counter-clockwise seen from above.
fn round_by(heading: f64, role: Role, hand: Handedness) -> f64 {
    let expected = match (role, hand) {
        (Role::FaceOn, _) => 0.0,
        (Role::DownTheLine, Handedness::Right) => std::f64::consts::FRAC_PI_2,
        (Role::DownTheLine, Handedness::Left) => -std::f64::consts::FRAC_PI_2,
    };
    wrap(expected - heading)
}

fn distance(heading: f64, role: Role, hand: Handedness) -> f64 {
    round_by(heading, role, hand).abs()
}

/// The role whose place is nearest.
fn nearest_role(heading: f64, hand: Handedness) -> Role {
    let off = |role: &Role| distance(heading, *role, hand);
    let all = Role::ALL.into_iter();
    all.min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or(Role::FaceOn)
}

fn seat(heading: f64, role: Role, hand: Handedness, config: &PairConfig) -> Seat {
    let round = round_by(heading, role, hand);
    // A left-hander's view is mirrored before its camera is looked for.
    let mirrored = if hand == Handedness::Left {
        -round
    } else {
        round
    };
    let beyond = (round.abs() - config.stands_crooked_deg.to_radians()).max(0.0);
    Seat {
        role,
        off_by: round.abs(),
        azimuth: beyond.copysign(mirrored),
    }
}

/// Roles of one or two views from their address headings; `told` holds what the user said.
/// The pictures win over a word that they plainly contradict, with a warning. Two views always get
/// two roles: of two from one side, the one that is nearer to the other side.
///
/// # Errors
/// [`RoleError`] where a clip shows no heading and nobody said its role.
pub fn seat_views(
    headings: &[Option<f64>],
    told: &[Option<Role>],
    hand: Handedness,
    config: &PairConfig,
) -> Result<(Vec<Seat>, Vec<Warning>), RoleError> {
    let headings: Option<Vec<f64>> = headings.iter().copied().collect();
    let headings = headings.ok_or(RoleError::TooFew)?;
    let limit = config.role_doubt_deg.to_radians();
    let mut warnings = Vec::new();
    let mut roles: Vec<Role> = Vec::new();
    for (heading, told) in headings.iter().zip(told) {
        let seen = nearest_role(*heading, hand);
        roles.push(match told {
            Some(told) if distance(*heading, *told, hand) > limit && seen != *told => {
                warnings.push(Warning::new(
                    "role_corrected",
                    format!("The clip given as {told} looks {seen}: the golfer's chest faces {:.0}° away from where a {told} camera would see it. It was measured as {seen}.", distance(*heading, *told, hand).to_degrees()),
                ));
                seen
            }
            Some(told) => *told,
            None => seen,
        });
    }
    if let ([a, b], [ha, hb]) = (roles.as_slice(), headings.as_slice())
        && a == b
    {
        let side = *a;
        let sum = |ra, rb| distance(*ha, ra, hand) + distance(*hb, rb, hand);
        let (f, d) = (Role::FaceOn, Role::DownTheLine);
        roles = if sum(f, d) <= sum(d, f) {
            vec![f, d]
        } else {
            vec![d, f]
        };
        // What was said of each clip's role alone no longer holds.
        warnings.clear();
        warnings.push(Warning::new(
            "cameras_on_one_side",
            format!("Both clips look {side}: by the golfer's own turning the cameras stand {:.0}° apart. They were measured as two views of one swing; a phone face-on and one down-the-line see more.", wrap(ha - hb).abs().to_degrees()),
        ));
    }
    let all: Vec<Seat> = headings
        .iter()
        .zip(&roles)
        .map(|(heading, role)| seat(*heading, *role, hand, config))
        .collect();
    if warnings.iter().all(|w| w.code != "cameras_on_one_side") {
        for s in all.iter().filter(|s| s.off_by > limit) {
            warnings.push(Warning::new(
                ROLE_DOUBT,
                format!("The {} camera seems to stand {:.0}° from its place. Turns from address still hold; turns to the target line can't be told.", s.role, s.off_by.to_degrees()),
            ));
        }
    }
    Ok((all, warnings))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn config() -> PairConfig {
        Pipeline::default().pair
    }

    /// Two right-handers' views that nobody named: their roles, where each stands, and the
    /// warnings' codes.
    fn two(headings: [f64; 2]) -> ([Role; 2], [f64; 2], Vec<String>) {
        let (seats, warnings) = seat_views(
            &headings.map(Some),
            &[None, None],
            Handedness::Right,
            &config(),
        )
        .expect("two roles");
        (
            [seats[0].role, seats[1].role],
            [seats[0].azimuth, seats[1].azimuth],
            warnings.into_iter().map(|w| w.code).collect(),
        )
    }

    #[test]
    fn roles_come_from_where_the_chest_faces() {
        let (roles, _, warnings) = two([1.4, 0.1]);
        assert_eq!(roles, [Role::DownTheLine, Role::FaceOn]);
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
    fn two_clips_from_one_side_are_two_views_with_two_places() {
        let (roles, azimuths, warnings) = two([0.0, 0.5]);
        assert_eq!(roles, [Role::FaceOn, Role::DownTheLine]);
        assert_eq!(warnings, ["cameras_on_one_side"]);
        // The second stands most of a quarter turn from where its role has it.
        assert!(azimuths[0].abs() < 1e-9 && azimuths[1] > 0.8);
    }
}
