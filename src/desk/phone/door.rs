//! Who may come in: a token that lets in one phone, once, for ten minutes.

use std::time::Instant;

use crate::desk::limits::{LINK_TIME, WRONG_LINKS};
use crate::desk::secrets::Secret;

/// The door, and what happened at it.
#[derive(Debug)]
pub(super) struct Door {
    token: Option<Secret>,
    drawn: Instant,
    wrong: u32,
    let_in: u32,
    closed: Standing,
}

/// How the door stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::desk) enum Standing {
    /// It waits for a phone, this many seconds more.
    Waits { seconds: u64 },
    /// A phone came in with the link.
    Used,
    /// Nobody came in time.
    Late,
    /// Too many wrong links were tried.
    Guessed,
    /// All phones were sent away.
    Closed,
}

impl Door {
    pub(super) fn new(now: Instant) -> Result<Self, getrandom::Error> {
        Ok(Self { token: Some(Secret::draw()?), drawn: now, wrong: 0, let_in: 0, closed: Standing::Closed })
    }

    /// Draws a new token.
    pub(super) fn draw(&mut self, now: Instant) -> Result<(), getrandom::Error> {
        self.token = Some(Secret::draw()?);
        (self.drawn, self.wrong) = (now, 0);
        Ok(())
    }

    /// Lets nobody in any more, and forgets who was.
    pub(super) fn close(&mut self) {
        (self.token, self.closed, self.let_in) = (None, Standing::Closed, 0);
    }

    /// The token, as long as it lets in.
    pub(super) fn token(&self, now: Instant) -> Option<&Secret> {
        self.token.as_ref().filter(|_| now.saturating_duration_since(self.drawn) < LINK_TIME)
    }

    pub(super) fn let_in(&self) -> u32 {
        self.let_in
    }

    pub(super) fn standing(&self, now: Instant) -> Standing {
        let age = now.saturating_duration_since(self.drawn);
        match &self.token {
            None => self.closed,
            Some(_) if age >= LINK_TIME => Standing::Late,
            Some(_) => Standing::Waits { seconds: LINK_TIME.saturating_sub(age).as_secs() },
        }
    }

    /// Whether this is the token; then it is spent.
    pub(super) fn enters(&mut self, given: &str, now: Instant) -> bool {
        let Some(token) = self.token(now) else { return false };
        if token.is(given) {
            (self.token, self.closed) = (None, Standing::Used);
            self.let_in += 1;
            return true;
        }
        self.wrong += 1;
        if self.wrong >= WRONG_LINKS {
            (self.token, self.closed) = (None, Standing::Guessed);
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn token(door: &Door, now: Instant) -> String {
        door.token(now).unwrap().text().to_owned()
    }

    #[test]
    fn a_token_lets_in_one_phone_once() {
        let now = Instant::now();
        let mut door = Door::new(now).unwrap();
        let first = token(&door, now);
        assert!(!door.enters("", now) && !door.enters(&first[1..], now));
        assert!(door.enters(&first, now) && !door.enters(&first, now));
        assert_eq!((door.standing(now), door.let_in()), (Standing::Used, 1));
        door.draw(now).unwrap();
        assert!(!door.enters(&first, now), "the one before stays spent");
        let second = token(&door, now);
        assert!(door.enters(&second, now));
        assert_eq!(door.let_in(), 2);
        door.draw(now).unwrap();
        let third = token(&door, now);
        door.close();
        assert!(!door.enters(&third, now));
        assert_eq!((door.standing(now), door.let_in()), (Standing::Closed, 0));
    }

    #[test]
    fn an_unused_token_ends_after_ten_minutes() {
        let now = Instant::now();
        let mut door = Door::new(now).unwrap();
        let token = token(&door, now);
        let [before, after] = [599, 600].map(|seconds| now + Duration::from_secs(seconds));
        assert_eq!(door.standing(before), Standing::Waits { seconds: 1 });
        assert_eq!((door.standing(after), door.enters(&token, after)), (Standing::Late, false));
        assert!(door.enters(&token, before));
    }

    #[test]
    fn guessing_closes_the_door() {
        let now = Instant::now();
        let mut door = Door::new(now).unwrap();
        let right = token(&door, now);
        for _ in 0..20 {
            assert!(!door.enters(&"0".repeat(64), now));
        }
        assert_eq!((door.standing(now), door.enters(&right, now)), (Standing::Guessed, false));
        door.draw(now).unwrap();
        let right = token(&door, now);
        (0..19).for_each(|_| assert!(!door.enters("x", now)));
        assert!(door.enters(&right, now), "a new link counts anew");
    }
}
