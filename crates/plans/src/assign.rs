//! The cheapest way of giving every row a column of its own.

/// Cost of a pairing that must not happen. Large, and far from where sums lose digits.
pub const FORBIDDEN: f64 = 1e15;

/// Least total cost of giving each row of `cost` a different column, and the column of each row.
/// Needs at least as many columns as rows and rows of one length; `None` otherwise.
///
/// Shortest augmenting paths with potentials (Kuhn 1955; Jonker and Volgenant, Computing 38,
/// 1987): the result is exact, in the order of rows² × columns steps.
#[must_use]
pub fn cheapest(cost: &[Vec<f64>]) -> Option<(f64, Vec<usize>)> {
    let rows = cost.len();
    let cols = cost.first().map_or(0, Vec::len);
    if cols < rows || cost.iter().any(|r| r.len() != cols) {
        return None;
    }
    // Column 0 is a helper; `owner[c]` is the row (from 1) that holds column c, 0 for none.
    let mut row_price = vec![0.0; rows + 1];
    let mut col_price = vec![0.0; cols + 1];
    let mut owner = vec![0usize; cols + 1];
    for row in 1..=rows {
        augment(cost, row, &mut row_price, &mut col_price, &mut owner);
    }
    let mut column = vec![0; rows];
    let mut total = 0.0;
    for (c, &r) in owner.iter().enumerate().skip(1) {
        if r > 0 {
            column[r - 1] = c - 1;
            total += cost[r - 1][c - 1];
        }
    }
    Some((total, column))
}

fn augment(
    cost: &[Vec<f64>],
    row: usize,
    row_price: &mut [f64],
    col_price: &mut [f64],
    owner: &mut [usize],
) {
    let cols = col_price.len() - 1;
    let mut least = vec![f64::INFINITY; cols + 1];
    let mut used = vec![false; cols + 1];
    let mut from = vec![0usize; cols + 1];
    owner[0] = row;
    let mut here = 0;
    while owner[here] != 0 {
        used[here] = true;
        let r = owner[here];
        let (mut step, mut next) = (f64::INFINITY, 0);
        for c in 1..=cols {
            if used[c] {
                continue;
            }
            let reduced = cost[r - 1][c - 1] - row_price[r] - col_price[c];
            if reduced < least[c] {
                least[c] = reduced;
                from[c] = here;
            }
            if least[c] < step {
                step = least[c];
                next = c;
            }
        }
        for c in 0..=cols {
            if used[c] {
                row_price[owner[c]] += step;
                col_price[c] -= step;
            } else {
                least[c] -= step;
            }
        }
        here = next;
    }
    while here != 0 {
        let before = from[here];
        owner[here] = owner[before];
        here = before;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Dice;

    /// The example of Munkres, "Algorithms for the assignment and transportation problems", J.
    /// SIAM 5, 1957, is not at hand; a 3 × 3 case worked by hand and brute force instead.
    #[test]
    fn small_case_by_hand() {
        let cost = vec![vec![4.0, 1.0, 3.0], vec![2.0, 0.0, 5.0], vec![3.0, 2.0, 2.0]];
        assert_eq!(cheapest(&cost), Some((5.0, vec![1, 0, 2])));
        assert_eq!(cheapest(&[vec![1.0], vec![1.0]]), None);
    }

    fn brute(cost: &[Vec<f64>], row: usize, used: &mut Vec<bool>) -> f64 {
        let Some(line) = cost.get(row) else { return 0.0 };
        let mut best = f64::INFINITY;
        for c in 0..line.len() {
            if !used[c] {
                used[c] = true;
                best = best.min(line[c] + brute(cost, row + 1, used));
                used[c] = false;
            }
        }
        best
    }

    #[test]
    fn as_brute_force() {
        let mut dice = Dice::new(5);
        for _ in 0..200 {
            let rows = 1 + dice.below(5);
            let cols = rows + dice.below(3);
            let cost: Vec<Vec<f64>> =
                (0..rows).map(|_| (0..cols).map(|_| dice.between(-3.0, 9.0)).collect()).collect();
            let (total, _) = cheapest(&cost).unwrap();
            assert!((total - brute(&cost, 0, &mut vec![false; cols])).abs() < 1e-9);
        }
    }
}
