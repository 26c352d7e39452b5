//! Arithmetic on many numbers side by side, with the widest registers that the processor has.
//!
//! What is inlined into [`widest`] is compiled for several kinds of processor, and the best that this one can do is called.
//! The order of sums is written out, so all give the same to the last bit.

use std::sync::LazyLock;

use pulp::Arch;

/// Numbers side by side.
pub(super) const LANES: usize = 8;
pub(super) type Lanes = [f32; LANES];

/// `work` as this processor does it best, as far as it is inlined.
#[inline(always)]
pub(super) fn widest<R>(work: impl FnOnce() -> R) -> R {
    ARCH.dispatch(work)
}

static ARCH: LazyLock<Arch> = LazyLock::new(Arch::new);

/// The sum of all.
#[inline(always)]
pub(super) fn sum(a: Lanes) -> f32 {
    let half: [f32; 4] = std::array::from_fn(|i| a[i] + a[i + 4]);
    (half[0] + half[2]) + (half[1] + half[3])
}

/// The scalar product.
#[inline(always)]
pub(super) fn dot(a: &[Lanes], b: &[Lanes]) -> f32 {
    let mut sums = [0.0; LANES];
    for (a, b) in a.iter().zip(b) {
        for i in 0..LANES {
            sums[i] += a[i] * b[i];
        }
    }
    sum(sums)
}

/// The standard normal distribution and its density at `z`.
///
/// Source: Abramowitz & Stegun, 'Handbook of Mathematical Functions', 26.2.17, below 1e-7; the exponential by its series about
/// the nearest power of two.
#[inline(always)]
pub(super) fn normal(z: Lanes) -> [Lanes; 2] {
    const P: f32 = 0.231_641_9;
    const B: [f32; 5] = [0.319_381_53, -0.356_563_78, 1.781_477_9, -1.821_255_9, 1.330_274_4];
    const OVER_ROOT_OF_TAU: f32 = 0.398_942_3;
    let mut below = [0.0; LANES];
    let mut density = [0.0; LANES];
    for i in 0..LANES {
        let high = OVER_ROOT_OF_TAU * exp(-0.5 * z[i] * z[i]);
        let t = 1.0 / (1.0 + P * z[i].abs());
        let tail = high * t * (B[0] + t * (B[1] + t * (B[2] + t * (B[3] + t * B[4]))));
        below[i] = if z[i] < 0.0 { tail } else { 1.0 - tail };
        density[i] = high;
    }
    [below, density]
}

/// e to the power of `x`, for `x` from -80 to 0, to a hundred thousandth: 2 to the nearest whole power, and the series of the
/// rest.
#[inline(always)]
fn exp(x: f32) -> f32 {
    /// Added to a number, it leaves the nearest whole one in the last bits.
    const ROUND: f32 = 12_582_912.0;
    const EXPONENT: u32 = 23;
    const BIAS: u32 = 127;
    let whole = x.max(-80.0) * std::f32::consts::LOG2_E + ROUND;
    let rest = x.max(-80.0) - (whole - ROUND) * std::f32::consts::LN_2;
    let power = f32::from_bits((whole.to_bits() << EXPONENT).wrapping_add(BIAS << EXPONENT));
    let series = 1.0 + rest * (1.0 + rest * (0.5 + rest * (1.0 / 6.0 + rest * (1.0 / 24.0 + rest / 120.0))));
    power * series
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference: Abramowitz & Stegun, 'Handbook of Mathematical Functions', table 26.1.
    #[test]
    fn the_normal_distribution_is_the_handbooks() {
        for (z, below, density) in
            [(0.0f32, 0.5, 0.398_942_3), (1.0, 0.841_344_8, 0.241_970_72), (2.5, 0.993_790_3, 0.017_528_3)]
        {
            for (z, below) in [(z, below), (-z, 1.0 - below)] {
                let [p, d] = normal([z; LANES]);
                assert!((p[3] - below).abs() < 2e-6 && (d[7] - density).abs() < 2e-6, "{z}: {p:?} {d:?}");
            }
        }
    }

    #[test]
    fn the_exponential_is_the_standard_librarys() {
        for i in 0..=8000 {
            let x = -0.01 * i as f32;
            assert!((exp(x) - x.exp()).abs() <= 1e-5 * x.exp(), "{x}");
        }
    }

    /// The library knows AVX2 only if it is built so.
    #[cfg(target_arch = "x86_64")]
    #[test]
    fn avx2_is_used_where_it_is() {
        use std::arch::is_x86_feature_detected as has;
        let all = has!("avx2") && has!("fma") && has!("bmi1") && has!("bmi2") && has!("lzcnt") && has!("popcnt");
        assert_eq!(!matches!(*ARCH, Arch::Scalar), all);
    }

    #[test]
    fn a_wide_sum_is_the_sum() {
        let numbers: Lanes = std::array::from_fn(|i| (1 << i) as f32);
        assert_eq!(sum(numbers), 255.0);
        assert_eq!(widest(|| dot(&[numbers; 3], &[[2.0; LANES]; 3])), 6.0 * 255.0);
    }
}
