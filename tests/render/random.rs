//! A small seeded source of numbers: the same seed gives the same picture on every machine and in every release.

/// Xoshiro256++ (Blackman and Vigna, public domain), filled from one number by SplitMix64.
#[derive(Debug, Clone)]
pub struct Random([u64; 4]);

impl Random {
    /// A source that `seed` alone determines.
    pub fn new(seed: u64) -> Self {
        let mut state = seed;
        Self(std::array::from_fn(|_| {
            state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
            mix(state)
        }))
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.0;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Evenly from `low` up to, but not including, `high`.
    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * ((self.bits() >> 40) as f32 / (1u64 << 24) as f32)
    }

    /// A whole number below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        ((u128::from(self.bits()) * count as u128) >> 64) as usize
    }

    /// `count` digit values, 0 to 9.
    pub fn digits<const N: usize>(&mut self) -> [u8; N] {
        std::array::from_fn(|_| self.below(10) as u8)
    }

    /// Bell-shaped, mean 0 and deviation 1: the sum of four even numbers, which is near enough for sensor noise and
    /// much cheaper than the exact curve. Never beyond 3.5.
    pub fn bell(&mut self) -> f32 {
        let bits = self.bits();
        let sum: u32 = (0..4).map(|i| (bits >> (16 * i)) as u32 & 0xffff).sum();
        // Four even numbers from 0 to 65535: mean 131070, deviation 65536 / sqrt(3).
        (sum as f32 - 131_070.0) * (1.732_050_8 / 65_536.0)
    }
}

/// SplitMix64's mixing step: one number to another that looks unrelated.
pub fn mix(value: u64) -> u64 {
    let value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    value ^ (value >> 31)
}

/// A number from 0 to 1 that belongs to a cell of a grid: the same cell, the same number.
pub fn cell(seed: u64, x: i32, y: i32) -> f32 {
    let key = seed ^ (u64::from(x as u32) << 32 | u64::from(y as u32));
    (mix(key.wrapping_add(0x9e37_79b9_7f4a_7c15)) >> 40) as f32 / (1u64 << 24) as f32
}
