//! Filing: boxes, the filing rule, the walk that puts copies away, and where each stands.

mod boxes;
mod settings;
mod walk;
mod wall;

pub use boxes::{
    BoxChange, BoxContent, BoxFill, ContentLine, PurposeAsked, box_add, box_list, box_retire, box_set, box_show,
};
pub use settings::{
    FilingSettings, MeasuredBooks, RuleExample, SettingsChange, filing_measure, filing_settings, measurement_remove,
    measurements, rule_example, rule_set, settings_set,
};
pub use walk::{BoxDone, PlanAsked, Walk, file_done, file_plan};
