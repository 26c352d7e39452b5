//! What is missing of a run.

/// The numbers missing between the lowest and the highest of `owned`, as runs from one number to another.
#[must_use]
pub fn gaps(owned: &[u32]) -> Vec<(u32, u32)> {
    let mut owned = owned.to_vec();
    owned.sort_unstable();
    owned.windows(2).filter(|two| two[1] - two[0] > 1).map(|two| (two[0] + 1, two[1] - 1)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_lie_between_what_is_owned() {
        for (owned, missing) in [
            (&[][..], &[][..]),
            (&[7], &[]),
            (&[1, 2, 3], &[]),
            (&[3, 1, 1], &[(2, 2)]),
            (&[0, 5, 6, 9], &[(1, 4), (7, 8)]),
            (&[1, 1_000_000], &[(2, 999_999)]),
            (&[0, u32::MAX], &[(1, u32::MAX - 1)]),
        ] {
            assert_eq!(gaps(owned), missing, "{owned:?}");
        }
    }
}
