//! What the reader saw, as one HTML page that needs nothing else: no script, no other file, light or dark.

use std::fmt::{Display, Write};

use super::words::{count, printed};
use crate::code::{AddOnState, Certainty, NumberSet, Symbology};
use crate::picture::{EncodeError, Luma};
use crate::reader::{Attempt, DigitReport, Explanation, Fate, Fitted, RegionReport, Symbol};
use crate::report::data_url;

/// What every page begins with: only a file that does is ever written over.
pub(super) const START: &str = "<!-- written by boxward read --explain -->\n";

/// The page about the photo called `name`.
pub(super) fn page(name: &str, picture: &Luma, explanation: &Explanation) -> Result<String, EncodeError> {
    let name = escaped(name);
    let mut page = format!(
        "{START}<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <title>{name}: what boxward saw</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{name}</h1>\n"
    );
    let Explanation { regions, symbols, negative } = explanation;
    let read = if symbols.is_empty() { "Nothing".to_owned() } else { count(symbols.len(), "symbol") };
    let looked = count(regions.len(), "region");
    // Writing to a String can't fail.
    let _ = writeln!(
        page,
        "<p class=\"lead\">{read} read in {looked} of parallel edges; the picture has {} × {} px.</p>",
        picture.width(),
        picture.height()
    );
    if *negative {
        page += "<p>Its bars are lighter than what is between them: what follows shows the picture's negative.</p>\n";
    }
    page += &overview(picture, explanation)?;
    for symbol in symbols {
        page += &symbol_card(symbol)?;
    }
    for (i, region) in regions.iter().enumerate() {
        page += &region_section(i + 1, region)?;
    }
    if regions.is_empty() {
        page += "<p>No part of the picture has enough edges side by side to be a bar code: is it sharp, and near enough?</p>\n";
    }
    page += LEGEND;
    page += "</main>\n</body>\n</html>\n";
    Ok(page)
}

/// The picture with regions and symbols outlined.
fn overview(picture: &Luma, explanation: &Explanation) -> Result<String, EncodeError> {
    /// Longest side of the picture shown, in px.
    const LONGEST: usize = 1000;
    let [w, h] = [picture.width(), picture.height()];
    if w == 0 || h == 0 {
        return Ok(String::new());
    }
    let small = picture.reduced(w.max(h).div_ceil(LONGEST));
    // Lines and numbers keep their size whatever the picture's.
    let unit = w.max(h) as f32 / LONGEST as f32;
    let mut svg = format!(
        "<svg class=\"photo\" role=\"img\" aria-label=\"the picture with what was found\" viewBox=\"0 0 {w} {h}\">\n\
         <image width=\"{w}\" height=\"{h}\" preserveAspectRatio=\"none\" href=\"{}\"/>\n",
        data_uri(&small)?
    );
    let outline = |class: &str, corners: &[[f32; 2]; 4], width: f32| {
        let points = corners.iter().map(|[x, y]| format!("{x:.1},{y:.1}")).collect::<Vec<_>>().join(" ");
        format!("<polygon class=\"{class}\" stroke-width=\"{:.2}\" points=\"{points}\"/>\n", width * unit)
    };
    for region in &explanation.regions {
        svg += &outline(&format!("region {}", fate_class(region.fate)), &region.corners, 2.5);
    }
    for symbol in &explanation.symbols {
        svg += &outline("symbol", &symbol.corners, 3.5);
    }
    let size = 22.0 * unit;
    let mut placed: Vec<[f32; 2]> = Vec::new();
    for (i, region) in explanation.regions.iter().enumerate() {
        // Numbers of regions that begin at the same place stand side by side.
        let [x, y] =
            region.corners.iter().copied().min_by(|a, b| (a[0] + a[1]).total_cmp(&(b[0] + b[1]))).unwrap_or_default();
        let mut at = [x.clamp(0.0, w as f32 - size), y.clamp(0.0, h as f32 - size)];
        while placed.iter().any(|p| (p[0] - at[0]).abs() < size && (p[1] - at[1]).abs() < size) {
            at[0] += size;
        }
        placed.push(at);
        let [x, y] = at;
        let _ = writeln!(
            svg,
            "<a href=\"#region-{n}\"><rect class=\"tag {class}\" x=\"{x:.1}\" y=\"{y:.1}\" width=\"{size:.1}\" \
             height=\"{size:.1}\"/><text class=\"tag\" font-size=\"{font:.1}\" x=\"{:.1}\" y=\"{:.1}\">{n}</text></a>",
            x + size / 2.0,
            y + size * 0.74,
            n = i + 1,
            class = fate_class(region.fate),
            font = size * 0.7,
        );
    }
    Ok(svg + "</svg>\n")
}

fn fate_class(fate: Fate) -> &'static str {
    match fate {
        Fate::Read => "read",
        Fate::Covered => "covered",
        Fate::Unread | Fate::LeftOut | Fate::NoBars | Fate::NoSymbol => "unread",
    }
}

fn symbol_card(symbol: &Symbol) -> Result<String, EncodeError> {
    let add_on = match symbol.code.add_on {
        AddOnState::Read(add_on) => format!("{add_on}, read"),
        AddOnState::Absent => "absent: the space right of the symbol is blank, ends, or is no place for one".to_owned(),
        AddOnState::Unread => "not read: something is there that could not be read for certain".to_owned(),
    };
    let facts = facts(&[
        ("Add-on", &add_on),
        ("Trust", &certainty_in_words(symbol.certainty)),
        ("Read by", &stage_in_words(symbol.by)),
        ("Module", &format_args!("{:.2} px wide", symbol.module_px)),
    ]);
    Ok(format!(
        "<section class=\"card\">\n<img alt=\"the symbol, upright\" src=\"{}\"/>\n<div>\n<h2>{} <b>{}</b></h2>\n{facts}</div>\n</section>\n",
        data_uri(&symbol.crop)?,
        symbol.symbology.word(),
        printed(symbol.code.gtin, symbol.symbology),
    ))
}

fn certainty_in_words(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Sure => "sure",
        Certainty::Confirm => "to be confirmed by a second photo or a person",
    }
}

fn stage_in_words(by: &str) -> String {
    match by {
        "rxing" => "stage one (rxing): dark and light measured, then checked against the picture".to_owned(),
        "likelihood" => "stage two (likelihood): the code whose blurred bars explain the picture best".to_owned(),
        other => escaped(other),
    }
}

fn region_section(number: usize, region: &RegionReport) -> Result<String, EncodeError> {
    let best = best_attempt(&region.attempts);
    let words = match region.fate {
        Fate::Read => "A code was read here.",
        Fate::Covered => "Lies within a symbol that was read already: not looked at again.",
        Fate::NoBars => {
            "Its edges are no bars: they are too few, or do not go on side by side from one line to the next."
        }
        Fate::NoSymbol => {
            "Stage one read nothing, and its bars can be no symbol's: too high for their width, too few, all alike, or \
             other ones from line to line."
        }
        Fate::Unread if best.is_some() => "No code was believed here.",
        Fate::Unread => {
            "No code's bars come near what is here: too few edges, no quiet space beside them, or other bars."
        }
        Fate::LeftOut => "Stage one read nothing, and stage two looks only at the most promising regions.",
    };
    let mut section = format!(
        "<section class=\"{class}\" id=\"region-{number}\">\n<h2><span class=\"tag {class}\">{number}</span> Region {number}</h2>\n<p>{words}</p>\n",
        class = fate_class(region.fate)
    );
    match best {
        Some(attempt) => {
            section += &attempt_in_full(attempt, region)?;
            let others: Vec<_> = region.attempts.iter().filter(|other| !std::ptr::eq(*other, attempt)).collect();
            if !others.is_empty() {
                section += &other_attempts(&others);
            }
        }
        None => section += &strips_alone(region)?,
    }
    Ok(section + "</section>\n")
}

/// The one that was believed, or that fits best.
fn best_attempt(attempts: &[Attempt]) -> Option<&Attempt> {
    attempts.iter().find(|attempt| attempt.verdict.is_ok()).or_else(|| {
        let residual = |attempt: &&Attempt| attempt.fitted.as_ref().map_or(f32::INFINITY, |fitted| fitted.residual);
        attempts.iter().min_by(|a, b| residual(a).total_cmp(&residual(b)))
    })
}

fn verdict_in_words(attempt: &Attempt) -> String {
    match attempt.verdict {
        Ok(certainty) => format!("believed: {}", certainty_in_words(certainty)),
        Err(why) => format!("not believed: {}", escaped(why)),
    }
}

fn code_in_words(attempt: &Attempt) -> String {
    format!("{} {}", attempt.symbology.word(), printed(attempt.gtin, attempt.symbology))
}

fn attempt_in_full(attempt: &Attempt, region: &RegionReport) -> Result<String, EncodeError> {
    let class = if attempt.verdict.is_ok() { "good" } else { "bad" };
    let mut html =
        format!("<p class=\"verdict {class}\"><b>{}</b> {}</p>\n", code_in_words(attempt), verdict_in_words(attempt));
    let Some(fitted) = &attempt.fitted else {
        return Ok(html + &strips_alone(region)?);
    };
    html += &chart(attempt, fitted, region)?;
    html += &digits(&fitted.digits, attempt.symbology);
    let percent = |share: f32| format!("{:.1} %", 100.0 * share);
    let unexplained =
        format!("{} of the picture's contrast; at most {}", percent(fitted.residual), percent(fitted.residual_limit));
    let blur = format!("{:.2} modules", fitted.blur_modules);
    let gain = format!("{:+.2} modules at each edge", fitted.ink_gain_modules).replace('-', "−");
    let module = format!("{:.2} px wide, the narrowest {:.2} of that", fitted.module_px, fitted.narrowest);
    let in_line = region.in_line.iter().filter(|seen| **seen).count();
    let strips =
        format!("{} of {} in line{}", fitted.strips, in_line, if fitted.backwards { ", upside down" } else { "" });
    let mut list: Vec<(&str, &dyn Display)> = vec![("Unexplained", &unexplained)];
    let weighed = attempt.weighed.map(|weighed| {
        let [agreeing, bands] = weighed.votes;
        [
            format!(
                "{} leaves ×{:.2} as much unexplained; at least ×{:.2} is needed",
                printed(weighed.runner_up, Symbology::usual(weighed.runner_up)),
                weighed.ratio,
                weighed.needed_ratio
            ),
            format!("{agreeing} of {bands} parts of the height read the same"),
        ]
    });
    if let Some([runner_up, votes]) = &weighed {
        list.extend([("Runner-up", runner_up as &dyn Display), ("Votes", votes)]);
    }
    let stage = stage_in_words(attempt.by);
    list.extend([
        ("Blur", &blur as &dyn Display),
        ("Ink gain", &gain),
        ("Module", &module),
        ("Strips", &strips),
        ("Tried by", &stage),
    ]);
    Ok(html + &facts(&list))
}

/// Units of a chart that a module and its parts take.
const MODULE: f32 = 9.0;
const STRIPS_HEIGHT: f32 = 110.0;
const WAVE_HEIGHT: f32 = 130.0;
const GAP: f32 = 12.0;
const DIGITS_HEIGHT: f32 = 30.0;

/// The strips; below them, module by module, what was seen over what the code would look like.
fn chart(attempt: &Attempt, fitted: &Fitted, region: &RegionReport) -> Result<String, EncodeError> {
    let beside = Fitted::BESIDE_MODULES as f32;
    let width = (fitted.modules.len() as f32 + 2.0 * beside) * MODULE;
    let x = |module: f32| (module + beside) * MODULE;
    let wave_top = STRIPS_HEIGHT + GAP;
    let height = wave_top + WAVE_HEIGHT + DIGITS_HEIGHT;
    let mut svg = format!(
        "<div class=\"wide\"><svg class=\"chart\" role=\"img\" aria-label=\"what was seen and what {} would look like\" \
         viewBox=\"0 0 {width} {height}\">\n",
        code_in_words(attempt)
    );
    if let Some(strips) = &region.strips {
        let [first, end] = fitted.columns;
        let scale = fitted.modules.len() as f32 * MODULE / (end - first);
        let columns = strips.width() as f32;
        let turned = if fitted.backwards {
            format!(
                " transform=\"rotate(180 {:.1} {:.1})\"",
                x(0.0) + (columns / 2.0 - first) * scale,
                STRIPS_HEIGHT / 2.0
            )
        } else {
            String::new()
        };
        let _ = writeln!(
            svg,
            "<g{turned}><image x=\"{:.1}\" y=\"0\" width=\"{:.1}\" height=\"{STRIPS_HEIGHT}\" preserveAspectRatio=\"none\" \
             href=\"{}\"/></g>",
            x(0.0) - first * scale,
            columns * scale,
            data_uri(strips)?
        );
        svg += &out_of_line(&region.in_line, fitted.backwards, width);
    }
    // Darkness 0 and 1 lie a little inside the chart: glare and ink go beyond.
    let y = |darkness: f32| wave_top + WAVE_HEIGHT * (0.1 + 0.8 * darkness.clamp(-0.12, 1.12));
    let _ = write!(
        svg,
        "<rect class=\"ground\" x=\"0\" y=\"{wave_top}\" width=\"{width}\" height=\"{WAVE_HEIGHT}\"/>\n<path class=\"bars\" d=\""
    );
    for (i, _) in fitted.modules.iter().enumerate().filter(|(_, dark)| **dark) {
        let _ = write!(svg, "M{:.1} {wave_top}h{MODULE}v{WAVE_HEIGHT}h-{MODULE}z", x(i as f32));
    }
    svg += "\"/>\n";
    for (class, wave) in [("model", &fitted.model), ("seen", &fitted.seen)] {
        let points = wave.iter().enumerate().map(|(i, darkness)| {
            let module = i as f32 / Fitted::PER_MODULE as f32 - beside;
            format!("{:.1},{:.1}", x(module), y(*darkness))
        });
        let _ = writeln!(svg, "<polyline class=\"{class}\" points=\"{}\"/>", points.collect::<Vec<_>>().join(" "));
    }
    let _ = writeln!(
        svg,
        "<text class=\"axis\" x=\"3\" y=\"{:.1}\">paper</text><text class=\"axis\" x=\"3\" y=\"{:.1}\">ink</text>",
        y(0.0) - 4.0,
        y(1.0) + 11.0
    );
    for (i, report) in fitted.digits.iter().enumerate() {
        let centre = if attempt.symbology != Symbology::UpcE && i >= fitted.digits.len() / 2 { 5 } else { 0 };
        let at = x((3 + 7 * i + centre) as f32 + 3.5);
        let _ = writeln!(svg, "<text class=\"digit\" x=\"{at:.1}\" y=\"{:.1}\">{}</text>", height - 8.0, report.digit);
    }
    Ok(svg + "</svg></div>\n")
}

/// Marks at both ends of the rows that do not show the bars.
fn out_of_line(in_line: &[bool], backwards: bool, width: f32) -> String {
    let row = STRIPS_HEIGHT / in_line.len().max(1) as f32;
    let mut marks = String::new();
    for (i, _) in in_line.iter().enumerate().filter(|(_, seen)| !**seen) {
        let i = if backwards { in_line.len() - 1 - i } else { i };
        for x in [0.0, width - 8.0] {
            let _ = writeln!(
                marks,
                "<rect class=\"missed\" x=\"{x:.1}\" y=\"{:.1}\" width=\"8\" height=\"{row:.1}\"/>",
                i as f32 * row
            );
        }
    }
    marks
}

/// The strips of a region in which nothing was found.
fn strips_alone(region: &RegionReport) -> Result<String, EncodeError> {
    let Some(strips) = &region.strips else { return Ok(String::new()) };
    const WIDTH: f32 = 945.0;
    Ok(format!(
        "<div class=\"wide\"><svg class=\"chart\" role=\"img\" aria-label=\"the region's strips\" \
         viewBox=\"0 0 {WIDTH} {STRIPS_HEIGHT}\">\n<image width=\"{WIDTH}\" height=\"{STRIPS_HEIGHT}\" \
         preserveAspectRatio=\"none\" href=\"{}\"/>\n{}</svg></div>\n",
        data_uri(strips)?,
        out_of_line(&region.in_line, false, WIDTH)
    ))
}

/// A column for each digit: how much more would be unexplained with its best rival in its place.
fn digits(digits: &[DigitReport], symbology: Symbology) -> String {
    let row = |head: &str, class: &str, cell: &dyn Fn(&DigitReport) -> String| {
        let cells: String = digits.iter().map(cell).collect();
        format!("<tr class=\"{class}\"><th scope=\"row\">{head}</th>{cells}</tr>\n")
    };
    let note = match symbology {
        Symbology::Ean13 => {
            "<p class=\"note\">The first digit has no bars of its own: the sets of the next six tell it.</p>\n"
        }
        Symbology::UpcE => {
            "<p class=\"note\">The first and the last digit have no bars of their own: the sets tell them.</p>\n"
        }
        Symbology::UpcA | Symbology::Ean8 => "",
    };
    let set = |set: NumberSet| match set {
        NumberSet::A => "A",
        NumberSet::B => "B",
        NumberSet::C => "C",
    };
    let margin = |report: &DigitReport| {
        // Half the contrast more is plenty for one digit of twelve.
        let full = (100.0 * (report.ratio - 1.0) / 0.5).clamp(0.0, 100.0);
        let class = if report.ratio < 1.0 { "bad" } else { "good" };
        format!(
            "<td class=\"{class}\"><span class=\"bar\"><i class=\"{class}\" style=\"width:{full:.0}%\"></i></span>×{}</td>",
            ratio(report.ratio)
        )
    };
    format!(
        "<div class=\"wide\"><table class=\"digits\">\n{}{}{}{}</table></div>\n{note}",
        row("Digit", "big", &|report| format!("<td>{}</td>", report.digit)),
        row("Set", "", &|report| format!("<td>{}</td>", set(report.set))),
        row("Best rival", "", &|report| format!("<td>{}<small> {}</small></td>", report.rival.0, set(report.rival.1))),
        row("Its misfit", "", &margin),
    )
}

fn ratio(value: f32) -> String {
    if value < 10.0 { format!("{value:.2}") } else { format!("{value:.0}") }
}

fn other_attempts(others: &[&Attempt]) -> String {
    let mut html = format!(
        "<details><summary>{}</summary>\n<div class=\"wide\"><table>\n<tr><th scope=\"col\">Code</th><th scope=\"col\">Stage</th>\
         <th scope=\"col\">Unexplained</th><th scope=\"col\">Runner-up</th><th scope=\"col\">Verdict</th></tr>\n",
        match others.len() {
            1 => "1 other attempt".to_owned(),
            n => format!("{n} other attempts"),
        }
    );
    for attempt in others {
        let none = || "–".to_owned();
        let unexplained = attempt.fitted.as_ref().map_or_else(none, |f| format!("{:.1} %", 100.0 * f.residual));
        let runner_up = attempt.weighed.map_or_else(none, |w| format!("×{}", ratio(w.ratio)));
        let _ = writeln!(
            html,
            "<tr><td>{}</td><td>{}</td><td>{unexplained}</td><td>{runner_up}</td><td>{}</td></tr>",
            code_in_words(attempt),
            escaped(attempt.by),
            verdict_in_words(attempt)
        );
    }
    html + "</table></div></details>\n"
}

/// Names and what they are, which must be HTML already.
fn facts(list: &[(&str, &dyn Display)]) -> String {
    let items: String = list.iter().map(|(name, value)| format!("<dt>{name}</dt><dd>{value}</dd>\n")).collect();
    format!("<dl>\n{items}</dl>\n")
}

fn data_uri(picture: &Luma) -> Result<String, EncodeError> {
    Ok(data_url("image/png", &picture.to_png()?))
}

/// Text as HTML.
fn escaped(text: &str) -> String {
    let mut html = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => html += "&amp;",
            '<' => html += "&lt;",
            '>' => html += "&gt;",
            '"' => html += "&quot;",
            '\'' => html += "&#39;",
            c if c.is_control() => html.push('\u{fffd}'),
            c => html.push(c),
        }
    }
    html
}

const LEGEND: &str = "<footer>\n<h2>How to read this</h2>\n<p>A region is a patch of the picture whose edges all run the same \
way. Its lines are put in strips, each moved so that the bars of all stand in line; a strip with a red mark at its ends does \
not show the bars of the strips around it. Below the strips, the <span class=\"key seen\">picture</span> is drawn over what it \
<span class=\"key model\">would look like</span> if the code is right, with its bars behind.</p>\n<p>Under each digit stands the \
digit that fits next best in its place, and how many times as much is unexplained with it. A whole code always differs from the \
next valid one in two digits or more, or in the sets of its left half.</p>\n</footer>\n";

const STYLE: &str = "
:root { color-scheme: light dark; --page: #f7f6f2; --card: #fffefb; --text: #23211d; --dim: #6b665c; --line: #dcd7cb;
  --good: #1d7a4b; --bad: #b3402e; --quiet: #7a7466; --seen: #1f5fa8; --model: #d07a12; --bar: #e9e5da; }
@media (prefers-color-scheme: dark) { :root { --page: #1b1a18; --card: #252320; --text: #ece8df; --dim: #a59f92;
  --line: #3d3a34; --good: #58bb88; --bad: #ee8470; --quiet: #8f897c; --seen: #79b2f2; --model: #f0a546; --bar: #34312c; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--page); color: var(--text); font: 16px/1.5 system-ui, sans-serif; }
main { max-width: 62rem; margin: 0 auto; padding: 1.5rem 1rem 3rem; }
h1 { font-size: 1.5rem; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 1.1rem; margin: 0 0 .5rem; font-weight: 600; }
.lead { margin: .2rem 0 1rem; color: var(--dim); }
section { background: var(--card); border: 1px solid var(--line); border-radius: 8px; padding: 1rem; margin: 1rem 0; }
section > p { margin: 0 0 .75rem; }
.card { display: flex; flex-wrap: wrap; gap: 1rem 1.5rem; align-items: flex-start; border-left: 4px solid var(--good); }
.card img { width: 17rem; max-width: 100%; border-radius: 4px; }
.card div { flex: 1 1 20rem; }
.photo { display: block; max-width: 100%; max-height: 85vh; margin: 0 auto; border-radius: 8px; }
.wide { overflow-x: auto; margin: .75rem 0; }
.chart { display: block; width: 100%; min-width: 40rem; border-radius: 4px; }
polygon { fill: none; stroke-linejoin: round; }
polygon.read { stroke: #2fae6d; } polygon.unread { stroke: #e2604c; stroke-dasharray: 8 5; }
polygon.covered { stroke: #a39d90; stroke-dasharray: 3 4; } polygon.symbol { stroke: #3d8fe6; }
rect.read { fill: #1d7a4b; } rect.unread { fill: #b3402e; } rect.covered { fill: #7a7466; }
text { font-family: system-ui, sans-serif; }
text.tag { fill: #fff; text-anchor: middle; font-weight: 600; }
span.tag { display: inline-block; min-width: 1.6em; text-align: center; color: #fff; border-radius: 4px; background: #b3402e; }
span.tag.read { background: #1d7a4b; } span.tag.covered { background: #7a7466; }
.ground { fill: var(--page); } .bars { fill: var(--bar); } .missed { fill: #e2604c; }
polyline { fill: none; stroke-linejoin: round; } polyline.model { stroke: var(--model); stroke-width: 3; opacity: .8; }
polyline.seen { stroke: var(--seen); stroke-width: 1.6; }
.axis { fill: var(--dim); font-size: 11px; } .digit { fill: var(--text); font-size: 20px; text-anchor: middle; }
.key { border-bottom: 3px solid; } .key.seen { border-color: var(--seen); } .key.model { border-color: var(--model); }
.verdict { font-size: 1.05rem; } .verdict.good { color: var(--good); } .verdict.bad { color: var(--bad); }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
th, td { padding: .2rem .6rem; text-align: left; border-top: 1px solid var(--line); }
th { color: var(--dim); font-weight: 500; white-space: nowrap; }
.digits { width: 100%; min-width: 40rem; } .digits td { text-align: center; padding: .2rem .15rem; font-size: .9rem; }
.digits .big td { font-size: 1.2rem; font-weight: 600; } .digits td.bad { color: var(--bad); } .digits small { color: var(--dim); }
.bar { display: block; height: 5px; margin: 0 auto .15rem; width: 80%; background: var(--bar); border-radius: 3px; overflow: hidden; }
.bar i { display: block; height: 100%; } i.good { background: var(--good); } i.bad { background: var(--bad); }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .15rem 1rem; margin: .75rem 0 0; }
dt { color: var(--dim); } dd { margin: 0; }
summary { cursor: pointer; margin-top: .75rem; color: var(--dim); }
.note, footer { color: var(--dim); font-size: .9rem; } footer { margin-top: 2rem; } footer p { margin: .3rem 0; }
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_can_not_break_out_of_its_place() {
        assert_eq!(escaped("a<b>&\"'\n"), "a&lt;b&gt;&amp;&quot;&#39;\u{fffd}");
    }
}
