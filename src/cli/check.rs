use std::io;

use clap::Args;
use serde::Serialize;

use super::failure::{Outcome, one_line};
use super::lines::Lines;
use super::ui::{Tone, Ui};
use super::words::{code_in_words, have_in_words};
use super::{Exit, Global};
use crate::code::{AddOn, Certainty, Correction, Gtin, Symbology, Typed, parse_typed};
use crate::meaning::Meaning;
use crate::store::Store;
use crate::workflow::{self, HaveAnswer, Meant};

/// Verifies codes typed by hand or by a handheld scanner
///
/// Tells whether the check digit fits, what the digits mean, and whether it is owned; proposes corrections for digits
/// that do not fit.
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
    repair: Option<String>,
    meaning: Option<Meaning>,
    have: Option<HaveAnswer>,
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
            have: None,
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
    // The collection helps if there is one; checking digits needs none.
    let store = match global.collection() {
        Ok(path) if path.exists() => Some(global.existing_store()?),
        _ => None,
    };
    let mut desk = Desk { store, json: arguments.json, ui };
    let mut worst = Exit::Done;
    if arguments.digits.is_empty() || arguments.digits == ["-"] {
        for line in Lines(io::stdin().lock()) {
            let line = line?;
            if !line.trim().is_empty() {
                worst = worst.max(desk.check(&line)?);
            }
        }
    } else {
        for typed in as_codes(&arguments.digits) {
            worst = worst.max(desk.check(&typed)?);
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

/// Enough to find again what was typed: a code with every blank and hyphen takes about forty.
const MOST_SHOWN: usize = 60;

/// What is repeated of a line. JSON has all of it.
fn begin_of(typed: &str) -> String {
    match typed.char_indices().nth(MOST_SHOWN) {
        Some((end, _)) => format!("{}…", &typed[..end]),
        None => typed.to_owned(),
    }
}

struct Desk<'a> {
    store: Option<Store>,
    json: bool,
    ui: &'a mut Ui,
}

#[derive(Debug, thiserror::Error)]
#[error("this is an add-on alone: type the main code's digits before it")]
struct AddOnAlone;

impl Desk<'_> {
    fn check(&mut self, typed: &str) -> Outcome {
        let (gtin, add_on, symbology, certainty, repair) = match parse_typed(typed) {
            Ok(Typed::Code { gtin, add_on, symbology, certainty, repair }) => {
                (gtin, add_on, symbology, certainty, repair.map(|repair| repair.to_string()))
            }
            Ok(Typed::AddOn(add_on)) => return self.wrong(typed, Some(add_on), &AddOnAlone),
            Err(error) => return self.wrong(typed, None, &error),
        };
        let Meant { meaning, have } = workflow::meant(self.store.as_ref(), gtin, add_on)?;
        let exit = if certainty == Certainty::Sure { Exit::Done } else { Exit::Partly };
        if self.json {
            self.ui.json(&CodeLine {
                gtin: Some(gtin),
                symbology: Some(symbology),
                add_on,
                certainty: Some(certainty),
                repair,
                meaning: Some(meaning),
                have,
                ..CodeLine::new(typed)
            })?;
            return Ok(exit);
        }
        let code = code_in_words(gtin, add_on, symbology, self.ui);
        let fits = self.ui.paint("the check digit fits", Tone::Good);
        self.ui.line(format_args!("{code}: {fits}"))?;
        self.ui.line(format_args!("  {meaning}"))?;
        if let Some(repair) = repair {
            let repair = self.ui.paint(&format!("to be confirmed: {repair}"), Tone::Doubt);
            self.ui.line(format_args!("  {repair}"))?;
        }
        if let Some(have) = have {
            if have.titles.is_empty() {
                self.ui.line("  not owned: no title has this code")?;
            }
            for line in have_in_words(&have, self.ui) {
                self.ui.line(format_args!("  {line}"))?;
            }
        }
        Ok(exit)
    }

    fn wrong(&mut self, typed: &str, add_on: Option<AddOn>, error: &dyn std::error::Error) -> Outcome {
        let proposals = workflow::proposals(self.store.as_ref(), typed);
        if self.json {
            let corrections = proposals.iter().map(CorrectionLine::new).collect();
            self.ui.json(&CodeLine { add_on, corrections, error: Some(one_line(error)), ..CodeLine::new(typed) })?;
            return Ok(Exit::Data);
        }
        let why = self.ui.paint(&one_line(error), Tone::Bad);
        self.ui.line(format_args!("{}: {why}", begin_of(typed.trim())))?;
        for Correction { gtin, add_on, kind, known } in &proposals {
            let add_on = add_on.map(|a| format!("+{a}")).unwrap_or_default();
            let known = if *known { ", a code of the collection" } else { "" };
            self.ui.line(format_args!("  perhaps {}{add_on}: {kind}{known}", gtin.printed()))?;
        }
        Ok(Exit::Data)
    }
}
