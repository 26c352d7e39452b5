use std::io::{self, BufRead};

use clap::Args;
use serde::Serialize;

use super::failure::{Outcome, one_line};
use super::ui::{Tone, Ui};
use super::words::{code_in_words, printed};
use super::{Exit, Global};
use crate::code::{
    AddOn, AddOnState, Certainty, Code, Correction, Gtin, Repair, Symbology, Typed, corrections, parse_typed,
};

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
    corrections: Vec<CorrectionLine>,
    error: Option<String>,
}

#[derive(Debug, Serialize)]
struct CorrectionLine {
    gtin: Gtin,
    add_on: Option<AddOn>,
    slip: String,
    known: bool,
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
            let repair = repair.map(repair_in_words);
            if json {
                ui.json(&CodeLine {
                    typed,
                    gtin: Some(gtin),
                    symbology: Some(symbology),
                    add_on,
                    certainty: Some(certainty),
                    repair,
                    corrections: Vec::new(),
                    error: None,
                })?;
            } else {
                let code = Code { gtin, add_on: add_on.map_or(AddOnState::Absent, AddOnState::Read) };
                let words = code_in_words(code, symbology, ui);
                ui.line(format_args!("{words}: {}", ui.paint("the check digit fits", Tone::Good).to_string()))?;
                if let Some(repair) = repair {
                    ui.line(format_args!("  {repair}"))?;
                }
            }
            Ok(Exit::Done)
        }
        Ok(Typed::AddOn(add_on)) => wrong(typed, Some(add_on), &AddOnAlone(add_on), json, ui),
        Err(error) => wrong(typed, None, &error, json, ui),
    }
}

#[derive(Debug, thiserror::Error)]
#[error("{0} is an add-on alone: type the main code's digits before it")]
struct AddOnAlone(AddOn);

fn wrong(typed: &str, add_on: Option<AddOn>, error: &dyn std::error::Error, json: bool, ui: &mut Ui) -> Outcome {
    let proposals = corrections(typed, |_| false);
    if json {
        let corrections = proposals.iter().map(correction_line).collect();
        let error = Some(one_line(error));
        ui.json(&CodeLine {
            typed,
            gtin: None,
            symbology: None,
            add_on,
            certainty: None,
            repair: None,
            corrections,
            error,
        })?;
        return Ok(Exit::Data);
    }
    ui.line(format_args!("{}: {}", typed.trim(), ui.paint(&one_line(error), Tone::Bad).to_string()))?;
    for Correction { gtin, add_on, kind, .. } in &proposals {
        let symbology = if gtin.is_gtin12() { Symbology::UpcA } else { Symbology::Ean13 };
        let add_on = add_on.map(|a| format!("+{a}")).unwrap_or_default();
        ui.line(format_args!("  perhaps {}{add_on}: {kind}", printed(*gtin, symbology)))?;
    }
    Ok(Exit::Data)
}

fn correction_line(correction: &Correction) -> CorrectionLine {
    let Correction { gtin, add_on, kind, known } = *correction;
    CorrectionLine { gtin, add_on, slip: kind.to_string(), known }
}

fn repair_in_words(repair: Repair) -> &'static str {
    match repair {
        Repair::LeadingZero => "the leading 0 was missing",
        Repair::OneNumber => "the blank is inside the number",
        Repair::TenDigits => "ten digits taken for an ISBN-10",
    }
}
