//! Fields of the queue's forms, each with its label, and with what is wrong with it beside it.

use maud::{Markup, html};

use super::sent::{Fault, Sent};

/// A field to type into.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Text<'a> {
    pub(super) name: &'a str,
    pub(super) label: &'a str,
    pub(super) value: &'a str,
    /// What to type, under the field.
    pub(super) hint: &'a str,
    /// `text` if empty.
    pub(super) kind: &'a str,
    /// The keyboard that a phone shows.
    pub(super) keys: &'a str,
    /// The page begins here.
    pub(super) first: bool,
    /// Typing asks the server what it means.
    pub(super) live: bool,
}

/// The faults of one form.
#[derive(Debug, Clone, Copy)]
pub(super) struct Faults<'a>(pub(super) Option<&'a Fault>);

impl Faults<'_> {
    fn of(&self, name: &str) -> Option<&str> {
        self.0.filter(|fault| fault.field == name).map(|fault| fault.problem.as_str())
    }

    pub(super) fn text(&self, field: Text<'_>) -> Markup {
        let Text { name, label, value, hint, kind, keys, first, live } = field;
        let wrong = self.of(name);
        let (hint_id, wrong_id) = (format!("{name}-hint"), format!("{name}-wrong"));
        let told = [(!hint.is_empty()).then_some(hint_id.as_str()), wrong.map(|_| wrong_id.as_str())];
        let told: Vec<_> = told.into_iter().flatten().collect();
        html! {
            div.field {
                label for=(name) { (label) }
                input id=(name) name=(name) value=(value) type=(if kind.is_empty() { "text" } else { kind })
                    inputmode=[(!keys.is_empty()).then_some(keys)] autocomplete="off" spellcheck="false"
                    autofocus[first] data-live[live] aria-invalid=[wrong.map(|_| "true")]
                    aria-describedby=[(!told.is_empty()).then(|| told.join(" "))];
                @if !hint.is_empty() { p.dim id=(hint_id) { (hint) } }
                @if let Some(wrong) = wrong { p.bad id=(wrong_id) { (wrong) } }
            }
        }
    }

    /// One of several, each with its value and what it says.
    pub(super) fn choice(&self, name: &str, legend: &str, chosen: &str, choices: &[(String, Markup)]) -> Markup {
        html! {
            fieldset {
                legend { (legend) }
                @for (value, says) in choices {
                    label { input type="radio" name=(name) value=(value) checked[value == chosen] data-live; " " (says) }
                }
                @if let Some(wrong) = self.of(name) { p.bad { (wrong) } }
            }
        }
    }

    /// Says above a form that something in it can't be used.
    pub(super) fn told(&self) -> Markup {
        html! {
            @if let Some(fault) = self.0 {
                p.trouble role="alert" { "Nothing was changed: " (fault.problem) }
            }
        }
    }
}

/// What was typed before, or what is proposed.
pub(super) fn typed_or<'a>(sent: Option<&'a Sent>, name: &str, proposal: &'a str) -> &'a str {
    sent.map_or(proposal, |sent| sent.get(name))
}
