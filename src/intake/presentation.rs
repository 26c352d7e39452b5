//! What frames of a book held to a camera add up to: one code for each presentation, none that was not seen together.
//!
//! A presentation is a book before the camera, from the first frame that shows its symbol until the symbol has left the
//! picture. Evidence adds up within it and nowhere else: an add-on completes a main code only if both were seen in the
//! same presentation. No clock, no camera: times and readings come in.

use jiff::{SignedDuration, Timestamp};

use super::item::needs_add_on;
use crate::code::{AddOn, AddOnState, Certainty, Code, Gtin, PrefixKind, Symbology, prefix_kind};

/// A symbol not seen for so long has left the picture. Shaking hands blur a code for some tenths of a second; nobody
/// lays a book away and holds up the next in less than this.
pub const LEFT_AFTER: SignedDuration = SignedDuration::from_millis(600);

/// And so many frames must have shown that it is not there: on a slow machine, time alone says nothing.
pub const MISSING_FRAMES: usize = 2;

/// So long after the main code was believed, a person is asked to hold still: the add-on of a book held well is read in
/// the first frames.
pub const HOLD_STILL_AFTER: SignedDuration = SignedDuration::from_millis(700);

/// So many uncertain frames must agree, with nothing else read at the same place between them. Two may share one
/// frame's blur; three in a row of a moving hand do not.
pub const AGREEING_FRAMES: usize = 3;

/// So many frames must show blank paper beside a code, and none anything else, before it has no add-on. More than
/// [`AGREEING_FRAMES`], because a hand or the picture's edge hides an add-on for longer than blur does.
pub const BLANK_FRAMES: usize = 6;

/// One symbol in one frame. `P` is its picture, which the rules only hand on.
#[derive(Debug, Clone, PartialEq)]
pub struct Glimpse<P> {
    /// Main code and add-on as far as this frame shows them.
    pub code: Code,
    /// The symbol's kind.
    pub symbology: Symbology,
    /// How far the code can be trusted.
    pub certainty: Certainty,
    /// The symbol's middle in frame px.
    pub middle: [f32; 2],
    /// The symbol's width in frame px.
    pub width_px: f32,
    /// Its picture.
    pub picture: P,
}

/// What sees books: the same code from another device, with no other book between, is the same book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Device {
    /// A camera, or frames from files.
    Camera,
    /// A handheld scanner or keyboard.
    Handheld,
}

/// How a book that was taken stands to those before it in the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Turn {
    /// Its code is new in this session.
    First,
    /// The book before it had the same code: most likely it is that book, shown again.
    SameBook,
    /// It was taken before, and another book since: a second copy, to be confirmed.
    SecondCopy,
}

/// What the session takes note of.
#[derive(Debug, Clone, PartialEq)]
pub enum Note<P> {
    /// The main code is believed, the add-on is not yet. Said once a presentation.
    HoldStill {
        /// The main code.
        gtin: Gtin,
    },
    /// A book, once for each presentation.
    Taken(Taken<P>),
}

/// A book as it was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken<P> {
    /// Its code; the add-on is unread if it left before that was certain.
    pub code: Code,
    /// The symbol's kind.
    pub symbology: Symbology,
    /// `Confirm` if it left before its main code was certain.
    pub certainty: Certainty,
    /// How it stands to those before it.
    pub turn: Turn,
    /// The best picture of it; a handheld scanner has none.
    pub picture: Option<P>,
}

/// The presentations of one session.
#[derive(Debug, Clone)]
pub struct Presentations<P> {
    current: Vec<Presentation<P>>,
    /// Whole codes taken, in order.
    taken: Vec<Code>,
    /// The last book taken, whole or not, and what saw it.
    last: Option<(Code, Device)>,
}

impl<P> Default for Presentations<P> {
    fn default() -> Self {
        Self { current: Vec::new(), taken: Vec::new(), last: None }
    }
}

/// One book before the camera.
#[derive(Debug, Clone)]
struct Presentation<P> {
    gtin: Gtin,
    symbology: Symbology,
    middle: [f32; 2],
    width_px: f32,
    seen_at: Timestamp,
    /// Frames since then.
    missing: usize,
    /// Frames in which the main code was certain, and uncertain ones since something else was read at its place.
    sure: usize,
    agreeing: usize,
    /// Something else was read at its place while it was not believed.
    contested: bool,
    believed_at: Option<Timestamp>,
    add_ons: Vec<AddOnVotes>,
    blank: usize,
    unread: usize,
    best: Option<(Rank, P)>,
    state: State,
}

#[derive(Debug, Clone, Copy)]
struct AddOnVotes {
    add_on: AddOn,
    sure: usize,
    agreeing: usize,
}

/// Which picture shows most.
type Rank = (bool, Certainty);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Evidence adds up.
    Open,
    /// The same, and a person was asked to hold still.
    Told,
    /// Taken with this code. Another certain add-on in its place is another issue of the title, if it stays: so often in a
    /// row it was seen.
    Taken { code: Code, other: Option<(AddOn, usize)> },
}

impl<P: Clone> Presentations<P> {
    /// Before the first book.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes one frame's symbols, none among them.
    pub fn frame(&mut self, at: Timestamp, glimpses: &[Glimpse<P>]) -> Vec<Note<P>> {
        // Under a Japanese book's own symbol stands one with its price: no book of its own.
        let of_books = |g: &&Glimpse<P>| prefix_kind(g.code.gtin) != PrefixKind::JapaneseSecondTier;
        let mut glimpses: Vec<&Glimpse<P>> = glimpses.iter().filter(of_books).collect();
        let mut shown = vec![false; self.current.len()];
        while let Some((at_glimpse, known)) = self.nearest(&glimpses, &shown) {
            let glimpse = glimpses.swap_remove(at_glimpse);
            shown[known] = true;
            self.current[known].see(at, glimpse);
        }
        for glimpse in glimpses {
            self.current.push(Presentation::begin(at, glimpse));
            shown.push(true);
        }
        self.contest(&shown);
        let mut notes = self.leave(at, &shown);
        for index in 0..self.current.len() {
            notes.extend(self.settle(index, at));
        }
        notes
    }

    /// Ends the presentations whose symbols have left the picture by now.
    fn leave(&mut self, at: Timestamp, shown: &[bool]) -> Vec<Note<P>> {
        for (own, _) in self.current.iter_mut().zip(shown).filter(|(_, shown)| !**shown) {
            own.missing += 1;
        }
        let is_gone = |p: &Presentation<P>| p.missing >= MISSING_FRAMES && at.duration_since(p.seen_at) > LEFT_AFTER;
        let (gone, stay) = std::mem::take(&mut self.current).into_iter().partition(is_gone);
        self.current = stay;
        self.end(gone)
    }

    /// Ends every presentation: no further frame will come.
    pub fn finish(&mut self) -> Vec<Note<P>> {
        let all = std::mem::take(&mut self.current);
        self.end(all)
    }

    /// Takes a code from a handheld scanner. `None`: it is the book that the camera has taken or sees already.
    pub fn heard(&mut self, code: Code, symbology: Symbology, certainty: Certainty) -> Option<Taken<P>> {
        for seen in self.current.iter_mut().filter(|p| p.gtin == code.gtin) {
            match seen.state {
                State::Taken { code: taken, .. } if taken == code || code.add_on == AddOnState::Unread => return None,
                State::Taken { .. } => {}
                // The scanner says what the camera has not made out yet.
                State::Open | State::Told if code.add_on.read().is_some() => {
                    seen.state = State::Taken { code, other: None };
                }
                State::Open | State::Told => return None,
            }
        }
        self.take(code, symbology, certainty, Device::Handheld, None)
    }

    /// A book that was taken is to count as never taken; while it stays in the picture it is not taken again.
    pub fn forget(&mut self, code: Code) {
        if let Some(at) = self.taken.iter().rposition(|&taken| taken == code) {
            self.taken.remove(at);
        }
        self.last = None;
    }

    /// The glimpse and the presentation of its code that lie nearest, among those not matched yet.
    fn nearest(&self, glimpses: &[&Glimpse<P>], shown: &[bool]) -> Option<(usize, usize)> {
        let pairs = glimpses.iter().enumerate().flat_map(|(g, glimpse)| {
            let of_its_code = move |(p, presentation): (usize, &Presentation<P>)| {
                let free = !shown[p] && presentation.gtin == glimpse.code.gtin;
                free.then(|| (g, p, distance(presentation.middle, glimpse.middle)))
            };
            self.current.iter().enumerate().filter_map(of_its_code)
        });
        pairs.min_by(|a, b| a.2.total_cmp(&b.2)).map(|(g, p, _)| (g, p))
    }

    /// Two codes at one place can't both be right: what was not certain begins anew.
    fn contest(&mut self, shown: &[bool]) {
        for a in 0..self.current.len() {
            let other = |b: usize| {
                let (own, there) = (&self.current[a], &self.current[b]);
                let reach = own.width_px.max(there.width_px) / 2.0;
                a != b && shown[b] && own.gtin != there.gtin && distance(own.middle, there.middle) < reach
            };
            if (0..self.current.len()).any(other) {
                let own = &mut self.current[a];
                own.contested |= own.believed_at.is_none();
                own.agreeing = 0;
            }
        }
    }

    /// What the frames of a presentation come to by now.
    fn settle(&mut self, index: usize, at: Timestamp) -> Option<Note<P>> {
        let own = &mut self.current[index];
        let believed_at = own.believed_at?;
        let waited = at.duration_since(believed_at) >= HOLD_STILL_AFTER;
        let code = match own.state {
            State::Taken { other: Some((add_on, frames)), .. } if frames >= AGREEING_FRAMES => {
                own.begin_anew(add_on);
                Code { gtin: own.gtin, add_on: AddOnState::Read(add_on) }
            }
            State::Taken { .. } => return None,
            State::Open | State::Told => match own.add_on() {
                Some(add_on) => Code { gtin: own.gtin, add_on },
                // A book's own number says all; only its price would stand beside it.
                None if waited && !needs_add_on(own.gtin) => Code { gtin: own.gtin, add_on: AddOnState::Unread },
                None if waited && own.state == State::Open => {
                    own.state = State::Told;
                    return Some(Note::HoldStill { gtin: own.gtin });
                }
                None => return None,
            },
        };
        own.state = State::Taken { code, other: None };
        let (symbology, picture) = (own.symbology, own.best.take().map(|(_, picture)| picture));
        self.take(code, symbology, Certainty::Sure, Device::Camera, picture).map(Note::Taken)
    }

    /// Books that left before they were taken: what was seen of them waits for a person.
    fn end(&mut self, gone: Vec<Presentation<P>>) -> Vec<Note<P>> {
        let mut notes = Vec::new();
        for own in gone {
            let open = !matches!(own.state, State::Taken { .. });
            let certainty = if own.believed_at.is_some() { Certainty::Sure } else { Certainty::Confirm };
            if open && (certainty == Certainty::Sure || !own.contested) {
                let code = Code { gtin: own.gtin, add_on: AddOnState::Unread };
                let picture = own.best.map(|(_, picture)| picture);
                notes.extend(self.take(code, own.symbology, certainty, Device::Camera, picture).map(Note::Taken));
            }
        }
        notes
    }

    fn take(
        &mut self,
        code: Code,
        symbology: Symbology,
        certainty: Certainty,
        device: Device,
        picture: Option<P>,
    ) -> Option<Taken<P>> {
        let before = self.last.replace((code, device));
        // Without its add-on, a code may be any issue of its title.
        let whole = code.add_on != AddOnState::Unread || !needs_add_on(code.gtin);
        let turn = match before {
            Some((last, other)) if last == code && other != device && whole => return None,
            Some((last, _)) if last == code && whole => Turn::SameBook,
            _ if whole && self.taken.contains(&code) => Turn::SecondCopy,
            _ => Turn::First,
        };
        if whole && turn == Turn::First {
            self.taken.push(code);
        }
        Some(Taken { code, symbology, certainty, turn, picture })
    }
}

impl<P: Clone> Presentation<P> {
    fn begin(at: Timestamp, glimpse: &Glimpse<P>) -> Self {
        let mut begun = Self {
            gtin: glimpse.code.gtin,
            symbology: glimpse.symbology,
            middle: glimpse.middle,
            width_px: glimpse.width_px,
            seen_at: at,
            missing: 0,
            sure: 0,
            agreeing: 0,
            contested: false,
            believed_at: None,
            add_ons: Vec::new(),
            blank: 0,
            unread: 0,
            best: None,
            state: State::Open,
        };
        begun.see(at, glimpse);
        begun
    }

    fn see(&mut self, at: Timestamp, glimpse: &Glimpse<P>) {
        // Nobody saw what happened in so long a time: evidence from before it adds up to nothing with what comes now.
        let unseen = at.duration_since(self.seen_at) > LEFT_AFTER;
        if unseen {
            self.add_ons.clear();
            (self.agreeing, self.blank, self.unread) = (0, 0, 0);
        }
        (self.seen_at, self.missing) = (at, 0);
        (self.middle, self.width_px) = (glimpse.middle, glimpse.width_px);
        let sure = glimpse.certainty == Certainty::Sure;
        self.sure += usize::from(sure);
        self.agreeing += 1;
        if self.sure > 0 || self.agreeing >= AGREEING_FRAMES {
            self.believed_at.get_or_insert(at);
        }
        match glimpse.code.add_on {
            AddOnState::Absent => self.blank += 1,
            AddOnState::Unread => self.unread += 1,
            AddOnState::Read(add_on) => self.vote(add_on, sure),
        }
        let rank = (glimpse.code.add_on.read().is_some(), glimpse.certainty);
        if self.best.as_ref().is_none_or(|(best, _)| *best <= rank) {
            self.best = Some((rank, glimpse.picture.clone()));
        }
        if let State::Taken { code, other } = &mut self.state {
            *other = match glimpse.code.add_on {
                AddOnState::Read(add_on) if code.add_on == AddOnState::Read(add_on) => None,
                AddOnState::Read(add_on) if sure && unseen => Some((add_on, AGREEING_FRAMES)),
                AddOnState::Read(add_on) if sure => match *other {
                    Some((same, frames)) if same == add_on => Some((add_on, frames + 1)),
                    _ => Some((add_on, 1)),
                },
                _ => *other,
            };
        }
    }

    fn vote(&mut self, add_on: AddOn, sure: bool) {
        // Uncertain frames count only as long as they agree.
        for votes in self.add_ons.iter_mut().filter(|votes| votes.add_on != add_on) {
            votes.agreeing = 0;
        }
        match self.add_ons.iter_mut().find(|votes| votes.add_on == add_on) {
            Some(votes) => {
                votes.sure += usize::from(sure);
                votes.agreeing += 1;
            }
            None => self.add_ons.push(AddOnVotes { add_on, sure: usize::from(sure), agreeing: 1 }),
        }
    }

    /// The add-on, once it is certain; or that there is none.
    fn add_on(&self) -> Option<AddOnState> {
        let certain = |v: &&AddOnVotes| v.sure > 0 || v.agreeing >= AGREEING_FRAMES;
        let mut certain = self.add_ons.iter().filter(certain);
        match (certain.next(), certain.next()) {
            (Some(votes), None) => Some(AddOnState::Read(votes.add_on)),
            // Two that are both certain: neither is.
            (Some(_), Some(_)) => None,
            // The standard has no add-on beside an EAN-8.
            (None, _) if self.symbology == Symbology::Ean8 => Some(AddOnState::Absent),
            (None, _) if self.add_ons.is_empty() && self.unread == 0 && self.blank >= BLANK_FRAMES => {
                Some(AddOnState::Absent)
            }
            (None, _) => None,
        }
    }

    /// Another issue of the same title has slid into its place.
    fn begin_anew(&mut self, add_on: AddOn) {
        self.add_ons.retain(|votes| votes.add_on == add_on);
        (self.blank, self.unread) = (0, 0);
    }
}

fn distance([ax, ay]: [f32; 2], [bx, by]: [f32; 2]) -> f32 {
    (ax - bx).hypot(ay - by)
}
