//! The gradients in a picture, their products added up in small cells.

/// Side of a cell in px.
pub(super) const CELL: usize = 4;

/// The rows of px between which the gradients of a row of cells lie: one more px a row than the cells have columns.
pub(super) type Rows<'a> = [&'a [u8]; CELL + 1];

/// Sets, for each of a row of cells, the sums of the products of its gradients: xx, yy and xy. A gradient is taken between the
/// middles of four px, in half grey levels a px.
pub(super) fn set_products(rows: &Rows<'_>, mut cells: [&mut [i32]; 3]) {
    let done = side_by_side(rows, &mut cells);
    let [xx, yy, xy] = cells;
    for i in done..xx.len() {
        [xx[i], yy[i], xy[i]] = products(rows, i * CELL);
    }
}

/// Those of the cell whose first column is `x`.
fn products(rows: &Rows<'_>, x: usize) -> [i32; 3] {
    let rows = rows.map(|row| &row[x..x + CELL + 1]);
    let mut sums = [0i32; 3];
    for y in 0..CELL {
        for x in 0..CELL {
            let [a, b, c, d] = [rows[y][x], rows[y][x + 1], rows[y + 1][x], rows[y + 1][x + 1]].map(i32::from);
            let (falling, rising) = (d - a, b - c);
            let (gx, gy) = (falling + rising, falling - rising);
            sums[0] += gx * gx;
            sums[1] += gy * gy;
            sums[2] += gx * gy;
        }
    }
    sums
}

/// Sets those of the first cells, as many as fill whole registers, and gives how many; none on processors without AVX2.
/// Compilers don't find the instruction that multiplies and adds up pairs.
#[cfg(target_arch = "x86_64")]
fn side_by_side(rows: &Rows<'_>, cells: &mut [&mut [i32]; 3]) -> usize {
    pulp::x86::V3::try_new().map_or(0, |simd| simd.vectorize(SideBySide { simd, rows, cells }))
}

#[cfg(not(target_arch = "x86_64"))]
fn side_by_side(_: &Rows<'_>, _: &mut [&mut [i32]; 3]) -> usize {
    0
}

#[cfg(target_arch = "x86_64")]
struct SideBySide<'a, 'px, 'cells> {
    simd: pulp::x86::V3,
    rows: &'a Rows<'px>,
    cells: &'a mut [&'cells mut [i32]; 3],
}

#[cfg(target_arch = "x86_64")]
impl pulp::NullaryFnOnce for SideBySide<'_, '_, '_> {
    type Output = usize;

    #[inline(always)]
    fn call(self) -> usize {
        /// Columns in a register, of 16 bits each, and the cells that they are of.
        const COLUMNS: usize = 16;
        const CELLS: usize = COLUMNS / CELL;
        let Self { simd, rows, cells: [xx, yy, xy] } = self;
        let columns = |row: &[u8], x: usize| {
            let px = row[x..].first_chunk::<COLUMNS>().map_or([0; COLUMNS], |px| *px);
            simd.convert_u8x16_to_i16x16(pulp::cast(px))
        };
        let blocks = xx.as_chunks_mut().0.iter_mut().zip(yy.as_chunks_mut().0).zip(xy.as_chunks_mut().0);
        let mut done = 0;
        for ((xx, yy), xy) in blocks {
            let x = done * CELL;
            // Each the sums over two columns.
            let mut sums = [simd.splat_i32x8(0); 3];
            let (mut a, mut b) = (columns(rows[0], x), columns(rows[0], x + 1));
            for row in &rows[1..] {
                let (c, d) = (columns(row, x), columns(row, x + 1));
                let (falling, rising) = (simd.wrapping_sub_i16x16(d, a), simd.wrapping_sub_i16x16(b, c));
                let gx = simd.wrapping_add_i16x16(falling, rising);
                let gy = simd.wrapping_sub_i16x16(falling, rising);
                for (sum, [one, other]) in sums.iter_mut().zip([[gx, gx], [gy, gy], [gx, gy]]) {
                    let products = simd.multiply_wrapping_add_adjacent_i16x16(one, other);
                    *sum = simd.wrapping_add_i32x8(*sum, products);
                }
                (a, b) = (c, d);
            }
            let [of_xx, of_yy, of_xy] = sums.map(|pairs| {
                let pairs: [i32; 2 * CELLS] = pulp::cast(pairs);
                std::array::from_fn::<i32, CELLS, _>(|i| pairs[2 * i] + pairs[2 * i + 1])
            });
            (*xx, *yy, *xy) = (of_xx, of_yy, of_xy);
            done += CELLS;
        }
        done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All px that may be, among them what makes the largest gradients, in rows of any length.
    #[test]
    fn products_side_by_side_are_those_of_each_cell() {
        let mut state = 1u64;
        let mut grey = || {
            // Knuth's 64-bit linear congruence.
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            match state >> 62 {
                0 => 0,
                1 => 255,
                _ => (state >> 40) as u8,
            }
        };
        for width in 1..40 {
            let px = [0; CELL + 1].map(|_| (0..width * CELL + 1).map(|_| grey()).collect::<Vec<u8>>());
            let rows = px.each_ref().map(Vec::as_slice);
            let mut cells = [0; 3].map(|_| vec![-1; width]);
            set_products(&rows, cells.each_mut().map(Vec::as_mut_slice));
            for i in 0..width {
                assert_eq!(cells.each_ref().map(|cells| cells[i]), products(&rows, i * CELL), "cell {i} of {width}");
            }
        }
    }
}
