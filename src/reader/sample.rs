//! Points between pixels, vectors, and small linear systems.

/// A point in picture px; pixel (0, 0) covers 0 to 1, its centre is (0.5, 0.5).
pub(super) type Point = [f32; 2];

pub(super) fn add(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1]]
}

pub(super) fn sub(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn scale(a: Point, by: f32) -> Point {
    [a[0] * by, a[1] * by]
}

pub(super) fn dot(a: Point, b: Point) -> f32 {
    a[0] * b[0] + a[1] * b[1]
}

pub(super) fn length(a: Point) -> f32 {
    dot(a, a).sqrt()
}

/// The point a fraction `t` of the way from `a` to `b`.
pub(super) fn mix(a: Point, b: Point, t: f32) -> Point {
    add(a, scale(sub(b, a), t))
}

/// A quarter turn: from reading direction to "down" in a picture whose y grows downwards.
pub(super) fn quarter_turn(a: Point) -> Point {
    [-a[1], a[0]]
}

/// The share of what these corners, one after the other, enclose in which `lies` holds.
pub(super) fn share_of([a, b, c, d]: [Point; 4], lies: impl Fn(Point) -> bool) -> f32 {
    /// Places looked at across it and down.
    const GRID: usize = 9;
    let part = |i: usize| (i as f32 + 0.5) / GRID as f32;
    let place = |i| mix(mix(a, b, part(i % GRID)), mix(d, c, part(i % GRID)), part(i / GRID));
    (0..GRID * GRID).filter(|&i| lies(place(i))).count() as f32 / (GRID * GRID) as f32
}

/// A row of values at `columns` that may lie between two of them; beyond its ends, its first and its last.
pub(super) fn between(values: &[f32], columns: Vec<f32>) -> Vec<f32> {
    let last = values.len() - 1;
    let mut columns = columns;
    for column in &mut columns {
        let at = column.clamp(0.0, last as f32);
        let left = (at as usize).min(last - 1);
        *column = values[left] + (values[left + 1] - values[left]) * (at - left as f32);
    }
    columns
}

/// Means over `reach` values to each side; at the ends over those that there are.
pub(super) fn windowed(values: &[f32], reach: usize) -> Vec<f32> {
    let n = values.len();
    let mut sums = Vec::with_capacity(n + 1);
    let mut sum = 0.0f64;
    sums.push(0.0);
    for &value in values {
        sum += f64::from(value);
        sums.push(sum);
    }
    let mean = |from: usize, to: usize| ((sums[to] - sums[from]) / (to - from) as f64) as f32;
    let span = 2 * reach + 1;
    let mut means = Vec::with_capacity(n);
    means.extend((0..reach.min(n)).map(|x| mean(0, (x + reach + 1).min(n))));
    // Where the whole reach is there, several at a time.
    let whole = sums.iter().zip(sums.get(span..).unwrap_or(&[]));
    means.extend(whole.map(|(from, to)| ((to - from) / span as f64) as f32));
    means.extend((means.len()..n).map(|x| mean(x.saturating_sub(reach), n)));
    means
}

/// What is picked of the values within `reach` of each.
pub(super) fn extreme(values: &[f32], reach: usize, pick: fn(f32, f32) -> f32) -> Vec<f32> {
    let near = |x: usize| &values[x.saturating_sub(reach)..(x + reach + 1).min(values.len())];
    (0..values.len()).map(|x| near(x).iter().copied().fold(values[x], pick)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_windowed_value_is_the_mean_of_those_near_it() {
        let values: Vec<f32> = (0..23).map(|i| ((i * i) % 17) as f32).collect();
        for n in 0..values.len() {
            for reach in 0..14 {
                let windowed = windowed(&values[..n], reach);
                assert_eq!(windowed.len(), n);
                for (x, mean) in windowed.iter().enumerate() {
                    let near = &values[x.saturating_sub(reach)..(x + reach + 1).min(n)];
                    let expected = near.iter().sum::<f32>() / near.len() as f32;
                    assert!((mean - expected).abs() < 1e-4, "{x} of {n}, reach {reach}");
                }
            }
        }
    }
}
