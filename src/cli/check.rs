use std::io::{self, BufRead};

use clap::Args;
use serde::Serialize;

use super::failure::{Outcome, one_line};
use super::ui::{Tone, Ui};
use super::words::{code_in_words, meaning_in_words};
use super::{Exit, Global};
use crate::code::{AddOn, Certainty, Correction, Gtin, Repair, Symbology, Typed, corrections, parse_typed};
use crate::meaning::{Meaning, meaning};

/// Verifies codes typed by hand or by a handheld scanner
///
/// Tells the check digit's word, the add-on, and what the digits mean; proposes corrections for digits that do not fit.
/// Without DIGITS, or with -, each line of standard input is a code.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward check 614141000418 00411")]
pub(super) struct Arguments {
    /// Digits as they stand under the bars; an add-on's behind a blank or +
    #[arg(value_name = "DIGITS")]
    digits: Vec<String>,
    /// One JSON object a line, one line a code
    #[arg(long)]
    json: bool,
}

/// One code's line in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct CodeLine<'a> {
    typed: &'a str,
    gtin: Option<Gtin>,
    symbology: Option<Symbology>,
    add_on: Option<AddOn>,
    certainty: Option<Certainty>,
    repair: Option<&'static str>,
    meaning: Option<Meaning>,
    corrections: Vec<CorrectionLine>,
    error: Option<String>,
}

impl<'a> CodeLine<'a> {
    fn new(typed: &'a str) -> Self {
        Self {
            typed,
            gtin: None,
            symbology: None,
            add_on: None,
            certainty: None,
            repair: None,
            meaning: None,
            corrections: Vec::new(),
            error: None,
        }
    }
}

#[derive(Debug, Serialize)]
struct CorrectionLine {
    gtin: Gtin,
    add_on: Option<AddOn>,
    slip: String,
    known: bool,
}

impl CorrectionLine {
    fn new(correction: &Correction) -> Self {
        let Correction { gtin, add_on, kind, known } = *correction;
        Self { gtin, add_on, slip: kind.to_string(), known }
    }
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let _ = global;
    let mut worst = Exit::Done;
    if arguments.digits.is_empty() || arguments.digits == ["-"] {
        for line in io::stdin().lock().lines() {
            let line = line?;
            if !line.trim().is_empty() {
                worst = worst.max(check(&line, arguments.json, ui)?);
            }
        }
    } else {
        for typed in as_codes(&arguments.digits) {
            worst = worst.max(check(&typed, arguments.json, ui)?);
        }
    }
    Ok(worst)
}

/// The shell splits at blanks, also at those inside a code: joins what belongs together.
fn as_codes(words: &[String]) -> Vec<String> {
    let whole = words.join(" ");
    if parse_typed(&whole).is_ok() {
        return vec![whole];
    }
    let mut codes: Vec<String> = Vec::new();
    for word in words {
        match (codes.last_mut(), parse_typed(word)) {
            (Some(before), Ok(Typed::AddOn(add_on))) if !before.contains('+') => {
                before.push('+');
                before.push_str(&add_on.to_string());
            }
            _ => codes.push(word.clone()),
        }
    }
    codes
}

fn check(typed: &str, json: bool, ui: &mut Ui) -> Outcome {
    match parse_typed(typed) {
        Ok(Typed::Code { gtin, add_on, symbology, certainty, repair }) => {
            let meaning = meaning(gtin, add_on, None);
            let repair = repair.map(repair_in_words);
            if json {
                let line = CodeLine {
                    gtin: Some(gtin),
                    symbology: Some(symbology),
                    add_on,
                    certainty: Some(certainty),
                    repair,
                    meaning: Some(meaning),
                    ..CodeLine::new(typed)
                };
                ui.json(&line)?;
            } else {
                let code = code_in_words(gtin, add_on, symbology, ui);
                let fits = ui.paint("the check digit fits", Tone::Good);
                ui.line(format_args!("{code}: {fits}"))?;
                ui.line(format_args!("  {}", meaning_in_words(&meaning)))?;
                if let Some(repair) = repair {
                    let repair = ui.paint(&format!("to be confirmed: {repair}"), Tone::Doubt);
                    ui.line(format_args!("  {repair}"))?;
                }
            }
            Ok(if certainty == Certainty::Sure { Exit::Done } else { Exit::Partly })
        }
        Ok(Typed::AddOn(add_on)) => wrong(typed, Some(add_on), &AddOnAlone, json, ui),
        Err(error) => wrong(typed, None, &error, json, ui),
    }
}

#[derive(Debug, thiserror::Error)]
#[error("this is an add-on alone: type the main code's digits before it")]
struct AddOnAlone;

fn wrong(typed: &str, add_on: Option<AddOn>, error: &dyn std::error::Error, json: bool, ui: &mut Ui) -> Outcome {
    let proposals = corrections(typed, |_| false);
    if json {
        let corrections = proposals.iter().map(CorrectionLine::new).collect();
        ui.json(&CodeLine { add_on, corrections, error: Some(one_line(error)), ..CodeLine::new(typed) })?;
        return Ok(Exit::Data);
    }
    let why = ui.paint(&one_line(error), Tone::Bad);
    ui.line(format_args!("{}: {why}", typed.trim()))?;
    for Correction { gtin, add_on, kind, .. } in &proposals {
        let add_on = add_on.map(|a| format!("+{a}")).unwrap_or_default();
        ui.line(format_args!("  perhaps {}{add_on}: {kind}", gtin.printed()))?;
    }
    Ok(Exit::Data)
}

fn repair_in_words(repair: Repair) -> &'static str {
    match repair {
        Repair::LeadingZero => "the leading 0 was missing",
        Repair::OneNumber => "the blank is inside the number",
        Repair::TenDigits => "ten digits taken for an ISBN-10",
    }
}
