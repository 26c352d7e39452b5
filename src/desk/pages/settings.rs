//! What is set: how books are filed, what is in stock, how lists are read.

use std::sync::Arc;

use axum::Router;
use axum::extract::Query;
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use crate::collection::{Money, SizeClass};
use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{choice, field, given, issue_in_words, named, number};
use crate::filing::{Annuals, BoxKind, FilingRule, Item, Stock, Supply, is_bagged};
use crate::workflow::{self, FilingSettings, RuleExample, SettingsChange, StockChange, WorkflowError};

/// Supplies are counted for so many coming weeks, unless others are asked for.
const WEEKS: u32 = 4;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/settings", get(show))
        .route("/settings/filing", post(set_filing))
        .route("/settings/order", get(order).post(set_order))
        .route("/settings/stock", post(set_stock))
        .route("/settings/buy", get(buy))
        .route("/settings/list/remove", post(remove_list))
}

/// Everything that is counted.
fn items() -> impl Iterator<Item = Item> {
    let sizes = || SizeClass::ALL.into_iter().filter(|size| is_bagged(*size));
    let bags = sizes().map(Item::Bags).chain(sizes().map(Item::Boards));
    bags.chain([Item::Dividers]).chain(BoxKind::ALL.map(Item::Boxes))
}

async fn show(view: View) -> Answer {
    let (filing, stock, lists) = view
        .ask(|store| {
            let stock =
                items().map(|item| Ok((item, store.stock(item)?))).collect::<Result<Vec<_>, WorkflowError>>()?;
            Ok::<_, WorkflowError>((workflow::filing_settings(store)?, stock, workflow::list_presets(store)?))
        })
        .await?;
    let names: Vec<String> = lists.into_iter().map(|(name, _)| name).collect();
    let body = html! {
        section { h2 { "How plans are made" } (filing_form(&view, &filing)) }
        section { h2 { "The filing order" } (order_form(&filing.rule)) }
        section { h2 { "Supplies in stock" } (stock_table(&stock)) (stock_form(&view)) (buy_form(WEEKS)) }
        section { h2 { "How lists are read" } (list_table(&view, &names)) }
    };
    view.page(Place::Safety, "Filing, supplies and lists", body).await
}

fn filing_form(view: &View, settings: &FilingSettings) -> Markup {
    let options = &settings.options;
    let divider_mm = format!("{}", f64::from(options.divider_um) / 1000.0);
    view.form(
        "/settings/filing",
        html! {
            div.columns {
                (field("Boxes are filled up to", "fill", &options.fill_percent.to_string(), "% of their length"))
                (field("A divider is thick", "divider_mm", &divider_mm, "mm"))
                (field("Titles with fewer copies share a divider", "short_series", &options.short_series.to_string(), "where families stay together"))
                (choice("A box that is added is", "new_box", Some(options.new_kind.word()), None, BoxKind::ALL.map(BoxKind::word)))
                (field("It is inside long", "new_mm", &options.new_mm.to_string(), "mm"))
                (field("Copies rather moved than a box added", "new_box_weight", &options.weights.new_box.to_string(), ""))
                (field("Copies rather moved than a title split", "split_weight", &options.weights.split.to_string(), ""))
            }
            button { "Keep these" }
        },
    )
}

#[derive(Debug, Deserialize)]
struct FilingAsked {
    fill: String,
    divider_mm: String,
    short_series: String,
    new_box: String,
    new_mm: String,
    new_box_weight: String,
    split_weight: String,
    #[serde(default)]
    back: String,
}

/// A number within bounds.
fn within(name: &str, text: &str, least: u32, most: u32) -> Result<Option<u32>, Trouble> {
    match number::<u32>(name, text)? {
        Some(given) if !(least..=most).contains(&given) => {
            Err(Trouble::data(format!("{name}: {given} is not from {least} to {most}")))
        }
        given => Ok(given),
    }
}

/// Millimetres with a decimal point as micrometres.
fn divider_um(text: &str) -> Result<Option<u32>, Trouble> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let mm = text.trim().replace(',', ".").parse::<f64>().ok().filter(|mm| (0.0..=20.0).contains(mm));
    let mm = mm.ok_or_else(|| Trouble::data(format!("a divider is thick: '{text}' is not from 0 to 20 mm")))?;
    Ok(Some((mm * 1000.0).round() as u32))
}

async fn set_filing(view: View, Fields(asked): Fields<FilingAsked>) -> Answer {
    let now = view.now();
    // The bounds of the command line.
    let typed = SettingsChange {
        fill_percent: within("boxes are filled up to", &asked.fill, 10, 100)?,
        short_series: number("titles with fewer copies", &asked.short_series)?,
        divider_um: divider_um(&asked.divider_mm)?,
        new_box: given("a box that is added", &asked.new_box)?,
        new_mm: within("it is inside long", &asked.new_mm, 50, 3000)?,
        new_box_weight: within("copies rather moved than a box added", &asked.new_box_weight, 1, 1000)?,
        split_weight: within("copies rather moved than a title split", &asked.split_weight, 0, 1000)?,
    };
    let run = view
        .ask(move |store| {
            let known = workflow::filing_settings(store)?.options;
            let new = |typed: Option<u32>, known: u32| typed.filter(|typed| *typed != known);
            let change = SettingsChange {
                fill_percent: new(typed.fill_percent, known.fill_percent),
                short_series: new(typed.short_series, known.short_series),
                divider_um: new(typed.divider_um, known.divider_um),
                new_box: typed.new_box.filter(|kind| *kind != known.new_kind),
                // Another kind of box has another usual length, unless another is typed too.
                new_mm: new(typed.new_mm, known.new_mm),
                new_box_weight: new(typed.new_box_weight, known.weights.new_box),
                split_weight: new(typed.split_weight, known.weights.split),
            };
            workflow::settings_set(store, &change, now)
        })
        .await?;
    lead(&asked.back, run)
}

fn order_form(rule: &FilingRule) -> Markup {
    html! {
        form method="get" action="/settings/order" {
            (field("The order", "order", &rule.to_string(), "of publisher, family, title, volume, issue, cover, printing"))
            (choice("Annuals stand", "annuals", Some(&rule.annuals().to_string()), None, ["behind", "before", "dated"]))
            button.plain { "Show what that means" }
        }
    }
}

#[derive(Debug, Deserialize)]
struct OrderAsked {
    order: String,
    annuals: String,
}

impl OrderAsked {
    fn rule(&self) -> Result<FilingRule, Trouble> {
        let rule: FilingRule = given("the order", &self.order)?
            .ok_or_else(|| Trouble::data("the order: say what books are ordered by"))?;
        let annuals: Annuals = given("annuals stand", &self.annuals)?.unwrap_or_default();
        Ok(rule.with_annuals(annuals))
    }
}

/// How many boxes are named of those to be sorted.
const BOXES_NAMED: usize = 20;

async fn order(view: View, Query(asked): Query<OrderAsked>) -> Answer {
    let rule = asked.rule()?;
    let (rule, example) =
        view.ask(move |store| workflow::rule_example(store, &rule).map(|example| (rule, example))).await?;
    let body = html! {
        p { strong { (example.order) } "; annuals " (example.annuals) }
        (order_example(&example))
        (view.form("/settings/order", html! {
            input type="hidden" name="order" value=(rule);
            input type="hidden" name="annuals" value=(rule.annuals());
            button { "Set this order" }
        }))
        section { h2 { "Try another" } (order_form(&rule)) }
    };
    view.page(Place::Safety, "What the order means", body).await
}

fn order_example(example: &RuleExample) -> Markup {
    html! {
        @if example.example.is_empty() { p { "No copy is in a box or to be filed yet." } } @else {
            p { "Copies that would stand behind another copy than now: " (example.out_of_place) }
            @if !example.to_sort.is_empty() {
                p { "Boxes to be sorted, so that what is said of places in them is true: " (example.to_sort.len()) }
                ul { @for label in example.to_sort.iter().take(BOXES_NAMED) { li { (label) } } }
            }
            ol { @for copy in &example.example { li { (named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing))) } } }
        }
    }
}

async fn set_order(view: View, Fields(asked): Fields<OrderAsked>) -> Answer {
    let (now, rule) = (view.now(), asked.rule()?);
    let run = view.ask(move |store| workflow::rule_set(store, &rule, now)).await?;
    lead("/settings", run)
}

fn stock_table(stock: &[(Item, Stock)]) -> Markup {
    let known = |stock: &Stock| stock.on_hand > 0 || stock.pack.is_some() || stock.pack_price.is_some();
    html! {
        @if !stock.iter().any(|(_, stock)| known(stock)) { p { "Nothing is counted yet." } } @else {
            div.wide tabindex="0" role="region" aria-label="Supplies in stock" { table {
                caption { "What is there, and what a pack is" }
                thead { tr { th scope="col" { "Item" } th.number scope="col" { "There" } th.number scope="col" { "A pack holds" } th.number scope="col" { "A pack costs" } } }
                tbody { @for (item, stock) in stock.iter().filter(|(_, stock)| known(stock)) {
                    tr { th scope="row" { (item_words(*item)) } td.number { (stock.on_hand) } td.number { (stock.pack.unwrap_or(item.usual_pack())) }
                        td.number { @if let Some(price) = stock.pack_price { (price) } } }
                } }
            } }
        }
    }
}

fn item_words(item: Item) -> String {
    match item {
        Item::Bags(size) => format!("bags, {size}"),
        Item::Boards(size) => format!("boards, {size}"),
        Item::Dividers => "dividers".to_owned(),
        Item::Boxes(kind) => format!("boxes, {kind}"),
    }
}

fn stock_form(view: &View) -> Markup {
    view.form(
        "/settings/stock",
        html! {
            div.row {
                label { "Item" select name="item" { @for item in items() { option value=(item) { (item_words(item)) } } } }
                (field("There", "on_hand", "", ""))
                (field("A pack holds", "pack", "", ""))
                (field("A pack costs", "price", "", "such as 9.50 USD"))
                button.plain { "Count it" }
            }
            p.dim { "Stock is counted by hand: what is bagged and filed lowers nothing." }
        },
    )
}

#[derive(Debug, Deserialize)]
struct StockAsked {
    item: String,
    on_hand: String,
    pack: String,
    price: String,
    #[serde(default)]
    back: String,
}

async fn set_stock(view: View, Fields(asked): Fields<StockAsked>) -> Answer {
    let now = view.now();
    let item: Item = given("item", &asked.item)?.ok_or_else(|| Trouble::data("item: say what was counted"))?;
    let change = StockChange {
        on_hand: number("there", &asked.on_hand)?,
        pack: within("a pack holds", &asked.pack, 1, 100_000)?,
        pack_price: given::<Money>("a pack costs", &asked.price)?,
    };
    let run = view.ask(move |store| workflow::stock_set(store, item, &change, now)).await?;
    lead(&asked.back, run)
}

fn buy_form(weeks: u32) -> Markup {
    html! {
        form method="get" action="/settings/buy" { div.row {
            (field("What to buy, for so many coming weeks", "weeks", &weeks.to_string(), "")) button.plain { "Count what is needed" }
        } }
    }
}

#[derive(Debug, Deserialize)]
struct BuyAsked {
    #[serde(default)]
    weeks: String,
}

async fn buy(view: View, Query(asked): Query<BuyAsked>) -> Answer {
    let (today, weeks) = (view.today(), within("weeks", &asked.weeks, 0, 520)?.unwrap_or(WEEKS));
    let supplies = view.ask(move |store| workflow::supplies(store, weeks, today)).await?;
    let body = html! {
        (buy_form(weeks))
        (buy_table(&supplies, weeks))
        p.dim { "Full boxes are heavy: lift them with care, stack no more cardboard boxes than their maker allows, and keep them off bare floors and outside walls." }
    };
    view.page(Place::Safety, "What to buy", body).await
}

fn buy_table(supplies: &[Supply], weeks: u32) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="What to buy" { table {
            caption { "For what stands in no box, and for what will come in " (weeks) " weeks" }
            thead { tr {
                th scope="col" { "Item" } th.number scope="col" { "For what is here" } th.number scope="col" { "For what will come" }
                th.number scope="col" { "There" } th.number scope="col" { "Packs to buy" } th.number scope="col" { "For" }
            } }
            tbody { @for supply in supplies {
                tr {
                    th scope="row" { (item_words(supply.item)) }
                    td.number { (supply.here) } td.number { (supply.coming) } td.number { (supply.on_hand) }
                    td.number { @if supply.packs == 0 { span.good { "enough" } } @else { (supply.packs) " of " (supply.pack) } }
                    td.number { @if let (Some(cost), true) = (supply.cost, supply.packs > 0) { (cost) } }
                }
            } }
        } }
    }
}

fn list_table(view: &View, names: &[String]) -> Markup {
    html! {
        @if names.is_empty() { p { "No way to read lists is kept; " code { "boxward catalogue import" } " keeps one under a name." } }
        @else { ul { @for name in names {
            li { (name) " " (view.form("/settings/list/remove", html! {
                input type="hidden" name="name" value=(name);
                button.small { "Forget" span.unseen { " " (name) } }
            })) }
        } } }
    }
}

#[derive(Debug, Deserialize)]
struct ListAsked {
    name: String,
    #[serde(default)]
    back: String,
}

async fn remove_list(view: View, Fields(asked): Fields<ListAsked>) -> Answer {
    let now = view.now();
    let run = view.ask(move |store| workflow::remove_list_preset(store, &asked.name, now)).await?;
    lead(&asked.back, run)
}
