//! What is in a picture, how much of it each reader got, and the table of that.

use boxward::picture::Luma;

use super::readers::{Answer, READERS};
use super::time::{cost_ms, median};

/// How often each picture is read; the median counts.
const RUNS: usize = 3;

/// A picture to read.
pub struct Picture {
    /// The row of the table it counts in.
    pub class: String,
    /// For the list of what was wrong.
    pub name: String,
    /// Its pixels.
    pub luma: Luma,
    /// The codes that should be read.
    pub codes: Vec<Printed>,
    /// Main codes that are there, too, and may be read.
    pub also: Vec<String>,
}

/// A code that is in a picture.
pub struct Printed {
    /// The main code as 13 digits.
    pub main: String,
    /// What is printed beside it; `None`: not known.
    pub add_on: Option<AddOn>,
}

/// An add-on's place.
pub enum AddOn {
    /// Nothing is printed there.
    Absent,
    /// These digits are.
    Digits(String),
    /// These digits, but not all of them can be seen; empty: whatever is said of them is wrong.
    Hidden(String),
}

impl Printed {
    fn contradicts(&self, digits: &str) -> bool {
        match &self.add_on {
            None => false,
            Some(AddOn::Absent) => true,
            Some(AddOn::Digits(printed) | AddOn::Hidden(printed)) => printed != digits,
        }
    }
}

#[derive(Default, Clone)]
struct Tally {
    main: usize,
    add_ons: usize,
    wrong: Vec<String>,
    wrong_add_ons: Vec<String>,
    ms: Vec<f64>,
}

struct Row {
    class: String,
    pictures: usize,
    codes: usize,
    add_ons: usize,
    tallies: [Tally; READERS.len()],
}

impl Row {
    fn new(class: &str) -> Self {
        let tallies = std::array::from_fn(|_| Tally::default());
        Self { class: class.to_owned(), pictures: 0, codes: 0, add_ons: 0, tallies }
    }

    fn read(&mut self, picture: &Picture) {
        self.pictures += 1;
        self.codes += picture.codes.len();
        self.add_ons += picture.codes.iter().filter(|c| matches!(c.add_on, Some(AddOn::Digits(_)))).count();
        // By turns, so that a machine that slows down meanwhile slows all.
        let mut ms = [const { Vec::new() }; READERS.len()];
        for run in 0..RUNS {
            for ((reader, tally), ms) in READERS.iter().zip(&mut self.tallies).zip(&mut ms) {
                let (answers, cost) = cost_ms(|| (reader.read)(&picture.luma));
                ms.push(cost);
                if run == 0 {
                    tally.score(picture, &answers);
                }
            }
        }
        for (tally, ms) in self.tallies.iter_mut().zip(ms) {
            tally.ms.push(median(ms));
        }
    }

    fn add(&mut self, other: &Self) {
        self.pictures += other.pictures;
        self.codes += other.codes;
        self.add_ons += other.add_ons;
        for (mine, theirs) in self.tallies.iter_mut().zip(other.tallies.clone()) {
            mine.main += theirs.main;
            mine.add_ons += theirs.add_ons;
            mine.wrong.extend(theirs.wrong);
            mine.wrong_add_ons.extend(theirs.wrong_add_ons);
            mine.ms.extend(theirs.ms);
        }
    }

    fn print(&self) {
        let Self { class, pictures, codes, add_ons, .. } = self;
        let ours = median(self.tallies[0].ms.clone());
        for (reader, tally) in READERS.iter().zip(&self.tallies) {
            let Tally { main, add_ons: right, wrong, wrong_add_ons, ms } = tally;
            let theirs = median(ms.clone());
            let worst = ms.iter().copied().fold(f64::NAN, f64::max);
            println!(
                "| {class} | {pictures} | {} | {main} of {codes} | {} | {right} of {add_ons} | {} | {theirs:.1} | {:.2} | {worst:.1} |",
                reader.name,
                wrong.len(),
                wrong_add_ons.len(),
                theirs / ours,
            );
        }
    }
}

impl Tally {
    fn score(&mut self, picture: &Picture, answers: &[Answer]) {
        let name = &picture.name;
        for code in &picture.codes {
            let mut of_it = answers.iter().filter(|a| a.main == code.main).peekable();
            self.main += usize::from(of_it.peek().is_some());
            if let Some(AddOn::Digits(digits)) = &code.add_on {
                self.add_ons += usize::from(of_it.any(|a| a.add_on.as_ref() == Some(digits)));
            }
        }
        for (i, Answer { main, add_on }) in answers.iter().enumerate() {
            if answers[..i].contains(&answers[i]) {
                continue;
            }
            let mut of_it = picture.codes.iter().filter(|c| c.main == *main).peekable();
            if of_it.peek().is_none() {
                if !picture.also.contains(main) {
                    self.wrong.push(format!("{name}: {main}"));
                }
            } else if let Some(digits) = add_on
                && of_it.all(|c| c.contradicts(digits))
            {
                self.wrong_add_ons.push(format!("{name}: {main} with {digits}"));
            }
        }
    }
}

/// Reads the pictures with every reader and prints what came of it.
pub fn table(pictures: impl Iterator<Item = Picture>) {
    let mut rows: Vec<Row> = Vec::new();
    for picture in pictures {
        let at = rows.iter().position(|r| r.class == picture.class).unwrap_or_else(|| {
            rows.push(Row::new(&picture.class));
            rows.len() - 1
        });
        rows[at].read(&picture);
    }
    let mut all = Row::new("**in all**");
    rows.iter().for_each(|row| all.add(row));
    println!(
        "| pictures of | pictures | reader | main codes right | wrong codes | add-ons right | wrong add-ons | \
         ms, median | over boxward's | ms, worst |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    rows.iter().for_each(Row::print);
    if rows.len() > 1 {
        all.print();
    }
    println!();
    for (reader, tally) in READERS.iter().zip(&all.tallies) {
        for wrong in tally.wrong.iter().chain(&tally.wrong_add_ons) {
            println!("- {} gave, wrongly, in {wrong}", reader.name);
        }
    }
    println!();
}
