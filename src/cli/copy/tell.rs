//! A copy in words and in JSON, and what to be careful about.

use super::super::failure::Failure;
use super::super::ui::{Tone, Ui};
use super::super::words::{count, departure_in_words, issue_in_words, known_code, named};
use crate::collection::{CopyRecord, PriceParts, SizeClass};
use crate::report::{NO_APPRAISAL, OLD_BAGS};
use crate::workflow::Changed;

fn name(copy: &CopyRecord) -> String {
    named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing))
}

/// `polyester bag, acid-free board, current, since 2026-03-04`.
fn bagging(copy: &CopyRecord) -> Option<String> {
    let bagging = &copy.bagging;
    let of = |word: &str, thing: &str| match word {
        "unknown" => thing.to_owned(),
        word => format!("{word} {thing}"),
    };
    let parts = [
        bagging.bag.map(|bag| of(bag.word(), "bag")),
        bagging.board.map(|board| of(board.word(), "board")),
        bagging.bag_size.map(SizeClass::word).map(str::to_owned),
        bagging.bagged_on.map(|day| format!("since {day}")),
    ];
    let parts: Vec<_> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// `paid 9.72 USD (cover price 0.60 USD, asked 12.00 USD, less 25 %, tax 0.72 USD)`.
fn price(copy: &CopyRecord) -> Option<String> {
    let PriceParts { cover_price, asked, discount, tax } = &copy.price;
    let parts = [
        cover_price.map(|price| format!("cover price {price}")),
        asked.map(|price| format!("asked {price}")),
        discount.map(|discount| format!("less {discount}")),
        tax.map(|tax| format!("tax {tax}")),
    ];
    let parts = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
    match (copy.paid, parts.is_empty()) {
        (Some(paid), true) => Some(format!("paid {paid}")),
        (Some(paid), false) => Some(format!("paid {paid} ({parts})")),
        (None, false) => Some(parts),
        (None, true) => None,
    }
}

/// One line: what a list needs.
pub(super) fn line(copy: &CopyRecord, ui: &Ui) -> String {
    let parts = [
        copy.facts.condition.map(|grade| format!("condition {grade}")),
        bagging(copy),
        copy.paid.map(|paid| format!("paid {paid}")),
        copy.facts.signed_by.as_ref().map(|by| format!("signed by {by}")),
        copy.lent.as_ref().map(|loan| format!("lent to {} since {}", loan.to, loan.since)),
        copy.gone.as_ref().map(departure_in_words),
    ];
    let rest: String = parts.into_iter().flatten().map(|part| format!("; {part}")).collect();
    format!("{}: {}{rest}", copy.copy, ui.paint(&name(copy), Tone::Strong))
}

/// All that is known, a line for each thing.
pub(super) fn all(copy: &CopyRecord, bag_is_old: bool, ui: &mut Ui) -> std::io::Result<()> {
    let title = ui.paint(&name(copy), Tone::Strong);
    ui.line(format_args!("copy {}: {title}", copy.copy))?;
    let facts = &copy.facts;
    let bought = [copy.shop.clone(), copy.acquired.map(|day| day.to_string())];
    let bought = bought.into_iter().flatten().collect::<Vec<_>>().join(", ");
    let read = match copy.read_on {
        Some(day) => format!("on {day}"),
        None if copy.read => "yes".to_owned(),
        None => "not yet".to_owned(),
    };
    let since = |day: Option<jiff::civil::Date>| day.map(|day| format!(" (of {day})")).unwrap_or_default();
    let rows = [
        ("code", copy.code.map(|code| known_code(code, copy.add_on))),
        ("bought", (!bought.is_empty()).then_some(bought)),
        ("price", price(copy)),
        ("read", Some(read)),
        ("condition", facts.condition.map(|grade| format!("{grade} ({})", grade.name()))),
        ("defects", facts.defects.clone()),
        ("signed by", facts.signed_by.clone()),
        ("kept in", bagging(copy)),
        ("lent", copy.lent.as_ref().map(|loan| format!("to {} since {}", loan.to, loan.since))),
        ("photo", copy.photo.then(|| "kept; --photo FILE writes it".to_owned())),
        ("value", facts.value.map(|value| format!("{value}{}", since(facts.valued_on)))),
        ("owned no more", copy.gone.as_ref().map(departure_in_words)),
    ];
    for (what, text) in rows {
        if let Some(text) = text {
            ui.line(format_args!("  {what}: {text}"))?;
        }
    }
    if facts.value.is_some() {
        ui.line(format_args!("  ({NO_APPRAISAL})"))?;
    }
    if bag_is_old {
        ui.line(format_args!("  (its bag is old; {OLD_BAGS})"))?;
    }
    Ok(())
}

/// What a change did, for every command that changes copies.
pub(super) fn changed(changed: &Changed, json: bool, dry_run: bool, ui: &mut Ui) -> Result<(), Failure> {
    for copy in &changed.copies {
        if json {
            ui.json(copy)?;
        } else {
            let line = line(copy, ui);
            ui.line(line)?;
        }
    }
    let copies = count(changed.copies.len(), "copy");
    let unchanged = match changed.unchanged {
        0 => String::new(),
        copies => format!(", {copies} so already"),
    };
    match changed.run {
        Some(run) => ui.note(format_args!("{copies} changed{unchanged} (run {run})")),
        None if dry_run => ui.note(format_args!("{copies} would change{unchanged}; nothing was written")),
        None => ui.note(format_args!("{copies} changed{unchanged}")),
    }
    if !json && changed.copies.iter().any(|copy| copy.facts.value.is_some()) {
        ui.note(NO_APPRAISAL);
    }
    Ok(())
}
