//! Light in pictures: what glare adds to paper and ink alike it adds to light, not to grey values.

/// Grey values from here on are burnt out.
pub(super) const BURNT: f32 = 250.0;

/// Light that a grey value (0 to 255) stands for, from 0 to 1, by sRGB's curve (IEC 61966-2-1), which cameras follow more or less.
pub(super) fn light(grey: f32) -> f32 {
    let value = grey.clamp(0.0, 255.0) / 255.0;
    if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// The grey value that stands for so much light.
pub(super) fn grey(light: f32) -> f32 {
    let light = light.clamp(0.0, 1.0);
    255.0 * if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

/// What `value` would be without the light that makes paper of the grey value `paper` as light as `lit`; as it is, if none does.
pub(super) fn without_glare(value: f32, lit: f32, paper: f32) -> f32 {
    if lit <= paper { value } else { grey(light(value) - (light(lit) - light(paper))) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grey_values_come_back() {
        for value in 0..=255 {
            assert!((grey(light(value as f32)) - value as f32).abs() < 0.01);
        }
    }

    /// 0.5 is a light of 0.2140 (from memory of the curve's tables).
    #[test]
    fn half_grey_is_a_fifth_of_the_light() {
        assert!((light(127.5) - 0.214).abs() < 1e-3);
    }

    #[test]
    fn added_light_is_taken_away_from_paper_and_ink() {
        for added in [0.05, 0.2, 0.4] {
            let [paper, ink] = [180.0, 60.0];
            let [lit_paper, lit_ink] = [paper, ink].map(|value| grey(light(value) + added));
            assert!((without_glare(lit_paper, lit_paper, paper) - paper).abs() < 0.1);
            assert!((without_glare(lit_ink, lit_paper, paper) - ink).abs() < 0.1, "{added}");
        }
        assert_eq!(without_glare(50.0, 150.0, 180.0), 50.0, "paper in a shadow");
    }
}
