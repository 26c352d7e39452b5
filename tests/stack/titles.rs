//! The invented world: publishers, titles and people that do not exist, under the example prefix 0614141.

use crate::render::symbol::{check, digits};
use crate::render::{Book, Cover, Pose, Symbol};

/// A title as a collector would enter it.
pub struct Title {
    /// The five digits after the prefix 614141; an ISBN's or another number's first twelve digits otherwise.
    pub item: &'static str,
    /// Who publishes it.
    pub publisher: &'static str,
    /// Its name.
    pub title: &'static str,
    /// The year its run starts.
    pub start_year: u16,
    /// How its add-ons are read: `IIICP`, `IICCP`, `month` (two digits) or `price` (an ISBN's).
    pub layout: &'static str,
}

const fn title(
    item: &'static str,
    publisher: &'static str,
    title: &'static str,
    start_year: u16,
    layout: &'static str,
) -> Title {
    Title { item, publisher, title, start_year, layout }
}

pub const TIDE_WARDENS: Title = title("00104", "Lantern Row", "Tide Wardens", 2023, "IIICP");
pub const SALT_MERIDIAN: Title = title("00127", "Lantern Row", "Salt Meridian", 2025, "IIICP");
pub const ORLA_QUILL: Title = title("02310", "Brass Heron", "Orla Quill, Night Courier", 2024, "IICCP");
pub const MOTH_PARLIAMENT: Title = title("02366", "Brass Heron", "Moth Parliament", 2016, "IIICP");
pub const COPPER_SAINTS: Title = title("05508", "Ninth Kettle", "Copper Saints of Vell", 2021, "IICCP");
pub const HEX_AND_HARBOUR: Title = title("05591", "Ninth Kettle", "Hex & Harbour", 2025, "IIICP");
pub const CAPTAIN_UMBER: Title = title("09020", "Umber & Daughters", "Captain Umber", 1984, "month");
/// An ISBN of nothing but nines after the group 979-8, in a range that is split as 979-8-9999999-9-3: clearly invented.
pub const LOW_WATER: Title = title("979899999999", "Lantern Row", "Tide Wardens: Low Water", 2025, "price");

/// Every title of the example stack.
pub const TITLES: [&Title; 8] = [
    &TIDE_WARDENS,
    &SALT_MERIDIAN,
    &ORLA_QUILL,
    &MOTH_PARLIAMENT,
    &COPPER_SAINTS,
    &HEX_AND_HARBOUR,
    &CAPTAIN_UMBER,
    &LOW_WATER,
];

impl Title {
    /// The thirteen digits.
    pub fn code(&self) -> String {
        let body = if self.item.len() == 12 { self.item.to_owned() } else { format!("0614141{}", self.item) };
        let last = check(&digits::<12>(&body));
        format!("{body}{last}")
    }

    /// The main symbol: an ISBN as EAN-13, else UPC-A.
    pub fn symbol(&self) -> Symbol {
        let all = digits::<13>(&self.code());
        if all[0] != 0 { Symbol::ean_13(all) } else { Symbol::upc_a(std::array::from_fn(|i| all[i + 1])) }
    }

    /// A single issue with a five-digit add-on. Same issue and cover: same artwork.
    pub fn issue(&self, add_on: &str, number: &str) -> Book {
        let five = digits::<5>(add_on);
        let seed = digits::<5>(self.item).into_iter().chain(five[..4].iter().copied());
        let seed = seed.fold(7, |n, d| n * 11 + u64::from(d));
        let line = format!("#{number} $4.99 {}", self.publisher);
        let cover = Cover::front(seed, self.title, &line, caption(seed));
        Book::new(self.symbol().with_five(five), cover, Pose::default())
    }
}

fn caption(seed: u64) -> &'static str {
    let captions = ["The last ferry!", "Who rang the bell?", "In the drowned hall!", "A vote of wings!", ""];
    captions[(seed % captions.len() as u64) as usize]
}

/// The list of titles as JSON: what a collector would answer if asked for each code.
pub fn json() -> String {
    let line = |t: &&Title| {
        let Title { publisher, title, start_year, layout, .. } = t;
        let code = t.code();
        format!(
            r#"  {{"code": "{code}", "publisher": "{publisher}", "title": "{title}", "start_year": {start_year}, "layout": "{layout}"}}"#
        )
    };
    format!("[\n{}\n]\n", TITLES.iter().map(line).collect::<Vec<_>>().join(",\n"))
}
