//! Cholesky factors: a recursive one for large dense matrices, all of whose work is matrix products, and a
//! plain one for blocks of a few columns. Only the lower triangle is read or written with meaning.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: every index is bounded by the sizes just taken")]

use ndarray::linalg::general_mat_mul;
use ndarray::{ArrayView2, ArrayViewMut2, Axis};

/// Below this order plain loops are faster than splitting once more.
const LEAF: usize = 48;
/// A pivot smaller than this share of the diagonal it came from is rounding, not information.
const PIVOT_TOLERANCE: f64 = 1e-13;

/// The row at which the matrix stopped being positive definite.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotPositive(pub usize);

/// The sum of products, in eight lanes; the shorter one decides.
pub fn dot(left: &[f64], right: &[f64]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0.0; LANES];
    let (left_chunks, right_chunks) = (left.chunks_exact(LANES), right.chunks_exact(LANES));
    let rest: f64 = left_chunks.remainder().iter().zip(right_chunks.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in left_chunks.zip(right_chunks) {
        for lane in 0..LANES {
            sums[lane] += a[lane] * b[lane];
        }
    }
    rest + sums.iter().sum::<f64>()
}

/// Replaces the lower triangle of the square `a` by `L`, `a = L L'`. Order n costs n^3/3 multiplications.
/// Rows of `a` must be contiguous.
pub fn factor(a: ArrayViewMut2<'_, f64>) -> Result<(), NotPositive> {
    let diagonal: Vec<f64> = a.diag().to_vec();
    factor_from(a, &diagonal, 0)
}

fn factor_from(mut a: ArrayViewMut2<'_, f64>, diagonal: &[f64], first: usize) -> Result<(), NotPositive> {
    let order = a.nrows();
    if order <= LEAF {
        return factor_leaf(a, diagonal, first);
    }
    let half = order / 2;
    let (top, bottom) = a.view_mut().split_at(Axis(0), half);
    let (mut first_block, _) = top.split_at(Axis(1), half);
    let (mut below, last_block) = bottom.split_at(Axis(1), half);
    factor_from(first_block.view_mut(), diagonal, first)?;
    solve_transposed(&first_block.view(), below.view_mut());
    let mut last_block = last_block;
    subtract_square(last_block.view_mut(), &below.view());
    factor_from(last_block, diagonal, first + half)
}

fn factor_leaf(mut a: ArrayViewMut2<'_, f64>, diagonal: &[f64], first: usize) -> Result<(), NotPositive> {
    let mut row = [0.0; LEAF];
    for i in 0..a.nrows() {
        for j in 0..i {
            let known = a.row(j);
            let known = known.as_slice().unwrap_or(&[]);
            row[j] = (a[[i, j]] - dot(&row[..j], &known[..j])) / known[j];
        }
        let pivot = a[[i, i]] - dot(&row[..i], &row[..i]);
        let scale = diagonal.get(first + i).copied().unwrap_or(0.0);
        if !(pivot > PIVOT_TOLERANCE * scale && pivot.is_finite()) {
            return Err(NotPositive(first + i));
        }
        row[i] = pivot.sqrt();
        for (to, from) in a.row_mut(i).iter_mut().zip(&row[..=i]) {
            *to = *from;
        }
    }
    Ok(())
}

/// `b <- b L^-T`: one forward substitution for each row of `b`.
pub fn solve_transposed(l: &ArrayView2<'_, f64>, mut b: ArrayViewMut2<'_, f64>) {
    let order = l.nrows();
    if order <= LEAF {
        for mut row in b.rows_mut() {
            if let Some(row) = row.as_slice_mut() {
                forward(l, row, 0);
            }
        }
        return;
    }
    let half = order / 2;
    let (top, bottom) = l.split_at(Axis(0), half);
    let (first_block, _) = top.split_at(Axis(1), half);
    let (below, last_block) = bottom.split_at(Axis(1), half);
    let (mut left, mut right) = b.view_mut().split_at(Axis(1), half);
    solve_transposed(&first_block, left.view_mut());
    general_mat_mul(-1.0, &left, &below.t(), 1.0, &mut right);
    solve_transposed(&last_block, right);
}

/// `c <- c - a a'` in the lower triangle.
fn subtract_square(mut c: ArrayViewMut2<'_, f64>, a: &ArrayView2<'_, f64>) {
    // Above the diagonal of a leaf the product is wasted, which is cheaper than ever smaller products.
    const SQUARE_LEAF: usize = 256;
    let order = c.nrows();
    if order <= SQUARE_LEAF {
        general_mat_mul(-1.0, a, &a.t(), 1.0, &mut c);
        return;
    }
    let half = order / 2;
    let (upper_rows, lower_rows) = a.split_at(Axis(0), half);
    let (top, bottom) = c.view_mut().split_at(Axis(0), half);
    let (first_block, _) = top.split_at(Axis(1), half);
    let (mut below, last_block) = bottom.split_at(Axis(1), half);
    subtract_square(first_block, &upper_rows);
    general_mat_mul(-1.0, &lower_rows, &upper_rows.t(), 1.0, &mut below);
    subtract_square(last_block, &lower_rows);
}

/// Solves `L z = x` in place, where `x` is zero before `from`.
pub fn forward(l: &ArrayView2<'_, f64>, x: &mut [f64], from: usize) {
    for i in from..l.nrows().min(x.len()) {
        let row = l.row(i);
        let row = row.as_slice().unwrap_or(&[]);
        x[i] = (x[i] - dot(&row[from..i], &x[from..i])) / row[i];
    }
}

/// Solves `L' z = x` in place.
pub fn backward(l: &ArrayView2<'_, f64>, x: &mut [f64]) {
    for i in (0..l.nrows().min(x.len())).rev() {
        let row = l.row(i);
        let row = row.as_slice().unwrap_or(&[]);
        x[i] /= row[i];
        let value = x[i];
        for (earlier, entry) in x[..i].iter_mut().zip(row) {
            *earlier -= value * entry;
        }
    }
}

/// Factor of a small `order` x `order` matrix held row by row, in place.
pub fn factor_small(a: &mut [f64], order: usize) -> Result<(), NotPositive> {
    for i in 0..order {
        let scale = a[i * order + i];
        for j in 0..=i {
            let mut sum = a[i * order + j];
            for k in 0..j {
                sum -= a[i * order + k] * a[j * order + k];
            }
            if i == j {
                if !(sum > PIVOT_TOLERANCE * scale && sum.is_finite()) {
                    return Err(NotPositive(i));
                }
                a[i * order + i] = sum.sqrt();
            } else {
                a[i * order + j] = sum / a[j * order + j];
            }
        }
    }
    Ok(())
}

/// Solves `L z = x` in place for a factor from [`factor_small`].
pub fn forward_small(l: &[f64], x: &mut [f64]) {
    let order = x.len();
    for i in 0..order {
        for k in 0..i {
            x[i] -= l[i * order + k] * x[k];
        }
        x[i] /= l[i * order + i];
    }
}

/// Solves `L' z = x` in place for a factor from [`factor_small`].
pub fn backward_small(l: &[f64], x: &mut [f64]) {
    let order = x.len();
    for i in (0..order).rev() {
        for k in i + 1..order {
            x[i] -= l[k * order + i] * x[k];
        }
        x[i] /= l[i * order + i];
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
    use super::*;
    use ndarray::Array2;

    /// A positive definite matrix with a known factor: `L[i][j] = 1/(1+i-j)`, diagonal 2.
    fn known_factor(order: usize) -> Array2<f64> {
        Array2::from_shape_fn((order, order), |(i, j)| match i.cmp(&j) {
            std::cmp::Ordering::Less => 0.0,
            std::cmp::Ordering::Equal => 2.0,
            std::cmp::Ordering::Greater => 1.0 / (1.0 + (i - j) as f64),
        })
    }

    #[test]
    fn factor_of_a_product_is_its_root() {
        for order in [1, 2, LEAF, LEAF + 1, 97, 300, 700] {
            let root = known_factor(order);
            let mut a = root.dot(&root.t());
            factor(a.view_mut()).unwrap();
            for i in 0..order {
                for j in 0..=i {
                    assert!((a[[i, j]] - root[[i, j]]).abs() < 1e-10, "order {order}, entry {i},{j}");
                }
            }
            let mut x: Vec<f64> = (0..order).map(|i| (i as f64).sin()).collect();
            let wanted = root.t().dot(&ndarray::Array1::from(x.clone()));
            let wanted = root.dot(&wanted).to_vec();
            x.clone_from(&wanted);
            forward(&a.view(), &mut x, 0);
            backward(&a.view(), &mut x);
            for (i, value) in x.iter().enumerate() {
                assert!((value - (i as f64).sin()).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn the_first_dependent_row_is_named() {
        let mut a = Array2::<f64>::eye(120);
        a[[100, 3]] = 1.0;
        a[[3, 100]] = 1.0;
        assert_eq!(factor(a.view_mut()), Err(NotPositive(100)));
        let mut small = [4.0, 2.0, 2.0, 1.0];
        assert_eq!(factor_small(&mut small, 2), Err(NotPositive(1)));
    }
}
