use clap::Args;

use super::super::day::Day;
use super::super::failure::Outcome;
use super::super::ui::{Tone, Ui};
use super::super::words::count;
use super::super::{Exit, Global};
use crate::collection::SizeClass;
use crate::filing::{Calibration, Make};
use crate::workflow::{filing_measure, filing_settings, measurement_remove, measurements};

/// Fits the estimate of thickness to books that were measured together
///
/// Measure how long the books of a box are, standing at ease: 'this box: 118 books, 352 mm'. All measurements count: the estimate is
/// multiplied by the factor that leaves the least sum of squared differences. Without arguments, shows what was measured.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward file measure --box 'Heron A' --mm 352")]
pub(super) struct Arguments {
    /// How long they are
    #[arg(long, value_name = "MM")]
    mm: Option<u32>,
    /// The box that they stand in
    #[arg(long = "box", value_name = "BOX", requires = "mm")]
    shelf: Option<String>,
    /// How many they are, if more or fewer than those recorded in the box, or if they stand in none
    #[arg(long, value_name = "N", requires = "mm")]
    books: Option<u32>,
    /// Their size, if they stand in no box
    #[arg(long, default_value = "current", requires = "books")]
    size: SizeClass,
    /// How many pages they have, if they stand in no box [default: what is usual for their size]
    #[arg(long, value_name = "N", requires = "books")]
    pages: Option<u32>,
    /// The year they are from, if they stand in no box
    #[arg(long, requires = "books")]
    year: Option<i16>,
    /// Forgets a measurement
    #[arg(long, value_name = "NUMBER", conflicts_with = "mm")]
    remove: Option<i64>,
    /// One JSON object a line: each measurement, then what they come to
    #[arg(long)]
    json: bool,
}

pub(in super::super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    if let Some(mm) = arguments.mm {
        let make = Make { pages: arguments.pages, year: arguments.year, size: arguments.size, ..Make::default() };
        let (now, today) = (global.now(), Day::Today.date(global.now()));
        filing_measure(&store, arguments.shelf.as_deref(), arguments.books, make, u64::from(mm) * 1000, today, now)?;
    }
    if let Some(measurement) = arguments.remove {
        measurement_remove(&store, measurement, global.now())?;
    }
    let calibration = filing_settings(&store)?.calibration;
    for known in measurements(&store)? {
        if arguments.json {
            ui.json(&known)?;
            continue;
        }
        let of = if known.note.is_empty() { String::new() } else { format!(" in {}", known.note) };
        let mm = |um: u64| um as f64 / 1000.0;
        let factor = f64::from(calibration.factor_ppm) / 1e6;
        ui.line(format_args!(
            "{}: {}, {}{of}: {:.0} mm, by the estimate {:.0} mm",
            known.measurement,
            known.measured_on,
            count(known.books.books, "book"),
            mm(known.books.measured_um),
            mm(known.books.estimated_um) * factor
        ))?;
    }
    if arguments.json {
        ui.json(&calibration)?;
        return Ok(Exit::Done);
    }
    let words = in_words(&calibration, ui);
    ui.line(words)?;
    Ok(Exit::Done)
}

fn in_words(calibration: &Calibration, ui: &Ui) -> String {
    let factor = ui.paint(&format!("{:.3}", f64::from(calibration.factor_ppm) / 1e6), Tone::Strong);
    let spread = match (calibration.spread_ppm, calibration.measurements) {
        (_, 0) => "; nothing was measured yet".to_owned(),
        (None, _) => "; a second measurement would show how far it can be trusted".to_owned(),
        (Some(spread), n) => format!("; {n} measurements, spread {:.1} %", f64::from(spread) / 1e4),
    };
    let modern = f64::from(calibration.apply(Make::default().um())) / 1000.0;
    format!("thickness is the estimate times {factor}{spread}; a comic of today takes {modern:.2} mm")
}
