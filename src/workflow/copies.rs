//! Single copies and selections of them: listed, changed, lent, taken back, let go.

use jiff::Timestamp;
use jiff::civil::Date;

use super::selection::{each_selected, scopes};
use super::{Selection, WorkflowError};
use crate::collection::{CopyChange, CopyId, CopyRecord, Departure, Edit, Loan, TitleId};
use crate::intake::RunId;
use crate::store::{CopyEvent, CopyOrder, CopyScope, PartOfTitle, RunKind, Store, StoreError};

/// How a selection is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bulk {
    /// Only tells what would change.
    pub dry_run: bool,
    /// More than one copy, or more than one title, may be meant.
    pub several: bool,
    /// The day on which it happens.
    pub day: Date,
}

/// What a change did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// The copies that it changed, as they are now.
    pub copies: Vec<CopyRecord>,
    /// How many it left as they were, because they were so already.
    pub unchanged: usize,
    /// The run; none if nothing was written.
    pub run: Option<RunId>,
}

/// Hands each copy of a selection to `each`, in order.
///
/// # Errors
/// As `each`; if words are unclear, or the collection can't be read.
pub fn each_copy<E: From<StoreError> + From<WorkflowError>>(
    store: &Store,
    selection: &Selection,
    order: CopyOrder,
    each: &mut dyn FnMut(CopyRecord) -> Result<(), E>,
) -> Result<(), E> {
    let scopes = scopes(store, selection)?;
    each_selected(store, &scopes, &selection.filter, order, each)
}

/// One copy, owned or not.
///
/// # Errors
/// If there is none of that number, or the collection can't be read.
pub fn copy_show(store: &Store, copy: CopyId) -> Result<CopyRecord, WorkflowError> {
    Ok(store.copy_record(copy)?)
}

/// At most `most` copies of a title behind the first `skip`, in order, owned or not; and how many there are.
///
/// # Errors
/// If the collection can't be read.
pub fn title_copies(
    store: &Store,
    title: TitleId,
    skip: usize,
    most: usize,
) -> Result<(Vec<CopyRecord>, usize), WorkflowError> {
    let scope = CopyScope::Titles(vec![(title, PartOfTitle::default())]);
    let (mut copies, mut all) = (Vec::new(), 0);
    store.each_copy(&scope, CopyOrder::Title, &mut |copy| {
        if all >= skip && copies.len() < most {
            copies.push(copy);
        }
        all += 1;
        Ok::<_, WorkflowError>(())
    })?;
    Ok((copies, all))
}

/// The runs that made and changed a copy, latest first, each with what it touched.
///
/// # Errors
/// If the collection can't be read.
pub fn copy_history(store: &Store, copy: CopyId) -> Result<Vec<CopyEvent>, WorkflowError> {
    Ok(store.read(|store| store.copy_history(copy))?)
}

/// The picture of the code that a copy came in by, as PNG, if one is kept.
///
/// # Errors
/// If the collection can't be read.
pub fn copy_crop(store: &Store, copy: CopyId) -> Result<Option<Vec<u8>>, WorkflowError> {
    Ok(store.copy_crop(copy)?)
}

/// The photo kept of a copy, as JPEG, if one is.
///
/// # Errors
/// If the collection can't be read.
pub fn copy_photo(store: &Store, copy: CopyId) -> Result<Option<Vec<u8>>, WorkflowError> {
    Ok(store.copy_photo(copy)?)
}

/// Changes what is known of copies, and perhaps the photo (JPEG) that is kept of one.
///
/// # Errors
/// If nothing is selected or nothing fits, a photo is given for several copies, or the collection fails.
pub fn copy_set(
    store: &Store,
    selection: &Selection,
    change: &CopyChange,
    photo: &Edit<Vec<u8>>,
    bulk: Bulk,
    now: Timestamp,
) -> Result<Changed, WorkflowError> {
    let several = bulk.several && *photo == Edit::Keep;
    let changed = alter(store, selection, Bulk { several, ..bulk }, photo, now, &|copy| {
        copy.change(change, bulk.day);
        Ok(())
    });
    match changed {
        Err(WorkflowError::SeveralCopies { copies }) if *photo != Edit::Keep => Err(WorkflowError::OnePhoto { copies }),
        other => other,
    }
}

/// Lends copies to a person.
///
/// # Errors
/// If nothing fits, more fits than is meant, one is lent already, or the collection fails.
pub fn copy_lend(
    store: &Store,
    selection: &Selection,
    to: &str,
    bulk: Bulk,
    now: Timestamp,
) -> Result<Changed, WorkflowError> {
    alter(store, selection, bulk, &Edit::Keep, now, &|copy| {
        if let Some(loan) = &copy.lent {
            return Err(StoreError::LentAlready { copy: copy.copy, to: loan.to.clone() }.into());
        }
        copy.lent = Some(Loan { to: to.trim().to_owned(), since: bulk.day });
        Ok(())
    })
}

/// Takes lent copies back.
///
/// # Errors
/// If nothing fits, one is not lent or was lent later, or the collection fails.
pub fn copy_returned(
    store: &Store,
    selection: &Selection,
    bulk: Bulk,
    now: Timestamp,
) -> Result<Changed, WorkflowError> {
    alter(store, selection, bulk, &Edit::Keep, now, &|copy| match copy.lent.take() {
        Some(Loan { since, .. }) if bulk.day < since => {
            Err(WorkflowError::BackBeforeLent { copy: copy.copy, since, day: bulk.day })
        }
        Some(_) => Ok(()),
        None => Err(StoreError::NotLent(copy.copy).into()),
    })
}

/// Lets copies leave: they stay in the record, and in what was spent.
///
/// # Errors
/// If nothing fits, more fits than is meant, one left already or came later, or the collection fails.
pub fn copy_leave(
    store: &Store,
    selection: &Selection,
    departure: &Departure,
    bulk: Bulk,
    now: Timestamp,
) -> Result<Changed, WorkflowError> {
    alter(store, selection, bulk, &Edit::Keep, now, &|copy| match copy.gone.replace(departure.clone()) {
        Some(_) => Err(StoreError::LeftAlready(copy.copy).into()),
        None => match copy.acquired {
            Some(acquired) if departure.on < acquired => {
                Err(WorkflowError::GoneBeforeItCame { copy: copy.copy, acquired, day: departure.on })
            }
            _ => Ok(()),
        },
    })
}

/// All that is selected or, if something is wrong with one of it, nothing.
fn alter(
    store: &Store,
    selection: &Selection,
    bulk: Bulk,
    photo: &Edit<Vec<u8>>,
    now: Timestamp,
    change: &dyn Fn(&mut CopyRecord) -> Result<(), WorkflowError>,
) -> Result<Changed, WorkflowError> {
    if !selection.says_something() {
        return Err(WorkflowError::NothingSelected);
    }
    let scopes = scopes(store, selection)?;
    let mut changed = Changed { copies: Vec::new(), unchanged: 0, run: None };
    if bulk.dry_run {
        let plan = store.read(|store| planned(store, selection, &scopes, bulk, change))?;
        keep(&mut changed, &plan, photo);
        return Ok(changed);
    }
    let mut run = None;
    store.write(&mut run, RunKind::Copy, now, |writer| {
        let plan = planned(writer, selection, &scopes, bulk, change)?;
        keep(&mut changed, &plan, photo);
        for (old, new) in &plan {
            writer.update_copy(old, new, bulk.day)?;
            match photo {
                Edit::Keep => {}
                Edit::Clear => writer.set_copy_photo(new.copy, None)?,
                Edit::To(jpeg) => writer.set_copy_photo(new.copy, Some(jpeg))?,
            }
        }
        Ok::<_, WorkflowError>(())
    })?;
    Ok(Changed { run, ..changed })
}

fn keep(changed: &mut Changed, plan: &[(CopyRecord, CopyRecord)], photo: &Edit<Vec<u8>>) {
    for (old, new) in plan {
        let has_photo = match photo {
            Edit::Keep => new.photo,
            Edit::Clear => false,
            Edit::To(_) => true,
        };
        let new = CopyRecord { photo: has_photo, ..new.clone() };
        if *old == new && !matches!(photo, Edit::To(_)) {
            changed.unchanged += 1;
        } else {
            changed.copies.push(new);
        }
    }
}

/// Each selected copy before and after the change.
fn planned(
    store: &Store,
    selection: &Selection,
    scopes: &[CopyScope],
    bulk: Bulk,
    change: &dyn Fn(&mut CopyRecord) -> Result<(), WorkflowError>,
) -> Result<Vec<(CopyRecord, CopyRecord)>, WorkflowError> {
    let mut plan: Vec<(CopyRecord, CopyRecord)> = Vec::new();
    each_selected(store, scopes, &selection.filter, CopyOrder::Title, &mut |old: CopyRecord| {
        if old.gone.is_some() && !selection.filter.gone {
            return Err(StoreError::LeftAlready(old.copy).into());
        }
        let mut new = old.clone();
        change(&mut new)?;
        plan.push((old, new));
        Ok::<_, WorkflowError>(())
    })?;
    let query = || selection.words.trim().to_owned();
    let mut titles: Vec<_> = plan.iter().map(|(old, _)| old.title.id).collect();
    titles.dedup();
    match plan.len() {
        0 => Err(WorkflowError::NoCopyFits),
        copies if copies > 1 && !bulk.several => Err(WorkflowError::SeveralCopies { copies }),
        _ if titles.len() > 1 && !query().is_empty() => {
            Err(WorkflowError::SeveralTitles { query: query(), titles: titles.len() })
        }
        _ => Ok(plan),
    }
}
