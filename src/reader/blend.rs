//! One profile of several strips: their mean, and others in which glare and damage on some of them count less.

use super::sample::{extreme, windowed};
use super::strips::{Mean, Strip};
use super::tone::{BURNT, without_glare};

/// One in so many strips is free of glare at each place.
const FREE: usize = 5;

/// The mean of some strips' profiles.
pub(super) fn mean<'a>(strips: impl IntoIterator<Item = &'a Strip>) -> Vec<f32> {
    let mut strips = strips.into_iter().peekable();
    let mut mean = Mean::new(strips.peek().map_or(0, |s| s.profile.len()));
    strips.for_each(|s| mean.add(&s.profile, 1.0));
    mean.profile()
}

/// What the strips show that are darkest at each place. Glare only adds light: where a fifth of them is free of it, these are.
pub(super) fn darkest(strips: &[&Strip]) -> Vec<f32> {
    let rows: Vec<&[f32]> = strips.iter().map(|s| &s.profile[..]).collect();
    dark_of(&rows)
}

/// The value at each place that one in [`FREE`] of the rows does not exceed.
fn dark_of(rows: &[&[f32]]) -> Vec<f32> {
    let columns = rows.first().map_or(0, |row| row.len());
    let mut values = Vec::with_capacity(rows.len());
    (0..columns)
        .map(|x| {
            values.clear();
            values.extend(rows.iter().map(|row| row[x]));
            let (_, dark, _) = values.select_nth_unstable_by(rows.len() / FREE, f32::total_cmp);
            *dark
        })
        .collect()
}

/// At each place the mean of the strips, freed of the light that glare adds to them; the more that is, the less a strip counts.
/// Where all are burnt out, what is darkest. Bars are no wider than `bar` columns.
pub(super) fn freed_of_glare(strips: &[&Strip], bar: usize) -> Vec<f32> {
    /// Columns to each side of burnt out ones that are neither paper nor ink.
    const BESIDE: usize = 1;
    /// Share of the contrast which, as added light, halves how much a strip counts; and how much must count at least.
    const HALF: f32 = 0.05;
    const LEAST: f32 = 0.5;
    let mut profile = darkest(strips);
    let papers: Vec<Vec<f32>> = strips.iter().map(|s| paper(&s.profile, bar)).collect();
    let bare = dark_of(&papers.iter().map(|paper| &paper[..]).collect::<Vec<_>>());
    let contrast = bare.iter().zip(&profile).map(|(paper, dark)| paper - dark).fold(1.0, f32::max);
    let (mut sums, mut weights) = (vec![0.0f32; profile.len()], vec![0.0f32; profile.len()]);
    for (strip, paper) in strips.iter().zip(&papers) {
        let lightest = extreme(&strip.profile, BESIDE, f32::max);
        for x in (0..profile.len()).filter(|x| lightest[*x] < BURNT) {
            let light = (paper[x] - bare[x]).max(0.0);
            let share = light / (HALF * contrast);
            let weight = 1.0 / (1.0 + share * share);
            sums[x] += weight * without_glare(strip.profile[x], paper[x], bare[x]);
            weights[x] += weight;
        }
    }
    for ((value, sum), weight) in profile.iter_mut().zip(sums).zip(weights) {
        if weight >= LEAST {
            *value = sum / weight;
        }
    }
    profile
}

/// The grey value of paper along a profile whose bars are no wider than `bar` columns.
fn paper(profile: &[f32], bar: usize) -> Vec<f32> {
    windowed(&extreme(&extreme(profile, bar, f32::max), bar, f32::min), bar / 2)
}

/// One profile of all strips in which each place counts by the contrast that it has there: under glare or a scratch a
/// strip says nothing, beside them it does.
///
/// Each strip is taken to be the common profile, its light changed slowly along it; gain and offset come from a regression
/// on the mean within `reach` columns (the weights are those of maximum-ratio combining).
pub(super) fn combined(strips: &[&Strip], reach: usize) -> Vec<f32> {
    const ROUNDS: usize = 2;
    let mut common = mean(strips.iter().copied());
    for _ in 0..ROUNDS {
        let columns = common.len();
        let (mut weighted, mut weights, mut strongest) =
            (vec![0.0f32; columns], vec![1e-3f32; columns], vec![1e-3f32; columns]);
        let (c, cc) = (windowed(&common, reach), windowed(&squares(&common, &common), reach));
        for strip in strips {
            let p = windowed(&strip.profile, reach);
            let pc = windowed(&squares(&strip.profile, &common), reach);
            for x in 0..columns {
                let variance = (cc[x] - c[x] * c[x]).max(1.0);
                let gain = ((pc[x] - p[x] * c[x]) / variance).max(0.0);
                let offset = p[x] - gain * c[x];
                weighted[x] += gain * (strip.profile[x] - offset);
                weights[x] += gain * gain;
                strongest[x] = strongest[x].max(gain);
            }
        }
        // The contrast that the clearest strips have, not the mean that glare has dimmed.
        let strongest = windowed(&strongest, reach);
        let level = windowed(&common, reach);
        for x in 0..columns {
            let value = weighted[x] / weights[x];
            common[x] = level[x] + strongest[x] * (value - level[x]);
        }
    }
    common
}

fn squares(a: &[f32], b: &[f32]) -> Vec<f32> {
    a.iter().zip(b).map(|(x, y)| x * y).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::model::{Bars, PER_MODULE, correlation};
    use crate::reader::tone::{grey, light};

    const MODULES: usize = 60;

    fn bars() -> Vec<f32> {
        let modules: Vec<bool> = (0..40u32).map(|i| 0x00B5_9A6D_u32.rotate_left(i) & 1 == 1).collect();
        let wave = Bars::new(&modules, 10.0).wave(MODULES * PER_MODULE, 0.0, 0.4, 0.0);
        wave.iter().map(|dark| 190.0 - 140.0 * dark).collect()
    }

    /// A broad streak crosses all strips; its light is added to paper's and ink's, up to where all is burnt out.
    #[test]
    fn what_a_streak_of_glare_hides_on_some_strips_others_show() {
        let profile = |strip: usize| -> Vec<f32> {
            let added = |x: usize| {
                let z = (x as f32 - 60.0 - 9.0 * strip as f32) / 25.0;
                0.6 * (-0.5 * z * z).exp()
            };
            bars().iter().enumerate().map(|(x, value)| grey(light(*value) + added(x))).collect()
        };
        let strips: Vec<Strip> = (0..16).map(|i| Strip::of_profile(profile(i))).collect();
        let strips: Vec<&Strip> = strips.iter().collect();
        let like = |profile: &[f32]| correlation(profile, &bars());
        let (of_mean, of_darkest) = (like(&mean(strips.iter().copied())), like(&darkest(&strips)));
        let freed = like(&freed_of_glare(&strips, 4 * PER_MODULE));
        assert!(freed > 0.99 && freed > of_darkest && of_mean < 0.95, "{freed} {of_darkest} {of_mean}");
    }
}
