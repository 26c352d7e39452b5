//! How light paper is and how dark ink at a symbol's end, where glare adds nothing to them.

use super::zone::BURNT;
use crate::reader::fit::Fit;
use crate::reader::model::{Bars, PER_MODULE};
use crate::reader::place::Place;
use crate::reader::sample::between;
use crate::reader::surface::Surface;
use crate::reader::tone::without_glare;

/// Grey values of paper, and how much darker ink is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Light {
    pub(super) paper: f32,
    pub(super) contrast: f32,
}

impl Light {
    /// What the mean of the symbol's lines says.
    fn of_fit(fit: &Fit) -> Self {
        let [paper, contrast] = fit.end_levels();
        Self { paper, contrast }
    }

    /// What the symbol's last bars say, the dark ones of `modules`, on those of its lines (fractions of its height) that show them
    /// clearly. Glare raises the mean of all lines; of the clear ones the darkest third is taken for free of it.
    pub(super) fn at_end(surface: &Surface, place: &Place, fit: &Fit, modules: &[bool], lines: &[f32]) -> Self {
        /// Modules that are compared: three digits, the guard, and of the quiet zone what is never printed on.
        const LAST: f32 = 24.0;
        const BEHIND: f32 = 4.0;
        /// Share of the lines that must show them.
        const CLEAR: f32 = 0.2;
        /// Which of their papers counts, from the darkest up.
        const DARK: f32 = 0.3;
        let samples = ((LAST + BEHIND) * PER_MODULE as f32) as usize;
        let first = place.modules - LAST;
        let model = Bars::new(modules, 0.0).wave(samples, first, fit.sigma, fit.gain);
        let ends = [0.0, place.modules].map(|m| fit.warp.column_at(m));
        // In a line all modules are equally wide, and begin one earlier, so that none lies before.
        let per_column = place.modules * PER_MODULE as f32 / (ends[1] - ends[0]);
        let at = |column: f32| (column - ends[0]) * per_column - (first - 1.0) * PER_MODULE as f32;
        let columns: Vec<f32> = fit.warp.columns(first, samples).into_iter().map(at).collect();
        let mut clear: Vec<Self> = lines
            .iter()
            .filter_map(|t| {
                let line = place.line(*t);
                let greys = line.profile(surface, place.modules, first - 1.0, PER_MODULE, samples + 2 * PER_MODULE);
                Self::of_line(&between(&greys, columns.clone()), &model)
            })
            .collect();
        if (clear.len() as f32) < CLEAR * lines.len() as f32 || clear.is_empty() {
            return Self::of_fit(fit);
        }
        clear.sort_by(|a, b| a.contrast.total_cmp(&b.contrast));
        let contrast = clear[clear.len() / 2].contrast;
        clear.sort_by(|a, b| a.paper.total_cmp(&b.paper));
        Self { paper: clear[(DARK * clear.len() as f32) as usize].paper, contrast }
    }

    /// The levels by least squares, if the line shows the bars.
    fn of_line(greys: &[f32], model: &[f32]) -> Option<Self> {
        /// Share of the samples that may be burnt out, and of the variance that may stay unexplained.
        const BURNT_OUT: f32 = 0.1;
        const UNEXPLAINED: f32 = 0.25;
        let seen = || greys.iter().zip(model).filter(|(grey, _)| **grey < BURNT);
        let n = seen().count() as f32;
        if n < (1.0 - BURNT_OUT) * greys.len() as f32 {
            return None;
        }
        let (grey, dark) = seen().fold((0.0, 0.0), |(a, b), (g, d)| (a + g / n, b + d / n));
        let [gg, gd, dd] = seen().fold([0.0f32; 3], |[gg, gd, dd], (g, d)| {
            let (g, d) = (g - grey, d - dark);
            [gg + g * g, gd + g * d, dd + d * d]
        });
        let contrast = -gd / dd;
        let shows = contrast > 1.0 && gg - gd * gd / dd < UNEXPLAINED * gg;
        shows.then_some(Self { paper: grey + contrast * dark, contrast })
    }

    /// How dark a place would be without the light that makes paper there as light as `lit`, which is below 0: all as darkness.
    pub(super) fn without_glare(&self, darkness: f32, lit: f32) -> f32 {
        let grey = |darkness: f32| self.paper - darkness * self.contrast;
        self.darkness(without_glare(grey(darkness), grey(lit), self.paper))
    }

    /// How dark a grey value is: 0 paper, 1 ink.
    pub(super) fn darkness(&self, grey: f32) -> f32 {
        (self.paper - grey) / self.contrast
    }
}
