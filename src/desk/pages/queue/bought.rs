//! Where, when and for how much the books were bought that are taken in.

use maud::{Markup, html};

use super::fields::{Faults, Text};
use super::sent::{Fault, Sent};
use crate::workflow::{ResolveOptions, Select};

/// The fields, which the pages of the queue hand on to each other.
const FIELDS: [&str; 3] = ["shop", "date", "paid"];

/// The options of a resolve.
pub(super) fn options(sent: &Sent, select: Select) -> Result<ResolveOptions, Fault> {
    let paid = sent.get("paid");
    let paid = if paid.is_empty() { Ok(None) } else { paid.parse().map(Some) };
    Ok(ResolveOptions {
        select,
        acquired: sent.parsed("date", "day; write it as 2026-03-04")?,
        shop: sent.text("shop"),
        paid: paid.map_err(|error| Fault::new("paid", error))?,
        run: None,
    })
}

/// Its fields in a form.
pub(super) fn fields(sent: &Sent, faults: Faults<'_>) -> Markup {
    let text = |name, label, hint, kind| {
        faults.text(Text { name, label, hint, kind, value: sent.get(name), ..Text::default() })
    };
    html! {
        fieldset.bought {
            legend { "Bought" }
            (text("shop", "Shop", "", "text"))
            (text("date", "Day", "", "date"))
            (text("paid", "Price of each", "such as 3.99 USD", "text"))
            p.dim { "What is left empty is taken from the scan, if anything was said there." }
        }
    }
}

/// `path` with what was said, for the next page.
pub(super) fn lead_with(path: &str, sent: &Sent) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    for name in FIELDS {
        if let Some(value) = sent.text(name) {
            query.append_pair(name, &value);
        }
    }
    let query = query.finish();
    if query.is_empty() { path.to_owned() } else { format!("{path}?{query}") }
}

/// What was said of the purchase, without the other fields of a form.
pub(super) fn only(sent: &Sent) -> Sent {
    Sent(sent.0.iter().filter(|(name, _)| FIELDS.contains(&name.as_str())).cloned().collect())
}
