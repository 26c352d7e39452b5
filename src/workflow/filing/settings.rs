//! What the collector set about filing: the order, how full boxes get, what was measured.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::wall;
use crate::collection::CopyId;
use crate::filing::{
    Annuals, BoxKind, Calibration, FilingRule, Make, Measurement, NamedCopy, PlanOptions, ShelfBox, Weights,
};
use crate::intake::RunId;
use crate::store::{RunKind, Shelved, Store, StoreError};
use crate::workflow::WorkflowError;

/// How many copies a rule's example shows.
const EXAMPLE: usize = 20;

/// What is set, or usual.
#[derive(Debug, Clone, PartialEq)]
pub struct FilingSettings {
    /// The filing order.
    pub rule: FilingRule,
    /// What plans are made by.
    pub options: PlanOptions,
    /// What measurements made of the estimate.
    pub calibration: Calibration,
}

/// What to set; `None` leaves a thing as it is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SettingsChange {
    /// How full a box may get, in hundredths.
    pub fill_percent: Option<u32>,
    /// Titles with fewer copies share their family's divider.
    pub short_series: Option<u32>,
    /// A divider's thickness.
    pub divider_um: Option<u32>,
    /// What kind of box is added.
    pub new_box: Option<BoxKind>,
    /// Its inner length.
    pub new_mm: Option<u32>,
    /// How many copies may be handled to spare a box.
    pub new_box_weight: Option<u32>,
    /// How many to keep a title together.
    pub split_weight: Option<u32>,
}

/// What an order would mean.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RuleExample {
    /// The order.
    pub order: String,
    /// Where annuals stand.
    pub annuals: Annuals,
    /// Some copies in that order: those where it differs from the present one, or else the first.
    pub example: Vec<NamedCopy>,
    /// Copies in boxes that would stand behind another copy than now.
    pub out_of_place: u32,
    /// The labels of boxes in which they would stand so. No row says where in its box a copy stands, so that these are to be sorted
    /// before what is said of places in them is true.
    pub to_sort: Vec<String>,
}

/// Books that were measured together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasuredBooks {
    /// Its number.
    pub measurement: i64,
    /// When.
    pub measured_on: Date,
    /// How many, how long, and how long by the estimate alone.
    #[serde(flatten)]
    pub books: Measurement,
    /// Which books.
    pub note: String,
}

/// What is set about filing.
///
/// # Errors
/// If the collection can't be read.
pub fn filing_settings(store: &Store) -> Result<FilingSettings, StoreError> {
    let usual = PlanOptions::default();
    let number = |name: &str, usual: u32| Ok::<_, StoreError>(store.filing_setting(name)?.unwrap_or(usual));
    let rule = store.filing_setting::<FilingRule>("order")?.unwrap_or_default();
    let rule = rule.with_annuals(store.filing_setting("annuals")?.unwrap_or_default());
    let new_kind = store.filing_setting("new_box")?.unwrap_or(usual.new_kind);
    let options = PlanOptions {
        fill_percent: number("fill_percent", usual.fill_percent)?,
        short_series: number("short_series", usual.short_series)?,
        divider_um: number("divider_um", usual.divider_um)?,
        new_kind,
        new_mm: number("new_mm", new_kind.inner_mm())?,
        weights: Weights {
            new_box: number("new_box_weight", usual.weights.new_box)?,
            split: number("split_weight", usual.weights.split)?,
        },
        families: rule.keeps_families(),
        anew: false,
    };
    let measured: Vec<Measurement> = store.measurements()?.into_iter().map(|(_, _, books, _)| books).collect();
    Ok(FilingSettings { rule, options, calibration: Calibration::fit(&measured) })
}

/// Sets how plans are made.
///
/// # Errors
/// If the collection fails.
pub fn settings_set(store: &Store, change: &SettingsChange, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Filing, now, |writer| {
        let numbers = [
            ("fill_percent", change.fill_percent),
            ("short_series", change.short_series),
            ("divider_um", change.divider_um),
            // Another kind of box has another usual length.
            ("new_mm", change.new_mm.or(change.new_box.map(BoxKind::inner_mm))),
            ("new_box_weight", change.new_box_weight),
            ("split_weight", change.split_weight),
        ];
        for (name, value) in numbers {
            value.map_or(Ok(()), |value| writer.set_filing_setting(name, &value.to_string()))?;
        }
        change.new_box.map_or(Ok(()), |kind| writer.set_filing_setting("new_box", kind.word()))?;
        Ok::<_, WorkflowError>(())
    })?;
    Ok(run)
}

/// What an order would mean for the copies in boxes and those to be filed. Nothing is set.
///
/// # Errors
/// If the collection can't be read.
pub fn rule_example(store: &Store, rule: &FilingRule) -> Result<RuleExample, WorkflowError> {
    store.read(|store| {
        let boxes = store.boxes()?;
        let now = order_of(store, None)?;
        let then = order_of(store, Some(rule))?;
        let differs = now.iter().zip(&then).position(|(now, then)| now != then).unwrap_or(0);
        let example = then.iter().skip(differs.saturating_sub(1)).take(EXAMPLE);
        let example = example.map(|&(copy, _)| store.named_copy(copy)).collect::<Result<_, _>>()?;
        let neighbours = |order: &[Standing]| {
            let filed: Vec<CopyId> = order.iter().filter(|(_, at)| at.is_some()).map(|(copy, _)| *copy).collect();
            let before: std::collections::HashMap<_, _> = filed.windows(2).map(|two| (two[1], two[0])).collect();
            before
        };
        let (before, after) = (neighbours(&now), neighbours(&then));
        let out_of_place = after.iter().filter(|(copy, behind)| before.get(copy) != Some(behind)).count() as u32;
        let (now, then) = (contents(&boxes, &now), contents(&boxes, &then));
        let otherwise = boxes.iter().zip(now.iter().zip(&then)).filter(|(_, (now, then))| now != then);
        let to_sort = otherwise.map(|(shelf, _)| shelf.label.clone()).collect();
        Ok(RuleExample { order: rule.to_string(), annuals: rule.annuals(), example, out_of_place, to_sort })
    })
}

/// A copy and its box, by its place among all.
type Standing = (CopyId, Option<u32>);

/// All copies in an order (the present one if none is given), and the box in which each stands.
fn order_of(store: &Store, rule: Option<&FilingRule>) -> Result<Vec<Standing>, StoreError> {
    let known = wall::whole_in_order(store, rule)?;
    Ok(known.wall.books.iter().map(|book| (book.copy, book.at)).collect())
}

/// What stands in each box, in an order.
fn contents(boxes: &[ShelfBox], order: &[Standing]) -> Vec<Vec<CopyId>> {
    let mut contents = vec![Vec::new(); boxes.len()];
    for &(copy, at) in order {
        if let Some(at) = at {
            contents[at as usize].push(copy);
        }
    }
    contents
}

/// Sets the order.
///
/// # Errors
/// If the collection fails.
pub fn rule_set(store: &Store, rule: &FilingRule, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Filing, now, |writer| {
        writer.set_filing_setting("order", &rule.to_string())?;
        writer.set_filing_setting("annuals", &rule.annuals().to_string())
    })?;
    Ok(run)
}

/// What was measured.
///
/// # Errors
/// If the collection can't be read.
pub fn measurements(store: &Store) -> Result<Vec<MeasuredBooks>, WorkflowError> {
    let known = store.measurements()?.into_iter();
    let known =
        known.map(|(measurement, measured_on, books, note)| MeasuredBooks { measurement, measured_on, books, note });
    Ok(known.collect())
}

/// Keeps a measurement: of so many books of this make, or of all that stand in a box.
///
/// # Errors
/// If there is no such box, nothing stands in it, the length can't be, or the collection fails.
pub fn filing_measure(
    store: &Store,
    label: Option<&str>,
    books: Option<u32>,
    make: Make,
    measured_um: u64,
    today: Date,
    now: Timestamp,
) -> Result<Calibration, WorkflowError> {
    let shelf = label.map(|label| store.box_labelled(label)).transpose()?;
    let (mut count, mut um) = (0_u32, 0_u64);
    if let Some(shelf) = &shelf {
        store.shelf_rows(Shelved::In(shelf.id), |row| {
            count += 1;
            um += u64::from(row.make.um());
        })?;
    }
    // What is counted in the box goes before what is recorded in it: its mean is taken for those.
    let (count, um) = match (books, count) {
        (Some(books), 0) => (books, u64::from(books) * u64::from(make.um())),
        (Some(books), recorded) => (books, um * u64::from(books) / u64::from(recorded)),
        (None, recorded) => (recorded, um),
    };
    let measured = Measurement::new(count, measured_um, um)?;
    let note = shelf.map_or_else(String::new, |shelf| shelf.label);
    store.write(&mut None, RunKind::Filing, now, |writer| writer.insert_measurement(today, &measured, &note))?;
    Ok(filing_settings(store)?.calibration)
}

/// Forgets a measurement.
///
/// # Errors
/// If there is none of that number, or the collection fails.
pub fn measurement_remove(store: &Store, measurement: i64, now: Timestamp) -> Result<Calibration, WorkflowError> {
    store.write(&mut None, RunKind::Filing, now, |writer| writer.remove_measurement(measurement))?;
    Ok(filing_settings(store)?.calibration)
}
