//! From the reading pile into the right box: the filing order, how thick copies are, what boxes are for, and the
//! put-away plan.
//!
//! Plain values in, plain values out: rows are left to [`crate::store`], the steps to [`crate::workflow`].

mod anew;
mod calibration;
mod cut;
mod order;
mod plan;
mod row;
mod sheet;
mod shelf;
mod supplies;
mod thickness;
mod wall;
mod work;

pub use anew::anew;
pub use calibration::{Calibration, Measurement, MeasurementError};
pub use cut::{Cut, CutError, Part, Slot, Task, Weights, cut};
pub use order::{Annuals, FilingKey, FilingRule, KeyBytes, Level, RuleError, Within, is_numbered};
pub use plan::{Divider, Plan, PlanCost, PlanError, PlanOptions, PlannedBox, plan};
pub use sheet::{NamedCopy, Put, Sheet, SheetBox, SheetRun, Taken, WallBox};
pub use shelf::{BoxId, BoxKind, Place, Purpose, ShelfBox};
pub use supplies::{Item, ItemError, Stock, Supply};
pub use thickness::{BAG_UM, BOARD_UM, Make, is_bagged, needs_wide_box};
pub use wall::{Book, Section, ShelfTitle, Wall};
pub use work::{PutRun, Take, Work};
