//! Plots: SVG inside the page. Each has a title for those who don't see it, and its numbers stand in a table beside it.

use maud::{Markup, html};

/// Width of a plot in its own units; it fits the page's width.
const WIDTH: f64 = 720.0;
/// Height of what stands between the axes.
const HEIGHT: f64 = 200.0;
/// Room for the numbers left of an upright axis.
const LEFT: f64 = 48.0;
/// Room for names under, and for a bar's number above.
const EDGE: f64 = 24.0;
/// Height of a lying bar and the gap behind it.
const ROW: f64 = 30.0;
/// Room for a lying bar's name, and for its number.
const NAME: f64 = 220.0;
const NUMBER: f64 = 110.0;

/// The style of plots: the second of two series is an outline, so that they are told apart without colours.
pub const PLOT_STYLE: &str = "
.plot { margin: 0 0 1rem; overflow-x: auto; } .plot figcaption { font-weight: 600; margin-bottom: .3rem; }
.plot svg { display: block; width: 100%; min-width: 32rem; height: auto; } .plot text { fill: var(--text); font: 13px system-ui, sans-serif; }
.plot .grid { stroke: var(--line); } .plot .first { fill: var(--one); stroke: var(--one); stroke-width: 1.5; }
.plot .second { fill: var(--two); fill-opacity: .2; stroke: var(--two); stroke-width: 1.5; }
.plot .key { display: inline-block; width: 1em; height: 1em; vertical-align: -.1em; margin: 0 .3em 0 1em; border: 2px solid; }
.plot .key.one { background: var(--one); border-color: var(--one); } .plot .key.two { border-color: var(--two); }
";

/// Numbers of two series side by side, under names; `id` tells the plot from others of the page.
pub(crate) fn pairs(id: &str, title: &str, series: [&str; 2], bars: &[(&str, [u64; 2])]) -> Markup {
    let most = bars.iter().flat_map(|(_, values)| values).copied().max().unwrap_or(0);
    let step = step(most);
    let top = most.div_ceil(step).max(1) * step;
    let slot = (WIDTH - LEFT) / bars.len().max(1) as f64;
    let width = slot * 0.38;
    let height = |value: u64| HEIGHT * value as f64 / top as f64;
    let lines: Vec<u64> = (0..=top / step).map(|n| n * step).collect();
    html! {
        figure.plot tabindex="0" {
            figcaption {
                (title)
                span.key.one aria-hidden="true" {} (series[0])
                span.key.two aria-hidden="true" {} (series[1])
            }
            svg role="img" aria-labelledby=(id) viewBox=(format!("0 0 {WIDTH} {}", HEIGHT + 2.0 * EDGE)) {
                title id=(id) { (title) ": " (series[0]) " and " (series[1]) "; the numbers are in the table below" }
                @for line in lines {
                    line.grid x1=(LEFT) x2=(WIDTH) y1=(px(EDGE + HEIGHT - height(line))) y2=(px(EDGE + HEIGHT - height(line))) {}
                    text x=(LEFT - 8.0) y=(px(EDGE + HEIGHT - height(line) + 4.0)) text-anchor="end" { (line) }
                }
                @for (n, (name, values)) in bars.iter().enumerate() {
                    @for (side, class) in ["first", "second"].into_iter().enumerate() {
                        rect class=(class) x=(px(LEFT + slot * (n as f64 + 0.1) + width * side as f64)) width=(px(width))
                            y=(px(EDGE + HEIGHT - height(values[side]))) height=(px(height(values[side]))) {}
                    }
                    text x=(px(LEFT + slot * (n as f64 + 0.5))) y=(px(HEIGHT + 1.75 * EDGE)) text-anchor="middle" { (name) }
                }
            }
        }
    }
}

/// Lying bars, each with its name and its value in words.
pub(crate) fn lying(id: &str, title: &str, bars: &[(String, i64, String)]) -> Markup {
    let most = bars.iter().map(|(_, value, _)| *value).max().unwrap_or(0).max(1);
    let width = |value: i64| (WIDTH - NAME - NUMBER) * value.max(0) as f64 / most as f64;
    html! {
        figure.plot tabindex="0" {
            figcaption { (title) }
            svg role="img" aria-labelledby=(id) viewBox=(format!("0 0 {WIDTH} {}", ROW * bars.len() as f64)) {
                title id=(id) { (title) "; the numbers are in the table below" }
                @for (n, (name, value, words)) in bars.iter().enumerate() {
                    text x=(NAME - 8.0) y=(px(ROW * (n as f64 + 0.62))) text-anchor="end" { (short(name)) }
                    rect.first x=(NAME) y=(px(ROW * (n as f64 + 0.15))) width=(px(width(*value))) height=(px(ROW * 0.7)) {}
                    text x=(px(NAME + width(*value) + 8.0)) y=(px(ROW * (n as f64 + 0.62))) { (words) }
                }
            }
        }
    }
}

/// A tenth of a unit is far below what is seen.
fn px(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// The distance of an axis's lines: 1, 2 or 5 times a power of ten, so that there are at most five.
fn step(most: u64) -> u64 {
    let mut unit = 1_u64;
    loop {
        for times in [1, 2, 5] {
            if most <= unit.saturating_mul(times * 5) {
                return unit * times;
            }
        }
        unit = unit.saturating_mul(10);
    }
}

/// A name that fits beside its bar; the table has the whole.
fn short(name: &str) -> String {
    const LONGEST: usize = 26;
    if name.chars().count() <= LONGEST {
        name.to_owned()
    } else {
        name.chars().take(LONGEST - 1).chain(['…']).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_has_few_lines_at_round_numbers() {
        for (most, expected) in [
            (0, 1),
            (1, 1),
            (5, 1),
            (6, 2),
            (10, 2),
            (11, 5),
            (25, 5),
            (26, 10),
            (999, 200),
            (u64::MAX, 5_000_000_000_000_000_000),
        ] {
            assert_eq!(step(most), expected, "{most}");
        }
    }

    /// The value of an attribute in each element of a class.
    fn each(svg: &str, start: &str, attribute: &str) -> Vec<f64> {
        let of = |part: &str| part.split_once(&format!("{attribute}=\""))?.1.split('"').next()?.parse().ok();
        svg.split(start).skip(1).filter_map(of).collect()
    }

    #[test]
    fn bars_are_as_long_as_their_numbers() {
        let svg = pairs("a", "Books", ["bought", "read"], &[("Jan", [10, 5]), ("Feb", [0, 8])]).into_string();
        assert_eq!(each(&svg, "class=\"first\"", " height"), [HEIGHT, 0.0]);
        assert_eq!(each(&svg, "class=\"second\"", " height"), [HEIGHT / 2.0, HEIGHT * 0.8]);
        let bars = [("A & <b>".to_owned(), 400, "4.00 USD".to_owned()), ("B".repeat(40), 100, "1.00 USD".to_owned())];
        let svg = lying("b", "Spent", &bars).into_string();
        let widths = each(&svg, "class=\"first\"", " width");
        assert_eq!(widths, [WIDTH - NAME - NUMBER, px((WIDTH - NAME - NUMBER) / 4.0)]);
        assert!(svg.contains("A &amp; &lt;b&gt;") && svg.contains(&format!("{}…", "B".repeat(25))));
    }

    #[test]
    fn nothing_gives_an_empty_plot() {
        assert!(!pairs("a", "x", ["a", "b"], &[]).into_string().contains("NaN"));
        assert!(!lying("b", "x", &[("a".to_owned(), 0, String::new())]).into_string().contains("NaN"));
    }
}
