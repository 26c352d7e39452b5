//! Answers to keep, to print or to hand on: plain values to pages and tables.
//!
//! Every page is written with maud's `html!` inside `page`'s frame: what stands in `( )` is escaped, so that a title may
//! contain markup. What the values are is left to [`crate::collection`], where a page is written to the command line.

mod inventory;
mod box_list;
mod page;
mod pocket;
mod plot;
mod run;
mod walk;
mod wall;
mod table;
mod year;

pub use box_list::{BoxCheck, box_page};
pub use inventory::{
    Inventory, NO_APPRAISAL, OLD_BAGS, PublisherCopies, TitleCopies, Totals, inventory_head, inventory_line,
};
pub use page::{START, data_url};
pub use plot::PLOT_STYLE;
pub(crate) use plot::{lying, pairs};
pub use pocket::{PocketTitle, pocket_page};
pub use run::run_page;
pub use walk::{box_markup, copy_markup, walk_page};
pub use wall::{wall_markup, wall_picture};
pub use year::year_page;
