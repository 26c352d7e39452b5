//! How thick a copy is, bagged and boarded.
//!
//! All values are from memory and common practice; the collector's own measurements correct them
//! ([`Calibration`](super::Calibration)).

use crate::collection::SizeClass;

/// A backing board: 24 thousandths of an inch (common practice), in micrometres.
pub const BOARD_UM: u32 = 610;

/// Both sides of a bag of 2 thousandths of an inch (common practice).
pub const BAG_UM: u32 = 102;

/// Both boards of a hard cover (from memory).
const HARD_COVER_UM: u32 = 5000;

/// What fold and air add to a bagged and boarded copy that stands at ease in a box. Chosen so that a short box holds 100 to 150 modern
/// comics (common practice).
const AT_EASE_UM: u32 = 900;

/// What is known of a copy's make.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Make {
    /// Pages without the cover.
    pub pages: Option<u32>,
    /// The year on its cover, or the one in which its title began.
    pub year: Option<i16>,
    /// Its size.
    pub size: SizeClass,
    /// Whether it has no bag.
    pub no_bag: bool,
    /// Whether it has no board.
    pub no_board: bool,
}

/// A comic of today that nothing else is known of, bagged and boarded.
impl Default for Make {
    fn default() -> Self {
        Self { pages: None, year: None, size: SizeClass::Current, no_bag: false, no_board: false }
    }
}

/// A leaf's and a cover's thickness in micrometres.
struct Paper {
    leaf_um: u32,
    cover_um: u32,
}

/// Pages where nobody counted (common practice).
fn usual_pages(size: SizeClass) -> u32 {
    match size {
        SizeClass::Current | SizeClass::Silver => 32,
        SizeClass::Golden => 52,
        SizeClass::Magazine | SizeClass::Treasury => 64,
        SizeClass::Digest => 96,
        SizeClass::Paperback | SizeClass::Hardcover => 144,
    }
}

/// A page's area in square millimetres (from memory), for its weight.
fn page_mm2(size: SizeClass) -> u32 {
    match size {
        SizeClass::Current | SizeClass::Paperback => 168 * 257,
        SizeClass::Silver => 178 * 257,
        SizeClass::Golden => 190 * 260,
        SizeClass::Magazine => 210 * 275,
        SizeClass::Treasury => 255 * 340,
        SizeClass::Digest => 125 * 190,
        SizeClass::Hardcover => 185 * 280,
    }
}

/// Whether it is too high for a comic box (common practice).
#[must_use]
pub fn needs_wide_box(size: SizeClass) -> bool {
    matches!(size, SizeClass::Magazine | SizeClass::Treasury)
}

/// Whether it is bagged and boarded: bound books are not (common practice).
#[must_use]
pub fn is_bagged(size: SizeClass) -> bool {
    !matches!(size, SizeClass::Paperback | SizeClass::Hardcover)
}

impl Paper {
    /// Newsprint is thicker than coated paper, and older newsprint thicker still (from memory).
    fn of(year: Option<i16>) -> Self {
        match year {
            Some(..=1955) => Self { leaf_um: 100, cover_um: 140 },
            Some(..=1985) => Self { leaf_um: 85, cover_um: 120 },
            _ => Self { leaf_um: 75, cover_um: 130 },
        }
    }
}

impl Make {
    fn leaves(&self) -> u32 {
        // A leaf has two pages, and a cover two leaves of its own.
        self.pages.unwrap_or(usual_pages(self.size)).min(5000).div_ceil(2)
    }

    fn paper_um(&self) -> u32 {
        let paper = Paper::of(self.year);
        let binding = if self.size == SizeClass::Hardcover { HARD_COVER_UM } else { 0 };
        self.leaves() * paper.leaf_um + 2 * paper.cover_um + binding
    }

    /// Bag and board.
    fn dress_um(&self) -> u32 {
        let dressed = is_bagged(self.size);
        let bag = if self.no_bag || !dressed { 0 } else { BAG_UM };
        bag + if self.no_board || !dressed { 0 } else { BOARD_UM }
    }

    /// In micrometres, by itself: not yet calibrated.
    #[must_use]
    pub fn um(&self) -> u32 {
        self.paper_um() + self.dress_um() + AT_EASE_UM
    }

    /// In milligrams, bag and board included. Paper and board weigh about 1 and 0.7 milligrams a cubic millimetre (from memory).
    #[must_use]
    pub fn mg(&self) -> u32 {
        // Board and bag together are counted as board: a bag weighs little.
        (u64::from(page_mm2(self.size)) * u64::from(self.paper_um() + self.dress_um() * 7 / 10) / 1000) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_box_holds_as_many_as_it_is_said_to() {
        use crate::filing::BoxKind;
        let modern = Make { pages: Some(32), year: Some(2020), ..Make::default() };
        // Common practice: 100 to 150 in a short box, twice that in a long one.
        let short = BoxKind::Short.inner_mm() * 1000 / modern.um();
        assert!((100..=150).contains(&short), "{short}");
        let long = BoxKind::Long.inner_mm() * 1000 / modern.um();
        assert!((200..=300).contains(&long), "{long}");
    }

    #[test]
    fn what_a_copy_has_makes_it_thicker() {
        let modern = Make { pages: Some(32), year: Some(2020), ..Make::default() };
        // 16 leaves of 75, a cover of twice 130, a bag, a board of 24 thousandths of an inch, and what fold and air add.
        assert_eq!(modern.um(), 1200 + 260 + 102 + 610 + 900);
        assert_eq!(f64::from(BOARD_UM), (0.024 * 25_400.0_f64).round());
        assert_eq!(Make { no_board: true, ..modern }.um(), modern.um() - BOARD_UM);
        assert_eq!(Make { no_bag: true, ..modern }.um(), modern.um() - BAG_UM);
        assert_eq!(Make { pages: Some(33), ..modern }.um(), modern.um() + 75);
        assert!(Make { year: Some(1965), ..modern }.um() > modern.um());
        assert!(Make { size: SizeClass::Golden, year: Some(1948), pages: None, ..modern }.um() > 4 * modern.um() / 3);
        assert_eq!(Make { pages: None, year: None, ..modern }.um(), modern.um());
        assert!(Make { pages: Some(u32::MAX), ..modern }.um() < 1_000_000);
    }

    #[test]
    fn a_full_short_box_weighs_what_people_carry() {
        let modern = Make { pages: Some(32), year: Some(2020), ..Make::default() };
        // 80 to 110 g each, so that a short box of 120 weighs 10 to 13 kg (common practice, from memory).
        assert!((75_000..=110_000).contains(&modern.mg()), "{}", modern.mg());
    }
}
