//! One profile of the zone behind a symbol.

/// How dark the zone is, sample by sample, and how much each of them counts: where glare hides all lines nothing is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Profile<'a> {
    pub(super) dark: &'a [f32],
    /// From 0 to 1, as many; none if all count alike.
    pub(super) weights: Option<&'a [f32]>,
}

impl Profile<'_> {
    /// How much the sample at `x` counts; beyond its ends nothing does where not all count alike.
    pub(super) fn weight(&self, x: usize) -> f32 {
        self.weights.map_or(1.0, |weights| weights.get(x).copied().unwrap_or(0.0))
    }
}

impl<'a> From<&'a [f32]> for Profile<'a> {
    fn from(dark: &'a [f32]) -> Self {
        Self { dark, weights: None }
    }
}

impl<'a> From<&'a Vec<f32>> for Profile<'a> {
    fn from(dark: &'a Vec<f32>) -> Self {
        Self::from(&dark[..])
    }
}
