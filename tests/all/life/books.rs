//! What the shop sells, and the dice that decide.

use crate::workflow_support::upc;

const FIRST: [&str; 20] = [
    "Amber", "Brass", "Copper", "Distant", "Ember", "Frosted", "Gilded", "Hollow", "Ivory", "Jagged", "Kindled",
    "Lantern", "Marble", "Northern", "Opal", "Painted", "Quiet", "Restless", "Silent", "Tangled",
];
const SECOND: [&str; 20] = [
    "Anvil",
    "Beacon",
    "Canal",
    "Dynamo",
    "Estuary",
    "Foundry",
    "Gazette",
    "Harbour",
    "Island",
    "Junction",
    "Keeper",
    "Lagoon",
    "Menagerie",
    "Nocturne",
    "Orchard",
    "Parade",
    "Quarry",
    "Rookery",
    "Signal",
    "Wharf",
];

/// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % end as u64) as usize
    }

    pub fn one_of(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }
}

/// A book as the collector knows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Book {
    pub title: usize,
    pub issue: u32,
    pub cover: u32,
}

impl Book {
    pub fn code(self) -> String {
        upc(self.title as u32)
    }

    pub fn add_on(self) -> String {
        format!("{:03}{}1", self.issue, self.cover)
    }

    pub fn words(self) -> String {
        format!("{} {}", name(self.title), self.issue)
    }
}

pub fn name(title: usize) -> String {
    format!("{} {}", FIRST[title % 20], SECOND[title / 20 % 20])
}
