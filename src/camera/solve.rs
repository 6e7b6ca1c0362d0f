//! One robust optimisation for all cameras of a swing, with a covariance as its result.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

use super::model::{Attitude, Camera};
use super::problem::Problem;

/// Parameters of each view in [`CameraFit::covariance`].
pub const PARAMETERS: usize = 4;

/// A camera as found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FittedView {
    /// With its focal length, attitude and place.
    pub camera: Camera,
    /// Against its role.
    pub attitude: Attitude,
    /// Standard deviations of the attitude, radians.
    pub sigma: Attitude,
}

/// The cameras of a swing.
#[derive(Clone, Debug)]
pub struct CameraFit {
    /// In the order of the problem's views.
    pub views: Vec<FittedView>,
    /// Covariance of (azimuth, pitch, roll, logarithm of the focal length) of each view in turn, and
    /// the offset last (two views). Empty where the cameras are known.
    pub covariance: DMatrix<f64>,
    /// How far the cameras' places (metres, three rows a view) go along with a unit of each of those
    /// parameters: a longer lens stands farther off.
    pub places: DMatrix<f64>,
    /// Seconds to add to the second view's clock, and its standard deviation.
    pub offset_s: f64,
    /// Standard deviation of that offset, seconds; 0 with one view.
    pub offset_sigma_s: f64,
    /// Weighted mean square of the robust residuals; near 1 when the model holds.
    pub misfit: f64,
}

/// Why there is no fit.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    /// A view lacks still points to begin from.
    #[error("the golfer's feet and hips were not seen at address")]
    NothingSeen,
    /// The information matrix is singular, or the angle between the views rests on the priors alone.
    #[error("the views do not fix the cameras (the problem is degenerate)")]
    Degenerate,
    /// The search ended at no finite parameters.
    #[error("the search for the cameras did not settle")]
    NotSettled,
}

struct Weighted<'a, 'b> {
    problem: &'b Problem<'a>,
    weights: DVector<f64>,
    x: DVector<f64>,
}

impl Weighted<'_, '_> {
    fn at(&self, x: &DVector<f64>) -> DVector<f64> {
        DVector::from_vec(self.problem.residuals(x).values).component_mul(&self.weights)
    }

    fn numeric_jacobian(&self) -> DMatrix<f64> {
        let base = self.at(&self.x);
        let mut j = DMatrix::zeros(base.len(), self.x.len());
        let mut x = self.x.clone();
        for k in 0..x.len() {
            let step = 1e-6;
            x[k] += step;
            let up = self.at(&x);
            x[k] -= 2.0 * step;
            let down = self.at(&x);
            x[k] = self.x[k];
            j.set_column(k, &((up - down) / (2.0 * step)));
        }
        j
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Weighted<'_, '_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.x.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.x.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let r = self.at(&self.x);
        r.iter().all(|v| v.is_finite()).then_some(r)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        Some(self.numeric_jacobian())
    }
}

/// Rounds of re-weighting; the weights change little after three.
const ROUNDS: usize = 4;

/// Finds the cameras of one or two views.
///
/// # Errors
/// [`FitError`]: too little was seen at address, or the views don't fix the cameras.
pub fn solve(problem: &Problem<'_>) -> Result<CameraFit, FitError> {
    let enough = problem
        .views
        .iter()
        .all(|v| v.still.iter().flatten().count() >= 3);
    if problem.views.is_empty() || !enough {
        return Err(FitError::NothingSeen);
    }
    let mut x = problem.start();
    let mut weights = DVector::from_element(problem.residuals(&x).values.len(), 1.0);
    for round in 0..ROUNDS {
        let weighted = Weighted {
            problem,
            weights,
            x,
        };
        let (solved, report) = LevenbergMarquardt::new()
            .with_patience(60)
            .with_ftol(1e-9)
            .with_xtol(1e-9)
            .minimize(weighted);
        if !report.objective_function.is_finite() || !solved.x.iter().all(|v| v.is_finite()) {
            return Err(FitError::NotSettled);
        }
        x = solved.x;
        weights = problem.residuals(&x).weights(problem.config.student_nu);
        tracing::debug!(
            round,
            objective = report.objective_function,
            "camera search"
        );
    }
    finish(&Weighted {
        problem,
        weights,
        x,
    })
}

fn finish(solved: &Weighted<'_, '_>) -> Result<CameraFit, FitError> {
    let problem = solved.problem;
    let j = solved.numeric_jacobian();
    let information = j.transpose() * &j;
    // Unit columns first, so that metres and radians can be compared.
    let scale = information.diagonal().map(|d| 1.0 / d.max(1e-300).sqrt());
    let unit = DMatrix::from_fn(information.nrows(), information.ncols(), |i, k| {
        information[(i, k)] * scale[i] * scale[k]
    });
    tracing::debug!(x = ?solved.x.as_slice(), eig = ?unit.clone().symmetric_eigenvalues().as_slice(), "camera search end");
    if unit.symmetric_eigenvalues().min() <= 1e-10 {
        return Err(FitError::Degenerate);
    }
    let covariance = information
        .cholesky()
        .ok_or(FitError::Degenerate)?
        .inverse();
    let layout = problem.layout();
    let each = |from: usize, to: usize| {
        (0..problem.views.len()).flat_map(move |v| (from..to).map(move |k| layout.view(v) + k))
    };
    let keep: Vec<usize> = each(0, PARAMETERS).chain(layout.offset()).collect();
    let places: Vec<usize> = each(PARAMETERS, PARAMETERS + 3).collect();
    let part = |rows: &[usize], columns: &[usize]| {
        DMatrix::from_fn(rows.len(), columns.len(), |i, k| {
            covariance[(rows[i], columns[k])]
        })
    };
    let small = part(&keep, &keep);
    let inverse = small.clone().try_inverse().ok_or(FitError::Degenerate)?;
    let sigma = |i: usize| covariance[(i, i)].max(0.0).sqrt();
    let views = (0..problem.views.len())
        .map(|v| {
            let i = layout.view(v);
            FittedView {
                camera: problem.camera(&solved.x, v),
                attitude: problem.attitude(&solved.x, v),
                sigma: Attitude {
                    azimuth: sigma(i),
                    pitch: sigma(i + 1),
                    roll: sigma(i + 2),
                },
            }
        })
        .collect();
    if problem.views.len() == 2 {
        // The angle between the cameras must be known better than the roles alone tell.
        let b = PARAMETERS;
        let relative = small[(0, 0)] + small[(b, b)] - 2.0 * small[(0, b)];
        let prior = 2.0 * problem.config.azimuth_sigma_deg.to_radians().powi(2);
        if relative > 0.8 * prior {
            return Err(FitError::Degenerate);
        }
    }
    let residuals = problem.residuals(&solved.x);
    let (mut sum, mut n) = (0.0, 0.0f64);
    for g in &residuals.robust {
        for i in g.start..g.start + g.len {
            sum += (residuals.values[i] * solved.weights[i]).powi(2);
            n += 1.0;
        }
    }
    Ok(CameraFit {
        views,
        places: part(&places, &keep) * inverse,
        covariance: small,
        offset_s: layout.offset().map_or(0.0, |i| solved.x[i]),
        offset_sigma_s: layout.offset().map_or(0.0, sigma),
        misfit: sum / n.max(1.0),
    })
}
