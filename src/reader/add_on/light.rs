//! How light paper is and how dark ink at a symbol's end, where glare adds nothing to them.

use crate::reader::fit::Fit;
use crate::reader::model::{Bars, PER_MODULE};
use crate::reader::place::Place;
use crate::reader::sample::between;
use crate::reader::surface::Surface;
use crate::reader::tone::{BURNT, without_glare};

/// Which of some lines' papers counts, from the darkest up.
const DARK: f32 = 0.3;

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
    /// clearly. Glare raises the mean of all lines; of the clear ones the darkest third is taken for free of it. Where glare hides the
    /// last bars, those before them tell how dark ink is, and the quiet zone behind them how light paper.
    pub(super) fn at_end(surface: &Surface, place: &Place, fit: &Fit, modules: &[bool], lines: &[f32]) -> Self {
        /// Modules that are compared: three digits, the guard, and of the quiet zone what is never printed on.
        const WIDTH: f32 = 28.0;
        const BEHIND: f32 = 4.0;
        /// Share of the lines that must show them.
        const CLEAR: f32 = 0.2;
        /// Share of the lines of which glare must hide them for others to be asked: tape and torn paper hide the quiet zone, too.
        const BURNT_OUT: f32 = 0.5;
        /// Share of the contrast by which light may fall along the symbol.
        const DARKER: f32 = 0.2;
        let seen = Seen { surface, place, fit, bars: Bars::new(modules, 0.0), lines };
        let last = place.modules + BEHIND - WIDTH;
        let enough = |clear: &Vec<Self>| clear.len() as f32 >= (CLEAR * lines.len() as f32).max(1.0);
        let at_last = seen.clear(last, WIDTH);
        if enough(&at_last) {
            return Self::of_clear(at_last);
        }
        if seen.burnt_out(last, WIDTH) < BURNT_OUT {
            return Self::of_fit(fit);
        }
        let before = std::iter::successors(Some(last - WIDTH), |first| Some(first - WIDTH));
        let mut before = before.take_while(|first| *first > -BEHIND).map(|first| seen.clear(first, WIDTH));
        let Some(there) = before.find(enough).map(Self::of_clear) else { return Self::of_fit(fit) };
        let quiet = seen.quiet_zone().filter(|paper| there.darkness(*paper) < DARKER);
        Self { paper: quiet.unwrap_or(there.paper), ..there }
    }

    /// The middle contrast of some lines, and the paper of which they are most likely free of glare.
    fn of_clear(mut clear: Vec<Self>) -> Self {
        clear.sort_by(|a, b| a.contrast.total_cmp(&b.contrast));
        let contrast = clear[clear.len() / 2].contrast;
        clear.sort_by(|a, b| a.paper.total_cmp(&b.paper));
        Self { paper: clear[(DARK * clear.len() as f32) as usize].paper, contrast }
    }

    /// The levels by least squares, if the line shows the bars.
    fn of_line(greys: &[f32], model: &[f32]) -> Option<Self> {
        /// Share of the variance that may stay unexplained.
        const UNEXPLAINED: f32 = 0.25;
        if is_burnt_out(greys) {
            return None;
        }
        let seen = || greys.iter().zip(model).filter(|(grey, _)| **grey < BURNT);
        let n = seen().count() as f32;
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

/// Whether too much of a line is burnt out for it to say anything.
fn is_burnt_out(greys: &[f32]) -> bool {
    /// Share of the samples that may be.
    const MOST: f32 = 0.1;
    greys.iter().filter(|grey| **grey >= BURNT).count() as f32 > MOST * greys.len() as f32
}

/// A symbol as its lines show it.
struct Seen<'a> {
    surface: &'a Surface<'a>,
    place: &'a Place,
    fit: &'a Fit,
    bars: Bars,
    /// Fractions of its height.
    lines: &'a [f32],
}

impl Seen<'_> {
    /// What those lines say that show so many modules clearly, from `first` on.
    fn clear(&self, first: f32, width: f32) -> Vec<Light> {
        let Self { surface, place, fit, .. } = self;
        let samples = (width * PER_MODULE as f32) as usize;
        let model = self.bars.wave(samples, first, fit.sigma, fit.gain);
        let ends = [0.0, place.modules].map(|m| fit.warp.column_at(m));
        // In a line all modules are equally wide, and begin one earlier, so that none lies before.
        let per_column = place.modules * PER_MODULE as f32 / (ends[1] - ends[0]);
        let at = |column: f32| (column - ends[0]) * per_column - (first - 1.0) * PER_MODULE as f32;
        let columns: Vec<f32> = fit.warp.columns(first, samples).into_iter().map(at).collect();
        let of_line = |t: &f32| {
            let line = place.line(*t);
            let greys = line.profile(surface, place.modules, first - 1.0, PER_MODULE, samples + 2 * PER_MODULE);
            Light::of_line(&between(&greys, columns.clone()), &model)
        };
        self.lines.iter().filter_map(of_line).collect()
    }

    /// The share of the lines that glare hides from `first` on, so many modules.
    fn burnt_out(&self, first: f32, width: f32) -> f32 {
        let Self { surface, place, lines, .. } = self;
        let samples = (width * PER_MODULE as f32) as usize;
        let burnt =
            |t: &&f32| is_burnt_out(&place.line(**t).profile(surface, place.modules, first, PER_MODULE, samples));
        lines.iter().filter(burnt).count() as f32 / lines.len().max(1) as f32
    }

    /// How light paper is behind the symbol, where its lines are not burnt out.
    fn quiet_zone(&self) -> Option<f32> {
        /// Modules behind the symbol, the nearest left out for blur, in which nothing may be printed: half of what GS1 asks for.
        const FROM: f32 = 2.0;
        const WIDTH: usize = 4;
        /// Share of the lines that must not be burnt out.
        const FREE: f32 = 0.1;
        let lightest = |t: &f32| {
            let Self { surface, place, .. } = self;
            let greys =
                place.line(*t).profile(surface, place.modules, place.modules + FROM, PER_MODULE, WIDTH * PER_MODULE);
            greys.into_iter().fold(0.0, f32::max)
        };
        let mut papers: Vec<f32> = self.lines.iter().map(lightest).filter(|grey| *grey < BURNT).collect();
        papers.sort_by(f32::total_cmp);
        let enough = papers.len() as f32 >= FREE * self.lines.len() as f32;
        papers.get((DARK * papers.len() as f32) as usize).copied().filter(|_| enough)
    }
}
