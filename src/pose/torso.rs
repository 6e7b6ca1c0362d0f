//! The torso network on an upright crop.

use image::RgbImage;
use nalgebra::Matrix3;
use ort::session::Session;
use ort::value::TensorRef;

use super::crop::sample_crop;
use super::error::PoseError;
use super::observation::{Keypoint, Region, TorsoPoint, TorsoReading, landmark};

const INPUT: usize = 256;

/// The upright crop for given landmarks: centred on the middle of the hips, side `scale` × the
/// distance from there to the farthest of head and ankles. `None` when they are not finite.
pub fn upright_region(keypoints: &[Keypoint], scale: f64) -> Option<Region> {
    let at = |i: usize| keypoints.get(i).map(|k| [k.x_px, k.y_px]);
    let (l, r) = (at(landmark::HIP[0])?, at(landmark::HIP[1])?);
    let centre_px = [(l[0] + r[0]) / 2.0, (l[1] + r[1]) / 2.0];
    let far = [landmark::NOSE, landmark::ANKLE[0], landmark::ANKLE[1]]
        .into_iter()
        .filter_map(at)
        .map(|p| (p[0] - centre_px[0]).hypot(p[1] - centre_px[1]))
        .fold(0.0, f64::max);
    let side_px = scale * far;
    (centre_px.iter().all(|v| v.is_finite()) && side_px.is_finite() && side_px > 8.0).then_some(
        Region {
            centre_px,
            side_px,
            roll_rad: 0.0,
        },
    )
}

pub fn read(
    session: &mut Session,
    image: &RgbImage,
    region: &Region,
) -> Result<Option<TorsoReading>, PoseError> {
    let network = |e: ort::Error| PoseError::Network(e.to_string());
    let rows = sample_crop(image, region, INPUT, 1.0 / 255.0, 0.0);
    let mut planes = vec![0f32; rows.len()];
    for (i, pixel) in rows.chunks_exact(3).enumerate() {
        for (c, v) in pixel.iter().enumerate() {
            planes[c * INPUT * INPUT + i] = *v;
        }
    }
    let tensor = TensorRef::from_array_view(([1usize, 3, INPUT, INPUT], planes.as_slice()))
        .map_err(network)?;
    let outputs = session
        .run(ort::inputs!["image" => tensor])
        .map_err(network)?;
    let get = |name: &str| -> Result<Vec<f64>, PoseError> {
        let (_, v) = outputs[name].try_extract_tensor::<f32>().map_err(network)?;
        Ok(v.iter().map(|x| f64::from(*x)).collect())
    };
    Ok(decode(
        &get("rotation")?,
        &get("log_sigma")?,
        &get("points")?,
        &get("log_b")?,
        region,
    ))
}

/// Decodes raw outputs; `None` where they are short or not finite: no reading rather than a wrong one.
fn decode(
    rotation: &[f64],
    log_sigma: &[f64],
    points: &[f64],
    log_b: &[f64],
    region: &Region,
) -> Option<TorsoReading> {
    let n = TorsoPoint::COUNT * 2;
    let finite = [rotation, log_sigma, points, log_b]
        .iter()
        .all(|v| v.iter().all(|x| x.is_finite()));
    if !finite || rotation.len() < 18 || log_sigma.len() < 6 || points.len() < n || log_b.len() < n
    {
        return None;
    }
    let corner = [
        region.centre_px[0] - region.side_px / 2.0,
        region.centre_px[1] - region.side_px / 2.0,
    ];
    let pair = |v: &[f64]| [v[0], v[1]];
    Some(TorsoReading {
        region: *region,
        crop_from_segment: [
            Matrix3::from_row_slice(&rotation[..9]),
            Matrix3::from_row_slice(&rotation[9..18]),
        ],
        log_sigma: [
            [log_sigma[0], log_sigma[1], log_sigma[2]],
            [log_sigma[3], log_sigma[4], log_sigma[5]],
        ],
        points_px: points[..n]
            .chunks_exact(2)
            .map(|p| {
                [
                    corner[0] + p[0] * region.side_px,
                    corner[1] + p[1] * region.side_px,
                ]
            })
            .collect(),
        scale_px: log_b[..n]
            .chunks_exact(2)
            .map(|b| pair(b).map(|v| v.clamp(-20.0, 2.0).exp() * region.side_px))
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_crop_follows_the_rule() {
        let mut k = vec![Keypoint::default(); landmark::COUNT];
        let mut put = |i: usize, x: f64, y: f64| {
            k[i].x_px = x;
            k[i].y_px = y;
        };
        put(landmark::HIP[0], 110.0, 300.0);
        put(landmark::HIP[1], 90.0, 300.0);
        put(landmark::NOSE, 100.0, 200.0);
        put(landmark::ANKLE[0], 100.0, 420.0);
        put(landmark::ANKLE[1], 100.0, 400.0);
        let r = upright_region(&k, 2.5).expect("finite");
        assert_eq!(
            r,
            Region {
                centre_px: [100.0, 300.0],
                side_px: 300.0,
                roll_rad: 0.0
            }
        );
        k[landmark::HIP[0]].x_px = f64::NAN;
        assert_eq!(upright_region(&k, 2.5), None);
    }

    #[test]
    fn numbers_that_are_not_finite_give_no_reading() {
        let region = Region {
            centre_px: [100.0, 100.0],
            side_px: 200.0,
            roll_rad: 0.0,
        };
        let good = decode(&[0.0; 18], &[0.0; 6], &[0.5; 50], &[0.0; 50], &region).expect("finite");
        assert_eq!(good.points_px[0], [100.0, 100.0]);
        let mut bad = [0.0; 18];
        bad[3] = f64::INFINITY;
        assert!(decode(&bad, &[0.0; 6], &[0.5; 50], &[0.0; 50], &region).is_none());
        assert!(decode(&[0.0; 3], &[0.0; 6], &[0.5; 50], &[0.0; 50], &region).is_none());
    }
}
