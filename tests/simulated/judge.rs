//! What a reader says of a picture beside what is printed in it.

use super::classes::Truth;
use boxward::code::{AddOnState, Certainty};
use boxward::reader::Symbol;

/// A symbol that a reader made up, with how sure it is of it.
#[derive(Debug, Clone)]
pub struct Wrong {
    pub certainty: Certainty,
    /// What it says, and what is true.
    pub said: String,
}

/// One picture's count.
#[derive(Debug, Clone, Default)]
pub struct Verdict {
    /// Main codes read right.
    pub main: usize,
    /// Of those, the ones of which the add-on was read too, or rightly said to be absent.
    pub whole: usize,
    /// Codes that are not printed, add-ons with other digits, absent ones that are printed, symbols given twice.
    pub wrong: Vec<Wrong>,
}

/// Each printed symbol stands for one that was read; what is left over is wrong.
pub fn judge(truth: &[Truth], read: &[Symbol]) -> Verdict {
    let mut left: Vec<&Truth> = truth.iter().collect();
    let mut verdict = Verdict::default();
    // Exact answers first: of two copies, the one that was read in part must not take the other's place.
    let (exact, other): (Vec<&Symbol>, Vec<&Symbol>) = read.iter().partition(|s| truth.iter().any(|t| is_whole(t, s)));
    for symbol in exact.into_iter().chain(other) {
        let whole = left.iter().position(|t| is_whole(t, symbol));
        let in_part = || left.iter().position(|t| is_main(t, symbol) && symbol.code.add_on == AddOnState::Unread);
        match whole.or_else(in_part) {
            Some(at) => {
                left.remove(at);
                verdict.main += 1;
                verdict.whole += usize::from(whole.is_some());
            }
            None => {
                let said = format!("{} {:?} of {truth:?}", symbol.code.gtin, symbol.code.add_on);
                verdict.wrong.push(Wrong { certainty: symbol.certainty, said });
            }
        }
    }
    verdict
}

fn is_main(truth: &Truth, symbol: &Symbol) -> bool {
    symbol.code.gtin.to_string() == truth.gtin
}

fn is_whole(truth: &Truth, symbol: &Symbol) -> bool {
    let add_on = match (symbol.code.add_on, &truth.add_on) {
        (AddOnState::Unread, _) => truth.hidden,
        (AddOnState::Read(read), Some(printed)) => read.to_string() == *printed,
        (AddOnState::Absent, None) => true,
        _ => false,
    };
    is_main(truth, symbol) && add_on
}
