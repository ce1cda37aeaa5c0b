//! The least value of a smooth function of a few variables whose derivatives are not at hand: Newton steps
//! on central differences inside a trust region.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: every index is below the number of variables")]

use crate::cholesky;

/// Step of the second differences, as a share of a variable's size.
const DIFFERENCE: f64 = 2e-3;
/// Step of the one-sided first differences.
const ONE_SIDED: f64 = 2e-4;
/// A variable nearer to zero than this is stepped as if it were this large.
const LEAST_SIZE: f64 = 0.1;
/// Stop when the quadratic model promises less than this.
const TOLERANCE: f64 = 1e-6;
const ITERATIONS: usize = 150;

/// Where the search ended.
#[derive(Debug, Clone)]
pub struct Minimum {
    /// The variables.
    pub at: Vec<f64>,
    /// The function there.
    pub value: f64,
    /// How often the function was asked.
    pub evaluations: usize,
    /// Whether nothing more was promised; without it the least value seen is given.
    pub converged: bool,
}

/// The least value near `start`. The first iteration costs `2 k + k (k-1)/2` evaluations for `k` variables, a later one `k`, and each step
/// tried one more; where the quadratic model fails, its curvature is measured anew.
/// `function` returns infinity where it has no value.
pub fn minimise(start: &[f64], mut function: impl FnMut(&[f64]) -> f64) -> Minimum {
    let count = start.len();
    let mut evaluations = 0;
    let mut evaluate = |at: &[f64]| {
        evaluations += 1;
        let value = function(at);
        if value.is_nan() { f64::INFINITY } else { value }
    };
    let mut at = start.to_vec();
    let mut value = evaluate(&at);
    let mut radius = 1.0;
    let mut converged = count == 0;
    let (mut gradient, mut curvature) = (Vec::new(), Vec::new());
    // The step that led to `at`, where the model is good enough to be carried along with it.
    let mut carried: Option<Vec<f64>> = None;
    for _ in 0..ITERATIONS {
        if converged || !value.is_finite() || radius < 1e-8 {
            break;
        }
        let size: Vec<f64> = at.iter().map(|x| x.abs().max(LEAST_SIZE)).collect();
        let measured = carried.is_none();
        if let Some(step) = carried.take() {
            let next = slope(&at, value, &size, &curvature, &mut evaluate);
            let change: Vec<f64> = next.iter().zip(&gradient).map(|(new, old)| new - old).collect();
            bend(&mut curvature, &step, &change);
            gradient = next;
        } else {
            (gradient, curvature) = differences(&at, value, &size, &mut evaluate);
        }
        if !gradient.iter().chain(&curvature).all(|entry| entry.is_finite()) {
            break;
        }
        while let Some((step, promised)) = step_within(&gradient, &curvature, &size, radius) {
            let trial: Vec<f64> = at.iter().zip(&step).map(|(x, s)| x + s).collect();
            let trial_value = evaluate(&trial);
            let length = step.iter().zip(&size).map(|(s, size)| (s / size).powi(2)).sum::<f64>().sqrt();
            let gained = value - trial_value;
            // A promise kept small by the trust region says nothing about the distance to the minimum.
            converged = promised < TOLERANCE && length < 0.99 * radius;
            if gained > 0.75 * promised {
                radius = f64::max(radius, 2.0 * length);
            } else if gained < 0.25 * promised {
                radius = 0.3 * length;
            }
            if gained > 0.0 {
                at = trial;
                value = trial_value;
                carried = (gained > 0.25 * promised).then_some(step);
                break;
            }
            if converged || radius < 1e-8 || !measured {
                break;
            }
        }
    }
    Minimum { at, value, evaluations, converged }
}

/// Gradient by one-sided differences, the known curvature taken off.
fn slope(
    at: &[f64],
    value: f64,
    size: &[f64],
    curvature: &[f64],
    evaluate: &mut impl FnMut(&[f64]) -> f64,
) -> Vec<f64> {
    let count = at.len();
    let mut moved = at.to_vec();
    (0..count)
        .map(|i| {
            let step = ONE_SIDED * size[i];
            moved[i] = at[i] + step;
            let above = evaluate(&moved);
            moved[i] = at[i];
            (above - value) / step - 0.5 * step * curvature[i * count + i]
        })
        .collect()
}

/// Corrects the curvature so that it explains the change of the gradient over the last step: the symmetric
/// update of rank one, which need not stay positive definite (Nocedal & Wright, Numerical Optimization, 6.2).
fn bend(curvature: &mut [f64], step: &[f64], change: &[f64]) {
    let count = step.len();
    let missed: Vec<f64> =
        (0..count).map(|i| change[i] - cholesky::dot(&curvature[i * count..][..count], step)).collect();
    let along = cholesky::dot(&missed, step);
    let scale = (cholesky::dot(&missed, &missed) * cholesky::dot(step, step)).sqrt();
    if along.abs() > 1e-8 * scale {
        for i in 0..count {
            for j in 0..count {
                curvature[i * count + j] += missed[i] * missed[j] / along;
            }
        }
    }
}

/// Gradient and matrix of second derivatives, row by row.
fn differences(
    at: &[f64],
    value: f64,
    size: &[f64],
    evaluate: &mut impl FnMut(&[f64]) -> f64,
) -> (Vec<f64>, Vec<f64>) {
    let count = at.len();
    let mut moved = at.to_vec();
    let step: Vec<f64> = size.iter().map(|size| DIFFERENCE * size).collect();
    let (mut gradient, mut curvature, mut above) =
        (vec![0.0; count], vec![0.0; count * count], vec![0.0; count]);
    for i in 0..count {
        moved[i] = at[i] + step[i];
        above[i] = evaluate(&moved);
        moved[i] = at[i] - step[i];
        let below = evaluate(&moved);
        moved[i] = at[i];
        gradient[i] = (above[i] - below) / (2.0 * step[i]);
        curvature[i * count + i] = (above[i] - 2.0 * value + below) / (step[i] * step[i]);
    }
    for i in 0..count {
        for j in 0..i {
            moved[i] = at[i] + step[i];
            moved[j] = at[j] + step[j];
            let both = evaluate(&moved);
            (moved[i], moved[j]) = (at[i], at[j]);
            let mixed = (both - above[i] - above[j] + value) / (step[i] * step[j]);
            curvature[i * count + j] = mixed;
            curvature[j * count + i] = mixed;
        }
    }
    (gradient, curvature)
}

/// The step no longer than `radius` sizes from the quadratic model and what the model promises it gains. The
/// curvature is raised until it is positive definite and the step short enough.
fn step_within(gradient: &[f64], curvature: &[f64], size: &[f64], radius: f64) -> Option<(Vec<f64>, f64)> {
    let count = gradient.len();
    // Variables are counted in their sizes from here on.
    let slope: Vec<f64> = gradient.iter().zip(size).map(|(g, size)| g * size).collect();
    let mut scaled = curvature.to_vec();
    for i in 0..count {
        for j in 0..count {
            scaled[i * count + j] *= size[i] * size[j];
        }
    }
    let largest = scaled.iter().fold(f64::MIN_POSITIVE, |most, entry| most.max(entry.abs()));
    let mut raise = 0.0;
    for _ in 0..200 {
        let mut raised = scaled.clone();
        for i in 0..count {
            raised[i * count + i] += raise;
        }
        if cholesky::factor_small(&mut raised, count).is_ok() {
            let mut step: Vec<f64> = slope.iter().map(|g| -g).collect();
            cholesky::forward_small(&raised, &mut step);
            cholesky::backward_small(&raised, &mut step);
            if cholesky::dot(&step, &step) <= radius * radius {
                let promised = -cholesky::dot(&step, &slope)
                    - 0.5
                        * (0..count)
                            .map(|i| step[i] * cholesky::dot(&scaled[i * count..][..count], &step))
                            .sum::<f64>();
                return Some((step.iter().zip(size).map(|(s, size)| s * size).collect(), promised));
            }
        }
        raise = if raise == 0.0 { 1e-3 * largest } else { 1.5 * raise };
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock 1960, The Computer Journal 3:175-184: least value 0 at (1, 1), from (-1.2, 1).
    #[test]
    fn rosenbrock_valley() {
        let found = minimise(&[-1.2, 1.0], |x| 100.0 * (x[1] - x[0] * x[0]).powi(2) + (1.0 - x[0]).powi(2));
        assert!(found.converged, "{found:?}");
        assert!(found.value < 2.0 * TOLERANCE, "{found:?}");
        assert!((found.at[0] - 1.0).abs() < 3e-3 && (found.at[1] - 1.0).abs() < 5e-3, "{found:?}");
    }

    /// A minimum at zero that is flatter than any parabola, as a variance ratio at its bound can be.
    #[test]
    fn quartic_floor() {
        let found = minimise(&[1.0, 1.0], |x| x[0].powi(4) + (x[1] - 0.5).powi(2));
        assert!(found.converged && found.value < 1e-5, "{found:?}");
    }
}
