//! Check digits, ISBN and ISSN against the reference library python-stdnum, thousands at a time.
#![allow(clippy::print_stdout, reason = "a skipped comparison must be seen")]

use std::io::Write;
use std::process::{Command, Stdio};

use boxward::code::*;
use boxward::meaning::Book;

use super::code_check_digits::{completed, digits_of};

/// Repeatable random numbers (splitmix64).
pub struct Seeded(pub u64);

impl Seeded {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn digits(&mut self, n: usize) -> Vec<u8> {
        (0..n).map(|_| (self.next() % 10) as u8).collect()
    }
}

/// What `program` answers on standard output; `None` if it is absent or fails.
pub fn ask(program: &str, args: &[&str], input: &str) -> Option<String> {
    let mut child = Command::new(program)
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let mut stdin = child.stdin.take()?;
    let input = input.to_owned();
    let writer = std::thread::spawn(move || stdin.write_all(input.as_bytes()));
    let output = child.wait_with_output().ok()?;
    let _ = writer.join();
    output.status.success().then(|| String::from_utf8(output.stdout).unwrap())
}

/// Whether a reference is missing; where references are required, that fails.
pub fn missing(name: &str, present: bool) -> bool {
    if !present {
        let required = std::env::var_os("BOXWARD_REQUIRE_REFERENCES").is_some_and(|v| v == "1");
        assert!(!required, "BOXWARD_REQUIRE_REFERENCES is set and {name} is not installed");
        println!("skipped: {name} is not installed");
    }
    !present
}

const SCRIPT: &str = "
import sys
from stdnum import ean, isbn, issn
def answer(kind, text):
    if kind == 'check': return ean.calc_check_digit(text)
    if kind == 'ean': return str(int(ean.is_valid(text)))
    if kind == 'hyphens': return '-'.join(isbn.split(text))
    if kind == 'isbn10': return isbn.to_isbn13(text) if isbn.is_valid(text) else 'invalid'
    if kind == 'issn': return issn.format(text + issn.calc_check_digit(text)) + ' ' + issn.to_ean(text + issn.calc_check_digit(text))
for line in sys.stdin:
    print(answer(*line.split()))
";

#[test]
fn numbers_are_those_of_python_stdnum() {
    if missing("python-stdnum", ask("python3", &["-c", "import stdnum"], "").is_some()) {
        return;
    }
    let text = |digits: &[u8]| digits.iter().map(|d| d.to_string()).collect::<String>();
    let mut random = Seeded(0x0952);
    // Each question with our own answer; `None` for hyphens, which are compared below.
    let mut asked: Vec<(String, Option<String>)> = Vec::new();
    for i in 0..3000 {
        let body = random.digits([7, 11, 12][i % 3]);
        asked.push((format!("check {}", text(&body)), Some(check_digit(&body).to_string())));

        let any = random.digits([8, 12, 13][i % 3]);
        let right = completed(&body).to_string();
        let right = right[13 - body.len() - 1..].to_owned();
        for digits in [text(&any), right] {
            let valid = digits.parse::<Gtin>().is_ok();
            asked.push((format!("ean {digits}"), Some(u8::from(valid).to_string())));
        }

        let mut ten = text(&random.digits(9));
        let check = mod_11_check_digit(&digits_of(&ten));
        ten.push(if i % 2 == 0 { check } else { char::from(b'0' + (random.next() % 10) as u8) });
        let gtin = isbn_10_to_gtin(&ten).map_or("invalid".to_owned(), |gtin| gtin.to_string());
        asked.push((format!("isbn10 {ten}"), Some(gtin)));

        let seven: [u8; 7] = random.digits(7).try_into().unwrap();
        let issn = Issn::from_body(seven).unwrap();
        asked.push((format!("issn {}", text(&seven)), Some(format!("{issn} {}", issn.to_gtin([0, 0]).unwrap()))));

        let prefix = if i % 4 == 0 { "979" } else { "978" };
        let mut book = digits_of(prefix);
        book.extend(random.digits(9));
        asked.push((format!("hyphens {}", completed(&book)), None));
    }

    let questions: String = asked.iter().map(|(question, _)| format!("{question}\n")).collect();
    let reply = ask("python3", &["-c", SCRIPT], &questions).unwrap();
    assert_eq!(reply.lines().count(), asked.len());
    let (mut both, mut one_only, mut differing) = (0, Vec::new(), Vec::new());
    for ((question, own), theirs) in asked.iter().zip(reply.lines()) {
        if let Some(own) = own {
            assert_eq!(own, theirs, "{question}");
            continue;
        }
        let gtin: Gtin = question.split(' ').nth(1).unwrap().parse().unwrap();
        let own = Book::new(gtin, None).isbn;
        let (own_knows, they_know) = (own.contains('-'), !theirs.contains("--") && theirs.matches('-').count() == 4);
        match (own_knows, they_know) {
            (true, true) => {
                both += 1;
                if own != theirs {
                    differing.push(format!("{own} {theirs}"));
                }
            }
            (false, false) => {}
            _ => one_only.push(format!("{own} {theirs}")),
        }
    }
    // The agency assigns and divides ranges every month (lately in groups 81 and 3), and the two libraries hold lists of
    // different days: a few numbers may differ, a mistake in the hyphens would show in all.
    assert!(both > 1500, "only {both} ISBNs were compared");
    assert!(differing.len() * 100 <= both, "{} of {both} differ: {differing:?}", differing.len());
    assert!(one_only.len() < 30, "{} ISBNs have hyphens in one library only: {one_only:?}", one_only.len());
}
