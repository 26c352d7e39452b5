//! Pictures made smaller by a whole factor.

use super::Luma;

/// Means that are made at a time, and the largest factor with which that is done.
const SIDE: usize = 16;
const MOST: usize = 4;

impl Luma {
    /// The picture made smaller by a whole factor: each pixel is the mean of `factor` × `factor` px. What does not fill
    /// a whole pixel at the right and lower edge is left out.
    #[must_use]
    pub fn reduced(&self, factor: usize) -> Self {
        // With the factor known, the compiler knows each row's stride and divisor: several times quicker.
        match factor {
            0 | 1 => self.clone(),
            2 => self.means_side_by_side::<2, { 2 * SIDE }>(),
            3 => self.means_side_by_side::<3, { 3 * SIDE }>(),
            4 => self.means_side_by_side::<4, { 4 * SIDE }>(),
            5 => self.means(5),
            6 => self.means(6),
            _ => self.means(factor),
        }
    }

    /// The means of `FACTOR` × `FACTOR` px, [`SIDE`] at a time, of `BLOCK` columns: as wide as registers are.
    fn means_side_by_side<const FACTOR: usize, const BLOCK: usize>(&self) -> Self {
        const { assert!(BLOCK == FACTOR * SIDE && FACTOR <= MOST) };
        let (width, height) = (self.width / FACTOR, self.height / FACTOR);
        let mut pixels = vec![0; width * height];
        let mut columns = vec![0u16; width.div_ceil(SIDE) * BLOCK];
        let rows = self.pixels.chunks_exact(self.width.max(1) * FACTOR);
        for (rows, out) in rows.zip(pixels.chunks_exact_mut(width.max(1))) {
            let rows: [&[u8]; FACTOR] = std::array::from_fn(|y| &rows[y * self.width..(y + 1) * self.width]);
            let done = in_registers::<FACTOR>(&rows, out);
            let (rows, out) = (rows.map(|row| &row[done * FACTOR..]), &mut out[done..]);
            columns.iter_mut().zip(rows[0]).for_each(|(c, &p)| *c = u16::from(p));
            for row in &rows[1..] {
                columns.iter_mut().zip(*row).for_each(|(c, &p)| *c += u16::from(p));
            }
            let (blocks, _) = columns.as_chunks::<BLOCK>();
            let (out, rest) = out.as_chunks_mut::<SIDE>();
            for (out, block) in out.iter_mut().zip(blocks) {
                *out = means_of::<FACTOR, BLOCK>(block);
            }
            if let Some(last) = blocks.get(out.len()) {
                rest.copy_from_slice(&means_of::<FACTOR, BLOCK>(last)[..rest.len()]);
            }
        }
        Self { width, height, pixels }
    }

    #[inline(always)]
    fn means(&self, factor: usize) -> Self {
        /// Rows whose sum still fits 16 bits.
        const ROWS: usize = (u16::MAX / u8::MAX as u16) as usize;
        let (width, height) = (self.width / factor, self.height / factor);
        let area = (factor * factor) as u32;
        let mut pixels = Vec::with_capacity(width * height);
        let mut sums = vec![0u32; width];
        let mut columns = vec![0u16; width * factor];
        for rows in self.pixels.chunks_exact(self.width.max(1) * factor).take(height) {
            sums.fill(0);
            for some in rows.chunks(self.width * ROWS) {
                columns.fill(0);
                for row in some.chunks_exact(self.width) {
                    columns.iter_mut().zip(row).for_each(|(c, &p)| *c += u16::from(p));
                }
                for (sum, block) in sums.iter_mut().zip(columns.chunks_exact(factor)) {
                    *sum += block.iter().map(|&c| u32::from(c)).sum::<u32>();
                }
            }
            pixels.extend(sums.iter().map(|&sum| ((sum + area / 2) / area) as u8));
        }
        Self { width, height, pixels }
    }
}

/// The means of each `FACTOR` columns, from the sums of as many px in each.
#[inline(always)]
fn means_of<const FACTOR: usize, const BLOCK: usize>(columns: &[u16; BLOCK]) -> [u8; SIDE] {
    std::array::from_fn(|i| rounded_mean::<FACTOR>((0..FACTOR).map(|k| columns[FACTOR * i + k]).sum()))
}

/// The mean of `FACTOR` × `FACTOR` px of this sum, without a division: of so few no sum is large enough for the rounding of what it is
/// multiplied with to tell. Both factors have 16 bits, of whose product processors give the upper half at once.
#[inline(always)]
fn rounded_mean<const FACTOR: usize>(sum: u16) -> u8 {
    ((u32::from(sum + half_area(FACTOR)) * u32::from(share_of_area(FACTOR))) >> 16) as u8
}

/// What a sum of `factor` × `factor` px is rounded with.
const fn half_area(factor: usize) -> u16 {
    (factor * factor / 2) as u16
}

/// One px of so many, in parts of 2⁻¹⁶, rounded up.
const fn share_of_area(factor: usize) -> u16 {
    (1u32 << 16).div_ceil((factor * factor) as u32) as u16
}

/// Sets those of the first means of these rows, [`SIDE`] at a time, and gives how many; none on processors without AVX2.
#[cfg(target_arch = "x86_64")]
fn in_registers<const FACTOR: usize>(rows: &[&[u8]; FACTOR], out: &mut [u8]) -> usize {
    pulp::x86::V3::try_new().map_or(0, |simd| simd.vectorize(InRegisters { simd, rows, out }))
}

#[cfg(not(target_arch = "x86_64"))]
fn in_registers<const FACTOR: usize>(_: &[&[u8]; FACTOR], _: &mut [u8]) -> usize {
    0
}

#[cfg(target_arch = "x86_64")]
struct InRegisters<'a, 'px, const FACTOR: usize> {
    simd: pulp::x86::V3,
    rows: &'a [&'px [u8]; FACTOR],
    out: &'a mut [u8],
}

#[cfg(target_arch = "x86_64")]
impl<const FACTOR: usize> pulp::NullaryFnOnce for InRegisters<'_, '_, FACTOR> {
    type Output = usize;

    /// Sums of neighbours from every column on, and of their means every `FACTOR`th: compilers pick them one by one.
    #[inline(always)]
    fn call(self) -> usize {
        const { assert!(FACTOR >= 2 && FACTOR <= MOST) };
        let Self { simd, rows, out } = self;
        let (half, share) = (simd.splat_u16x16(half_area(FACTOR)), simd.splat_u16x16(share_of_area(FACTOR)));
        let picks = const { picks::<FACTOR>() };
        let columns = |row: &[u8], x: usize| {
            let px = row[x..].first_chunk::<SIDE>().map_or([0; SIDE], |px| *px);
            simd.convert_u8x16_to_u16x16(pulp::cast(px))
        };
        let (out, _) = out.as_chunks_mut::<SIDE>();
        for (block, out) in out.iter_mut().enumerate() {
            // One more register, of which nothing is picked.
            let mut sums = [half; MOST + 1];
            for (part, sum) in sums[..FACTOR].iter_mut().enumerate() {
                let x = (block * FACTOR + part) * SIDE;
                *sum = columns(rows[0], x);
                for row in &rows[1..] {
                    *sum = simd.wrapping_add_u16x16(*sum, columns(row, x));
                }
            }
            let mut means = pulp::cast([0u8; SIDE]);
            for (part, picks) in picks.iter().enumerate() {
                let (this, next) = (pulp::cast(sums[part]), pulp::cast(sums[part + 1]));
                let between = simd.avx2._mm256_permute2x128_si256::<0x21>(this, next);
                let mut sum = simd.wrapping_add_u16x16(half, sums[part]);
                let right = simd.avx2._mm256_alignr_epi8::<2>(between, this);
                sum = simd.wrapping_add_u16x16(sum, pulp::cast(right));
                if FACTOR > 2 {
                    let right = simd.avx2._mm256_alignr_epi8::<4>(between, this);
                    sum = simd.wrapping_add_u16x16(sum, pulp::cast(right));
                }
                if FACTOR > 3 {
                    let right = simd.avx2._mm256_alignr_epi8::<6>(between, this);
                    sum = simd.wrapping_add_u16x16(sum, pulp::cast(right));
                }
                let upper = simd.avx2._mm256_mulhi_epu16(pulp::cast(sum), pulp::cast(share));
                let [low, high]: [[u16; SIDE / 2]; 2] = pulp::cast(upper);
                let bytes = simd.sse2._mm_packus_epi16(pulp::cast(low), pulp::cast(high));
                let picked = simd.ssse3._mm_shuffle_epi8(bytes, pulp::cast(*picks));
                means = simd.sse2._mm_or_si128(means, picked);
            }
            *out = pulp::cast(means);
        }
        out.len() * SIDE
    }
}

/// From which byte of each of `FACTOR` registers a mean is picked, if from one of it: every `FACTOR`th byte of all.
#[cfg(target_arch = "x86_64")]
const fn picks<const FACTOR: usize>() -> [[u8; SIDE]; FACTOR] {
    /// Picks nothing.
    const NONE: u8 = 0x80;
    let mut picks = [[NONE; SIDE]; FACTOR];
    let mut i = 0;
    while i < SIDE {
        picks[FACTOR * i / SIDE][i] = (FACTOR * i % SIDE) as u8;
        i += 1;
    }
    picks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_is_rounded_as_a_division_would_be() {
        fn agrees<const FACTOR: usize>() {
            let area = FACTOR * FACTOR;
            for sum in 0..=255 * area {
                assert_eq!(usize::from(rounded_mean::<FACTOR>(sum as u16)), (sum + area / 2) / area, "{sum} of {area}");
            }
        }
        agrees::<2>();
        agrees::<3>();
        agrees::<4>();
    }

    #[test]
    fn reducing_takes_means_and_drops_the_rest() {
        let luma = Luma::from_fn(5, 2, |x, y| (x * 10 + y * 2) as u8);
        assert_eq!(luma.reduced(2), Luma::new(2, 1, vec![6, 26]).expect("size fits"));
    }

    #[test]
    fn reducing_by_any_factor_is_the_mean_of_each_block() {
        let luma = Luma::from_fn(701, 303, |x, y| if (x ^ y) % 7 == 0 { 255 } else { (x * 31 + y * 17) as u8 });
        for factor in [1, 2, 3, 4, 5, 6, 7, 12, 100, 300, 304] {
            let mean = |x: usize, y: usize| {
                let block = (0..factor * factor).map(|i| (x * factor + i % factor, y * factor + i / factor));
                let sum: usize = block.map(|(x, y)| usize::from(luma.row(y)[x])).sum();
                ((sum + factor * factor / 2) / (factor * factor)) as u8
            };
            let naive = Luma::from_fn(701 / factor, 303 / factor, mean);
            assert_eq!(luma.reduced(factor), naive, "by {factor}");
        }
        let white = Luma::from_fn(520, 520, |_, _| 255);
        assert_eq!(white.reduced(260).pixels(), [255; 4], "sums of more rows than 16 bits hold");
    }
}
