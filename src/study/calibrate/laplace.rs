//! Measured drops against a model that is nearly straight in its parameters: the most probable ones and how sure they are.
//!
//! Equation: phi_j = ln(p_j/p_j0) with prior N(0, P), P diagonal; y = f(phi) + e, e ~ N(0, C). The most probable phi minimises
//! `(y - f)^T C^-1 (y - f) + phi^T P^-1 phi`; about it the posterior is taken as normal with covariance
//! `S = (J^T C^-1 J + P^-1)^-1`, J = df/dphi. The minimum itself is chi-square with as many degrees of freedom as there are
//! measurements where the model, its errors and the prior are right.
//!
//! Symbols: y logarithms of measured diameters and rates (-), C covariance of measuring, model and inputs that are not free (-).
//!
//! Source: Laplace's method as in MacKay 2003, Information Theory, Inference, and Learning Algorithms, chapter 27; Tarantola 2005,
//! Inverse Problem Theory, section 3.2 (both recalled from memory).
//!
//! Holds for: answers whose logarithm bends little within the posterior, one mode of breakup.

use nalgebra::{DMatrix, DVector};

/// Gaussian errors of measurements and a Gaussian prior of the parameters.
#[derive(Debug, Clone)]
pub struct Belief {
    /// C^-1.
    precision: DMatrix<f64>,
    /// Diagonal of P^-1.
    prior: DVector<f64>,
}

/// The posterior about its maximum.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// S.
    pub covariance: DMatrix<f64>,
    /// J^T C^-1 J in units of the prior: eigenvalues and their directions, least told first.
    pub told: Vec<(f64, DVector<f64>)>,
}

impl Belief {
    /// `None` where the errors are no covariance (a measurement without any error).
    pub fn new(errors: &DMatrix<f64>, prior_sd: &[f64]) -> Option<Belief> {
        let precision = errors.clone().cholesky()?.inverse();
        let prior = DVector::from_iterator(prior_sd.len(), prior_sd.iter().map(|sd| sd.powi(-2)));
        Some(Belief { precision, prior })
    }

    /// What is minimised, at residuals `r` and parameters `phi`.
    pub fn misfit(&self, r: &DVector<f64>, phi: &DVector<f64>) -> f64 {
        (r.transpose() * &self.precision * r)[0] + phi.component_mul(phi).dot(&self.prior)
    }

    fn curvature(&self, jacobian: &DMatrix<f64>) -> DMatrix<f64> {
        jacobian.transpose() * &self.precision * jacobian + DMatrix::from_diagonal(&self.prior)
    }

    /// Step of Gauss and Newton towards the minimum.
    pub fn step(&self, jacobian: &DMatrix<f64>, r: &DVector<f64>, phi: &DVector<f64>) -> Option<DVector<f64>> {
        let slope = jacobian.transpose() * &self.precision * r - phi.component_mul(&self.prior);
        Some(self.curvature(jacobian).cholesky()?.solve(&slope))
    }

    /// The posterior about the minimum.
    pub fn posterior(&self, jacobian: &DMatrix<f64>) -> Option<Posterior> {
        let covariance = self.curvature(jacobian).cholesky()?.inverse();
        let sd = self.prior.map(|p| p.sqrt().recip());
        let scaled = jacobian * DMatrix::from_diagonal(&sd);
        let eigen = (scaled.transpose() * &self.precision * scaled).symmetric_eigen();
        let mut told: Vec<(f64, DVector<f64>)> =
            (0..sd.len()).map(|i| (eigen.eigenvalues[i], eigen.eigenvectors.column(i).into_owned())).collect();
        told.sort_by(|a, b| a.0.total_cmp(&b.0));
        Some(Posterior { covariance, told })
    }
}

/// What is left of `r` in units of its own standard deviation when measurement `i` is predicted from all others, each in turn.
/// `r` are the residuals at the prior's centre of a model that is straight with slope `jacobian`.
pub fn left_out(
    errors: &DMatrix<f64>,
    jacobian: &DMatrix<f64>,
    prior_sd: &[f64],
    r: &DVector<f64>,
) -> Option<Vec<f64>> {
    let prior = DMatrix::from_diagonal(&DVector::from_iterator(prior_sd.len(), prior_sd.iter().map(|sd| sd * sd)));
    let whole = (errors + jacobian * prior * jacobian.transpose()).cholesky()?.inverse();
    // Of a normal law with precision Q, one member given all others has variance 1/Q_ii and mean distance (Q r)_i/Q_ii.
    let q = &whole * r;
    Some((0..r.len()).map(|i| q[i] / whole[(i, i)].sqrt()).collect())
}

/// The covariance after further measurements with these slopes and errors.
pub fn after(covariance: &DMatrix<f64>, jacobian: &DMatrix<f64>, errors: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let spread = errors + jacobian * covariance * jacobian.transpose();
    let gain = covariance * jacobian.transpose() * spread.cholesky()?.inverse();
    Some(covariance - gain * jacobian * covariance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // One parameter measured once, prior and error of equal width: half way, variance halved.
    #[test]
    fn theory_equal_widths_meet_half_way() {
        let belief = Belief::new(&DMatrix::from_element(1, 1, 0.01), &[0.1]).expect("a belief");
        let (j, r, zero) = (DMatrix::from_element(1, 1, 1.0), DVector::from_element(1, 0.2), DVector::zeros(1));
        assert_relative_eq!(belief.step(&j, &r, &zero).expect("a step")[0], 0.1, max_relative = 1e-12);
        let posterior = belief.posterior(&j).expect("a posterior");
        assert_relative_eq!(posterior.covariance[(0, 0)], 0.005, max_relative = 1e-12);
        assert_relative_eq!(posterior.told[0].0, 1.0, max_relative = 1e-12);
        let again = after(&DMatrix::from_element(1, 1, 0.01), &j, &DMatrix::from_element(1, 1, 0.01)).expect("more");
        assert_relative_eq!(again[(0, 0)], 0.005, max_relative = 1e-12);
    }

    // Two parameters that only their sum is measured of: the difference keeps its prior.
    #[test]
    fn theory_a_sum_tells_nothing_of_a_difference() {
        let belief = Belief::new(&DMatrix::from_element(1, 1, 1e-8), &[0.1, 0.1]).expect("a belief");
        let posterior = belief.posterior(&DMatrix::from_row_slice(1, 2, &[1.0, 1.0])).expect("a posterior");
        let (least, direction) = &posterior.told[0];
        assert!(*least < 1e-6 && (direction[0] + direction[1]).abs() < 1e-9, "{least} {direction}");
        assert_relative_eq!(posterior.covariance[(0, 0)], 0.005, max_relative = 1e-4);
        assert_relative_eq!(posterior.covariance[(0, 1)], -0.005, max_relative = 1e-4);
    }

    // Two equal measurements of one number with error 0.1 and a prior of 1: the first predicts the second.
    #[test]
    fn theory_left_out_by_hand() {
        let (e, j) = (DMatrix::from_diagonal_element(2, 2, 0.01), DMatrix::from_element(2, 1, 1.0));
        let found = left_out(&e, &j, &[1.0], &DVector::from_row_slice(&[0.3, 0.0])).expect("numbers");
        // mean of the first from the second: 0; variance 0.01 + (1 - 1/1.01)
        assert_relative_eq!(found[0], 0.3 / (0.01 + 1.0 - 1.0 / 1.01f64).sqrt(), max_relative = 1e-9);
    }
}
