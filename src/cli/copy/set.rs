use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::Date;

use super::super::day::Day;
use super::super::edit::{edit, or_none};
use super::super::failure::{Failure, Outcome};
use super::super::select::{Select, Several};
use super::super::ui::Ui;
use super::{Exit, Global, tell};
use crate::collection::{BagMaterial, Board, CopyChange, Discount, Edit, Grade, Money, SizeClass};
use crate::picture::{self, Limits};
use crate::workflow::copy_set;

/// Changes what is known of copies; 'none' makes a thing unknown again
///
/// All that are selected change in one run, which undo takes back. Where it is not known what was paid, it is worked out from
/// the price asked, or else the cover's, the discount and the tax, once one of them but the cover's is given.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward copy set --copy 12 --condition 9.4 --defects 'small crease at the spine'\n  \
                        boxward copy set tide wardens 1-12 --not-bagged --bag polypropylene --board acid-free --dry-run"
)]
pub(super) struct Arguments {
    #[command(flatten)]
    select: Select,
    #[command(flatten)]
    several: Several,
    /// Condition on the ten-point scale, such as 9.4 or 'near mint'
    #[arg(long, value_name = "CONDITION", value_parser = or_none::<Grade>)]
    condition: Option<Edit<Grade>>,
    /// Notes of defects
    #[arg(long, value_name = "TEXT", value_parser = or_none::<String>)]
    defects: Option<Edit<String>>,
    /// Who signed it
    #[arg(long, value_name = "NAME", value_parser = or_none::<String>)]
    signed_by: Option<Edit<String>>,
    /// The bag: polypropylene, polyethylene, polyester or unknown
    #[arg(long, value_name = "MATERIAL", value_parser = or_none::<BagMaterial>)]
    bag: Option<Edit<BagMaterial>>,
    /// The backing board: acid-free, buffered or unknown
    #[arg(long, value_name = "MATERIAL", value_parser = or_none::<Board>)]
    board: Option<Edit<Board>>,
    /// The size of bag and board: current, silver, golden, magazine, treasury or digest
    #[arg(long, value_name = "SIZE", value_parser = or_none::<SizeClass>)]
    bag_size: Option<Edit<SizeClass>>,
    /// Since when it is in its bag; today, if a bag is given and no day
    #[arg(long, value_name = "DAY", value_parser = or_none::<Date>)]
    bagged_on: Option<Edit<Date>>,
    /// Where it was bought
    #[arg(long, value_name = "SHOP", value_parser = or_none::<String>)]
    bought_at: Option<Edit<String>>,
    /// When it was bought
    #[arg(long, value_name = "DAY", value_parser = or_none::<Date>)]
    bought_on: Option<Edit<Date>>,
    /// What it cost, all in all, such as '3.99 USD'
    #[arg(long, value_name = "MONEY", value_parser = or_none::<Money>)]
    paid: Option<Edit<Money>>,
    /// The price on its cover
    #[arg(long, value_name = "MONEY", value_parser = or_none::<Money>)]
    cover_price: Option<Edit<Money>>,
    /// What the shop asked instead, as for a back issue
    #[arg(long, value_name = "MONEY", value_parser = or_none::<Money>)]
    asked: Option<Edit<Money>>,
    /// What the shop took off, such as '10 %'
    #[arg(long, value_name = "PERCENT", value_parser = or_none::<Discount>)]
    less: Option<Edit<Discount>>,
    /// The tax that came on top
    #[arg(long, value_name = "MONEY", value_parser = or_none::<Money>)]
    tax: Option<Edit<Money>>,
    /// What its owner holds it to be worth: no appraisal
    #[arg(long, value_name = "MONEY", value_parser = or_none::<Money>)]
    value: Option<Edit<Money>>,
    /// Keeps a small copy of this photo, for one copy
    #[arg(long, value_name = "FILE", value_parser = or_none::<String>)]
    photo: Option<Edit<String>>,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let change = CopyChange {
        acquired: edit(&arguments.bought_on),
        shop: edit(&arguments.bought_at),
        paid: edit(&arguments.paid),
        condition: edit(&arguments.condition),
        defects: edit(&arguments.defects),
        signed_by: edit(&arguments.signed_by),
        value: edit(&arguments.value),
        bag: edit(&arguments.bag),
        board: edit(&arguments.board),
        bag_size: edit(&arguments.bag_size),
        bagged_on: edit(&arguments.bagged_on),
        cover_price: edit(&arguments.cover_price),
        asked: edit(&arguments.asked),
        discount: edit(&arguments.less),
        tax: edit(&arguments.tax),
    };
    if change == CopyChange::default() && arguments.photo.is_none() {
        return Err(Failure::call("nothing says what is to change").hint("boxward copy set --help shows what can"));
    }
    let photo = match edit(&arguments.photo) {
        Edit::Keep => Edit::Keep,
        Edit::Clear => Edit::Clear,
        Edit::To(file) => Edit::To(kept(&PathBuf::from(file))?),
    };
    let bulk = arguments.several.bulk(true, Day::Today.date(global.now()));
    let selection = arguments.several.selection(&arguments.select, global.now());
    let changed = copy_set(&global.existing_store()?, &selection, &change, &photo, bulk, global.now())?;
    tell::changed(&changed, arguments.json, bulk.dry_run, ui)?;
    Ok(Exit::Done)
}

fn kept(file: &Path) -> Result<Vec<u8>, Failure> {
    let limits = Limits::default();
    picture::bytes(file, &limits).and_then(|bytes| picture::keepsake(&bytes, &limits)).map_err(|error| {
        let mut failure = Failure::new(Exit::Data, &error);
        failure.messages.insert(0, format!("{} gives no photo to keep", file.display()));
        failure
    })
}
