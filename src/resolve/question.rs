//! What only a person can know, as questions whose answer fields are null until they are filled in.

use serde::{Deserialize, Serialize};

use super::answers::{Fault, Fields};
use crate::code::Gtin;
use crate::collection::{Money, TitleId};
use crate::intake::ItemId;
use crate::meaning::Layout;

/// Declares the questions: which items they are about, what is told, what is asked.
macro_rules! questions {
    ($(
        $(#[$doc:meta])*
        $kind:ident $word:literal $name:ident
        about { $(#[$about_doc:meta])* $about:ident: $about_ty:ty }
        told { $($(#[$told_doc:meta])* $told:ident: $told_ty:ty,)* }
        asked { $($(#[$asked_doc:meta])* $asked:ident: $asked_ty:ty,)* }
    )*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, PartialEq, Serialize)]
            pub struct $name {
                $(#[$about_doc])*
                pub $about: $about_ty,
                $($(#[$told_doc])* pub $told: $told_ty,)*
                $($(#[$asked_doc])* pub $asked: Option<$asked_ty>,)*
            }

            impl $name {
                fn parse(fields: &mut Fields) -> Result<Self, Fault> {
                    Ok(Self {
                        $about: fields.take(stringify!($about))?,
                        $($told: fields.take_or_default(stringify!($told))?,)*
                        $($asked: fields.take(stringify!($asked))?,)*
                    })
                }

                fn is_answered(&self) -> bool {
                    [$(self.$asked.is_some()),*].contains(&true)
                }
            }
        )*

        /// A question; with answer fields filled in, an answer. One JSON object, told apart by its field `ask`.
        #[derive(Debug, Clone, PartialEq, Serialize)]
        #[serde(tag = "ask")]
        pub enum Question {
            $($(#[$doc])* #[serde(rename = $word)] $kind($name),)*
        }

        impl Question {
            /// The word in its field `ask`.
            #[must_use]
            pub fn ask(&self) -> &'static str {
                match self { $(Self::$kind(_) => $word,)* }
            }

            /// Whether any answer field is filled in.
            #[must_use]
            pub fn is_answered(&self) -> bool {
                match self { $(Self::$kind(q) => q.is_answered(),)* }
            }

            /// The items that it is about.
            #[must_use]
            pub fn items(&self) -> &[ItemId] {
                match self { $(Self::$kind(q) => About::items(&q.$about),)* }
            }

            pub(super) fn parse(ask: &str, fields: &mut Fields) -> Result<Self, Fault> {
                match ask {
                    $($word => $name::parse(fields).map(Self::$kind),)*
                    _ => Err(Fault::new("ask", format!("'{ask}' is no question; {} are", [$($word),*].join(", ")))),
                }
            }
        }
    };
}

/// One item or several.
trait About {
    fn items(&self) -> &[ItemId];
}

impl About for ItemId {
    fn items(&self) -> &[ItemId] {
        std::slice::from_ref(self)
    }
}

impl About for Vec<ItemId> {
    fn items(&self) -> &[ItemId] {
        self
    }
}

questions! {
    /// Which code does the picture show?
    Code "code" CodeQuestion
    about {
        /// The item.
        item: ItemId
    }
    told {
        /// Where its crop was written.
        crop: Option<String>,
        /// The code that was read but is not certain.
        read: Option<String>,
    }
    asked {
        /// The digits under the bars, with those of the add-on.
        code: String,
        /// True if there is no book to record.
        drop: bool,
    }

    /// Which add-on stands beside the code?
    AddOn "add_on" AddOnQuestion
    about {
        /// The item.
        item: ItemId
    }
    told {
        /// Where its crop was written.
        crop: Option<String>,
        /// Its main code.
        code: Option<Gtin>,
    }
    asked {
        /// Its two or five digits, or `none`.
        add_on: String,
    }

    /// Which title does the code stand for?
    Title "title" TitleQuestion
    about {
        /// All items with the code; the answer settles those that are listed.
        items: Vec<ItemId>
    }
    told {
        /// The code.
        code: Option<Gtin>,
        /// The add-ons seen with it.
        add_ons: Vec<String>,
        /// Titles of codes from the same company.
        proposals: Vec<KnownTitle>,
    }
    asked {
        /// The title's name.
        title: String,
        /// Its publisher.
        publisher: String,
        /// Its volume.
        volume: String,
        /// The year in which it began.
        year: i16,
        /// How its five-digit add-ons are laid out.
        layout: Layout,
        /// What is added to the digits' issue number.
        issue_base: u32,
        /// False if it is no comic: then the items are dropped.
        keep: bool,
    }

    /// Which book is it?
    Book "book" BookQuestion
    about {
        /// All items with the code.
        items: Vec<ItemId>
    }
    told {
        /// The code.
        code: Option<Gtin>,
        /// Its ISBN with hyphens.
        isbn: Option<String>,
        /// The price in its add-on.
        cover_price: Option<Money>,
    }
    asked {
        /// The title's name, shared by all volumes of a series.
        title: String,
        /// Its publisher.
        publisher: String,
        /// Which volume of the title this book is; null if it stands alone.
        volume: String,
        /// The year in which the title began.
        year: i16,
        /// False if it is not for the collection: then the items are dropped.
        keep: bool,
    }

    /// Which of the titles that share the code?
    Which "which" WhichQuestion
    about {
        /// All items with the code; split the list if they belong to different titles.
        items: Vec<ItemId>
    }
    told {
        /// The code.
        code: Option<Gtin>,
        /// The add-ons seen with it.
        add_ons: Vec<String>,
        /// The titles.
        titles: Vec<KnownTitle>,
    }
    asked {
        /// The number of one of the titles.
        title: TitleId,
        /// Or the volume of a new one.
        volume: String,
        /// Or the year in which a new one began.
        year: i16,
    }

    /// How are the title's five-digit add-ons laid out?
    Layout "layout" LayoutQuestion
    about {
        /// All items of the title.
        items: Vec<ItemId>
    }
    told {
        /// The title.
        title: String,
        /// The add-ons seen.
        add_ons: Vec<String>,
    }
    asked {
        /// The layout.
        layout: Layout,
    }

    /// Does the title count past what its digits hold, or is this something else?
    Count "count" CountQuestion
    about {
        /// All items that the question arises for.
        items: Vec<ItemId>
    }
    told {
        /// The title.
        title: String,
        /// The highest issue owned.
        highest: Option<u32>,
        /// The items' issues as printed.
        printed: Vec<u32>,
        /// The items' issues if the title counts on.
        counted_on: Vec<u32>,
    }
    asked {
        /// What it is.
        means: Means,
        /// The new volume, if it is one.
        volume: String,
        /// The year in which the new volume began.
        year: i16,
    }

    /// Which issue is it?
    Issue "issue" IssueQuestion
    about {
        /// The item.
        item: ItemId
    }
    told {
        /// Where its crop was written.
        crop: Option<String>,
        /// The title.
        title: String,
        /// The code.
        code: Option<Gtin>,
        /// Its two-digit add-on: the cover's month or a running number.
        add_on: Option<String>,
    }
    asked {
        /// The issue.
        issue: String,
        /// The cover; 1 if null.
        cover: String,
        /// The printing; 1 if null.
        printing: u32,
    }

    /// One book seen several times, or several copies?
    Repeat "repeat" RepeatQuestion
    about {
        /// The item.
        item: ItemId
    }
    told {
        /// The code.
        code: Option<Gtin>,
        /// The add-on.
        add_on: Option<String>,
        /// Where it was seen again.
        seen_again: Vec<String>,
    }
    asked {
        /// How many copies there are.
        copies: u32,
    }

    /// The same cover and printing is owned: another copy, or seen before?
    AnotherCopy "another_copy" AnotherCopyQuestion
    about {
        /// The item.
        item: ItemId
    }
    told {
        /// The title.
        title: String,
        /// The issue.
        issue: String,
        /// The cover.
        cover: String,
        /// The printing.
        printing: u32,
        /// How many copies are owned.
        owned: u32,
    }
    asked {
        /// True for another copy; false drops the item.
        accept: bool,
    }

    /// The code is no comic's: keep it all the same?
    Keep "keep" KeepQuestion
    about {
        /// All items with the code.
        items: Vec<ItemId>
    }
    told {
        /// The code.
        code: Option<Gtin>,
        /// What its first digits say it is.
        kind: String,
    }
    asked {
        /// True to record it under a title; false drops the items.
        keep: bool,
    }
}

/// A title as a question shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KnownTitle {
    /// Its number.
    pub id: TitleId,
    /// Its name.
    pub title: String,
    /// Its publisher.
    pub publisher: Option<String>,
    /// Its volume; empty if it has none.
    pub volume: String,
    /// The year in which it began.
    pub year: Option<i16>,
    /// How its five-digit add-ons are laid out.
    pub layout: Option<Layout>,
    /// Its highest issue owned.
    pub highest: Option<u32>,
}

/// What a number beyond or below the expected means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Means {
    /// The run counts past what the digits can hold.
    CountsOn,
    /// The number is as the digits say: an earlier issue.
    AsPrinted,
    /// A new volume begins under the same code.
    NewVolume,
}
