//! Filing: boxes, the filing rule, the walk that puts copies away, and where each stands.

mod audit;
mod boxes;
mod coming;
mod count;
mod find;
mod names;
mod settings;
mod supplies;
mod walk;
mod wall;

pub use audit::{Audit, MisplacedCopy, MissingCopy, UnknownCode, audit};
pub use boxes::{
    BoxChange, BoxContent, BoxFill, ContentLine, PurposeAsked, box_add, box_list, box_retire, box_set, box_show,
    purpose_in_words,
};
pub use count::filing_count;
pub use find::{FoundCopy, Spot, find, find_copy};
pub use settings::{
    FilingSettings, MeasuredBooks, RuleExample, SettingsChange, filing_measure, filing_settings, measurement_remove,
    measurements, rule_example, rule_set, settings_set,
};
pub use supplies::{StockChange, stock_set, supplies};
pub use walk::{BoxDone, PlanAsked, Walk, file_done, file_plan, walk_left};
