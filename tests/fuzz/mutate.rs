//! Changed examples by seed: what a bad disk does to a file, and what an attacker would try first.

use super::Target;
use crate::render::random::Random;

/// Damages of the kinds that files meet: bits, bytes of the header, missing and repeated blocks, an early end.
pub fn damaged(whole: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    for _ in 0..1 + random.below(3) {
        let n = bytes.len();
        if n == 0 {
            break;
        }
        let block = 1 + random.below((n / 16).max(1));
        let (from, to) = (random.below(n - block + 1), random.below(n - block + 1));
        match random.below(8) {
            0 | 1 => (0..1 + random.below(16)).for_each(|_| bytes[random.below(n)] ^= 1 << random.below(8)),
            2 => bytes[random.below(n.min(64))] = random.below(256) as u8,
            3 => bytes[random.below(n.min(700))] = [0, 0xff][random.below(2)],
            4 => bytes.copy_within(from..from + block, to),
            5 => drop(bytes.drain(from..from + block)),
            6 => bytes[from..from + block].iter_mut().for_each(|byte| *byte = random.below(256) as u8),
            _ => bytes.truncate(n - block),
        }
    }
    bytes
}

/// Numbers at the edges of what numbers hold, and of what spreadsheets do.
const NUMBERS: [&str; 10] =
    ["0", "-1", "255", "65536", "1048577", "2147483648", "4294967295", "18446744073709551616", "1e309", "0.1"];

/// An example with one to four changes: damage, meaningful words put in or instead, numbers at their edges, pieces of another
/// example, pieces many times over.
pub fn changed(target: &Target, seeds: &[Vec<u8>], random: &mut Random) -> Vec<u8> {
    let mut bytes = seeds[random.below(seeds.len())].clone();
    for _ in 0..1 + random.below(4) {
        let at = random.below(bytes.len() + 1);
        let end = at + random.below((bytes.len() - at).min(40) + 1);
        let word = target.words[random.below(target.words.len())].as_bytes();
        match random.below(7) {
            0 => bytes = damaged(&bytes, random),
            1 => drop(bytes.splice(at..at, word.iter().copied())),
            2 => drop(bytes.splice(at..end, word.iter().copied())),
            3 => {
                // A number that stands there, or one that does not.
                let begin = bytes[at..].iter().position(u8::is_ascii_digit).map_or(at, |offset| at + offset);
                let digits = bytes[begin..].iter().take_while(|byte| byte.is_ascii_digit()).count();
                drop(bytes.splice(begin..begin + digits, NUMBERS[random.below(NUMBERS.len())].bytes()));
            }
            4 => {
                let other = &seeds[random.below(seeds.len())];
                let from = random.below(other.len() + 1);
                let to = from + random.below((other.len() - from).min(400) + 1);
                drop(bytes.splice(at..end, other[from..to].iter().copied()));
            }
            5 => {
                let piece = bytes[at..end].repeat(1 + random.below(60));
                drop(bytes.splice(at..end, piece));
            }
            _ => drop(bytes.splice(at..end, [])),
        }
    }
    bytes
}
