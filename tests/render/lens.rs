//! Blur, on planes of linear light.

/// Blurs rows, then columns. Beyond the edge the edge's value goes on.
pub fn gaussian(plane: &mut [f32], width: usize, sigma: f32) {
    let reach = (3.0 * sigma).ceil().max(1.0) as usize;
    let mut weights: Vec<f32> = (0..=reach).map(|i| (-0.5 * (i as f32 / sigma).powi(2)).exp()).collect();
    let total = weights[0] + 2.0 * weights[1..].iter().sum::<f32>();
    weights.iter_mut().for_each(|w| *w /= total);
    let height = plane.len() / width;
    let mut padded = vec![0.0; width + 2 * reach];
    for row in plane.chunks_exact_mut(width) {
        padded[..reach].fill(row[0]);
        padded[reach..reach + width].copy_from_slice(row);
        padded[reach + width..].fill(row[width - 1]);
        row.iter_mut().zip(&padded[reach..]).for_each(|(r, p)| *r = p * weights[0]);
        for (i, &weight) in weights.iter().enumerate().skip(1) {
            let pairs = padded[reach - i..].iter().zip(&padded[reach + i..]);
            row.iter_mut().zip(pairs).for_each(|(r, (a, b))| *r += (a + b) * weight);
        }
    }
    let source = plane.to_vec();
    let line = |y: isize| {
        let y = y.clamp(0, height as isize - 1) as usize;
        &source[y * width..(y + 1) * width]
    };
    for (y, row) in plane.chunks_exact_mut(width).enumerate() {
        row.iter_mut().for_each(|r| *r *= weights[0]);
        for (i, &weight) in weights.iter().enumerate().skip(1) {
            let (y, i) = (y as isize, i as isize);
            let pairs = line(y - i).iter().zip(line(y + i));
            row.iter_mut().zip(pairs).for_each(|(r, (a, b))| *r += (a + b) * weight);
        }
    }
}

/// The mean along a straight line of `line` pixels.
pub fn smear(plane: &[f32], width: usize, line: [f32; 2]) -> Vec<f32> {
    let height = plane.len() / width;
    let steps = (line[0].abs().max(line[1].abs()).ceil() as usize * 2).max(2);
    let mut sum = vec![0.0; plane.len()];
    for step in 0..=steps {
        let share = step as f32 / steps as f32 - 0.5;
        let (dx, dy) = (line[0] * share, line[1] * share);
        let (fx, fy) = (dx - dx.floor(), dy - dy.floor());
        let (ix, iy) = (dx.floor() as isize, dy.floor() as isize);
        for (y, row) in sum.chunks_exact_mut(width).enumerate() {
            let at = |dy: isize| {
                let y = (y as isize + iy + dy).clamp(0, height as isize - 1) as usize;
                &plane[y * width..(y + 1) * width]
            };
            let (upper, lower) = (at(0), at(1));
            for (x, value) in row.iter_mut().enumerate() {
                let left = (x as isize + ix).clamp(0, width as isize - 1) as usize;
                let right = (x as isize + ix + 1).clamp(0, width as isize - 1) as usize;
                let top = upper[left] * (1.0 - fx) + upper[right] * fx;
                *value += top * (1.0 - fy) + (lower[left] * (1.0 - fx) + lower[right] * fx) * fy;
            }
        }
    }
    let share = 1.0 / (steps + 1) as f32;
    sum.iter_mut().for_each(|v| *v *= share);
    sum
}
