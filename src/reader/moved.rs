//! Rows of values moved and stretched along themselves.

use super::wide::widest;

/// Adds `share` of the row's value at `x + first + each · x` to each `x`; beyond its ends the row keeps its first value and its last.
pub(super) fn add_moved(sum: &mut [f32], row: &[f32], [first, each]: [f32; 2], share: f32) {
    let [Some(start), Some(end)] = [row.first(), row.last()].map(|value| value.map(|value| share * value)) else {
        return;
    };
    let (count, last) = (sum.len() as isize, row.len() as isize - 1);
    widest(
        #[inline(always)]
        || {
            let mut x = 0;
            // Stretches over which the row is moved by one whole number of columns, and parts of one.
            while x < count {
                let whole = (first + each * x as f32).floor();
                let border = (if each < 0.0 { whole } else { whole + 1.0 } - first) / each;
                let next = if border.is_finite() { (border.ceil() as isize).clamp(x + 1, count) } else { count };
                let by = whole as isize;
                let from = by.saturating_neg().clamp(x, next);
                let to = last.saturating_sub(by).clamp(from, next);
                sum[x as usize..from as usize].iter_mut().for_each(|sum| *sum += start);
                sum[to as usize..next as usize].iter_mut().for_each(|sum| *sum += end);
                let [from, to, by] = [from, to, by].map(|column| column as usize);
                let sums = &mut sum[from..to];
                // `by` may be negative.
                let [left, right] = [0, 1].map(|next| row.get(from.wrapping_add(by).wrapping_add(next)..));
                if let (Some(left), Some(right)) = (left, right) {
                    let part = first - whole + each * from as f32;
                    for (i, ((sum, left), right)) in sums.iter_mut().zip(left).zip(right).enumerate() {
                        *sum += share * (left + (right - left) * (part + each * (i as i32) as f32));
                    }
                }
                x = next;
            }
        },
    );
}

#[cfg(test)]
mod tests {
    use super::super::sample::between;
    use super::*;

    #[test]
    fn a_moved_row_is_what_lies_between_its_columns() {
        let row: Vec<f32> = (0..37).map(|i| ((i * i) % 23) as f32).collect();
        let moves =
            [[-3.3, 0.2], [5.6, -0.1], [0.0, 0.0], [2.0, 0.0], [-0.25, 0.0], [50.0, 0.01], [-90.0, 0.3], [9.0, -0.5]];
        for [first, each] in moves {
            let mut sum = vec![1.0; row.len()];
            add_moved(&mut sum, &row, [first, each], 0.5);
            let expected = between(&row, (0..row.len()).map(|x| x as f32 + first + each * x as f32).collect());
            for (x, (sum, expected)) in sum.iter().zip(expected).enumerate() {
                assert!((sum - (1.0 + 0.5 * expected)).abs() < 1e-3, "column {x} of {first} and {each}");
            }
        }
    }

    #[test]
    fn nothing_is_added_of_an_empty_row() {
        let mut sum = [1.0];
        add_moved(&mut sum, &[], [0.0, 0.0], 1.0);
        assert_eq!(sum, [1.0]);
    }
}
