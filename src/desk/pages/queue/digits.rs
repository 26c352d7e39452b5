//! What typed digits are: the same rules as `boxward check`, told beside the fields.

use maud::{Markup, html};

use super::sent::Fault;
use super::words::line;
use crate::code::{AddOn, Correction, Gtin, Repair, Symbology, Typed, parse_typed};
use crate::intake::{ItemId, needs_add_on};
use crate::meaning::Meaning;
use crate::store::Store;
use crate::workflow::words::have_in_words;
use crate::workflow::{self, HaveAnswer, Meant, WorkflowError};

/// Digits that are a code.
#[derive(Debug, Clone)]
pub(super) struct Understood {
    pub(super) gtin: Gtin,
    pub(super) add_on: Option<AddOn>,
    pub(super) symbology: Symbology,
    /// What was repaired, and so must be confirmed.
    pub(super) repair: Option<Repair>,
}

/// What is told about the fields.
#[derive(Debug)]
pub(super) enum Told {
    /// Nothing is typed yet.
    Nothing,
    /// A field can't be used; codes that may have been meant.
    Wrong { fault: Fault, proposals: Vec<Correction> },
    /// Its meaning.
    Fits { code: Understood, meaning: Meaning, have: HaveAnswer },
}

/// Two fields as one code.
pub(super) fn understand(code: &str, add_on: &str) -> Result<Understood, Fault> {
    let beside = match add_on {
        "" => None,
        text => Some(text.parse::<AddOn>().map_err(|error| Fault::new("add_on", error))?),
    };
    match parse_typed(code) {
        Ok(Typed::Code { gtin, add_on, symbology, repair, .. }) => match (add_on, beside) {
            (Some(one), Some(other)) if one != other => {
                let problem = format!("{other}, but behind the main code stands {one}: take one of them away");
                Err(Fault::new("add_on", problem))
            }
            _ => Ok(Understood { gtin, add_on: beside.or(add_on), symbology, repair }),
        },
        Ok(Typed::AddOn(_)) => Err(Fault::new("code", "this is an add-on alone: type the main code's digits here")),
        Err(error) => Err(Fault::new("code", error)),
    }
}

/// What to tell about the fields of an item's form.
pub(super) fn tell(store: &Store, item: ItemId, code: &str, add_on: &str) -> Result<Told, WorkflowError> {
    if code.is_empty() && add_on.is_empty() {
        return Ok(Told::Nothing);
    }
    match understand(code, add_on) {
        Ok(code) => {
            let Meant { meaning, have } = workflow::meant(Some(store), code.gtin, code.add_on)?;
            let Some(mut have) = have else { return Ok(Told::Nothing) };
            // That it waits itself is no news.
            have.waiting.retain(|waiting| *waiting != item);
            Ok(Told::Fits { code, meaning, have })
        }
        Err(fault) => {
            let proposals = if fault.field == "code" { workflow::proposals(Some(store), code) } else { Vec::new() };
            Ok(Told::Wrong { fault, proposals })
        }
    }
}

/// The part of the page that tells it; what is `said` at a field already is not told twice. Its buttons stand in the form and fill in a proposal, to be looked at and saved.
pub(super) fn told(told: &Told, said: bool) -> Markup {
    match told {
        Told::Nothing => html! { p.dim { "What is typed is checked here." } },
        Told::Wrong { fault, proposals } => html! {
            @if !said { p.bad { (fault.problem) } }
            @if !proposals.is_empty() {
                p { "Perhaps it is one of these, the likeliest first. Compare each digit with the picture:" }
                ul.proposals {
                    @for Correction { gtin, kind, known, .. } in proposals {
                        li {
                            button.small name="take" value=(gtin.printed()) { (gtin.printed()) }
                            " " (kind) @if *known { ", a code of the collection" }
                        }
                    }
                }
            }
        },
        Told::Fits { code, meaning, have } => html! {
            p.good {
                (code.symbology.word()) " " (code.gtin.printed())
                @if let Some(add_on) = code.add_on { " with add-on " (add_on) }
                ": the check digit fits"
            }
            @if let Some(repair) = code.repair { p.doubt { "to be confirmed: " (repair) } }
            p { (meaning) }
            @if code.add_on.is_none() && needs_add_on(code.gtin) {
                p.dim { "The digits beside the bars are missing, or it is said that none are printed." }
            }
            (owned(have))
        },
    }
}

fn owned(have: &HaveAnswer) -> Markup {
    html! {
        @if have.titles.is_empty() { p { "not owned: no title has this code" } }
        @for words in have_in_words(have) { p { (line(&words)) } }
    }
}
