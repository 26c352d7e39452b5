use clap::Args;
use serde::Serialize;

use super::super::failure::Outcome;
use super::super::ui::Ui;
use super::super::{Exit, Global};
use crate::filing::BoxKind;
use crate::workflow::{FilingSettings, SettingsChange, filing_settings, settings_set};

/// Shows and sets what plans are made by
///
/// A plan weighs: 1 for each copy that is moved, --new-box-weight for each box that is added, --split-weight for each title that is cut
/// where it stood in one box.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward file set --fill 90 --short-series 4")]
pub(super) struct Arguments {
    /// How full a box may get, in hundredths of its length
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u32).range(10..=100))]
    fill: Option<u32>,
    /// Titles of a family with fewer copies than this share one divider, where the order keeps families together
    #[arg(long, value_name = "N")]
    short_series: Option<u32>,
    /// A divider's thickness in millimetres
    #[arg(long, value_name = "MM", value_parser = millimetres)]
    divider_mm: Option<u32>,
    /// What kind of box is added: short, long, magazine, own
    #[arg(long, value_name = "KIND")]
    new_box: Option<BoxKind>,
    /// Its inner length
    #[arg(long, value_name = "MM", value_parser = clap::value_parser!(u32).range(50..=3000))]
    new_mm: Option<u32>,
    /// How many copies are rather moved than a box added
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    new_box_weight: Option<u32>,
    /// How many copies are rather moved than a title split
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=1000))]
    split_weight: Option<u32>,
    /// The settings as a JSON object
    #[arg(long)]
    json: bool,
}

/// Its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct SettingsLine {
    fill_percent: u32,
    short_series: u32,
    divider_um: u32,
    new_box: BoxKind,
    new_mm: u32,
    new_box_weight: u32,
    split_weight: u32,
}

/// Millimetres with a decimal point as micrometres.
fn millimetres(text: &str) -> Result<u32, String> {
    let mm: f64 = text.replace(',', ".").parse().map_err(|_| format!("'{text}' is no number of millimetres"))?;
    if !(0.0..=20.0).contains(&mm) {
        return Err(format!("a divider of {text} mm would be none"));
    }
    Ok((mm * 1000.0).round() as u32)
}

pub(in super::super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let change = SettingsChange {
        fill_percent: arguments.fill,
        short_series: arguments.short_series,
        divider_um: arguments.divider_mm,
        new_box: arguments.new_box,
        new_mm: arguments.new_mm,
        new_box_weight: arguments.new_box_weight,
        split_weight: arguments.split_weight,
    };
    if change != SettingsChange::default() {
        settings_set(&store, &change, global.now())?;
    }
    let FilingSettings { options, rule, .. } = filing_settings(&store)?;
    let line = SettingsLine {
        fill_percent: options.fill_percent,
        short_series: options.short_series,
        divider_um: options.divider_um,
        new_box: options.new_kind,
        new_mm: options.new_mm,
        new_box_weight: options.weights.new_box,
        split_weight: options.weights.split,
    };
    if arguments.json {
        ui.json(&line)?;
        return Ok(Exit::Done);
    }
    ui.line(format_args!("boxes are filled up to {} %", line.fill_percent))?;
    let divider_mm = f64::from(line.divider_um) / 1000.0;
    let shared =
        if rule.keeps_families() { "share one" } else { "would share one, if the order kept families together" };
    ui.line(format_args!(
        "dividers are {divider_mm} mm thick; a family's titles with fewer than {} copies {shared}",
        line.short_series
    ))?;
    ui.line(format_args!("boxes that are added are {} boxes of {} mm", line.new_box, line.new_mm))?;
    ui.line(format_args!(
        "{} copies are rather moved than a box added, {} than a title split",
        line.new_box_weight, line.split_weight
    ))?;
    Ok(Exit::Done)
}
