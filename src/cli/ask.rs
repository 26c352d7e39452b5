//! Plain prompts for what only a person can know. Enter takes the proposal in brackets, `s` skips, Ctrl-D ends.

use std::fmt::Display;
use std::io::{self, BufRead};
use std::str::FromStr;

use super::ui::{Tone, Ui};
use super::words::count;
use crate::code::{AddOn, Gtin};
use crate::meaning::{Layout, Reading};
use crate::resolve::{
    AddOnQuestion, AnotherCopyQuestion, BookQuestion, CodeQuestion, CountQuestion, IssueQuestion, KeepQuestion,
    KnownTitle, LayoutQuestion, Means, Question, RepeatQuestion, TitleQuestion, WhichQuestion,
};

/// Why a question got no answer.
#[derive(Debug)]
pub(super) enum Stop {
    /// It is left for later.
    Skip,
    /// The input ended.
    End,
    /// Input or output failed.
    Failed(io::Error),
}

impl From<io::Error> for Stop {
    fn from(error: io::Error) -> Self {
        Self::Failed(error)
    }
}

type Reply<T> = Result<T, Stop>;

/// Where questions are asked.
pub(super) struct Asker<'a> {
    pub(super) input: &'a mut dyn BufRead,
    pub(super) ui: &'a mut Ui,
    /// Proposed for the next new title: a stack comes from few publishers.
    pub(super) publisher: String,
}

impl Asker<'_> {
    /// The question with its answer fields filled in.
    pub(super) fn answer(&mut self, question: &Question) -> Reply<Question> {
        Ok(match question.clone() {
            Question::Code(q) => Question::Code(self.code(q)?),
            Question::AddOn(q) => Question::AddOn(self.add_on(q)?),
            Question::Title(q) => Question::Title(self.title(q)?),
            Question::Book(q) => Question::Book(self.book(q)?),
            Question::Which(q) => Question::Which(self.which(q)?),
            Question::Layout(q) => Question::Layout(self.layout_of(q)?),
            Question::Count(q) => Question::Count(self.count(q)?),
            Question::Issue(q) => Question::Issue(self.issue(q)?),
            Question::Repeat(q) => Question::Repeat(self.repeat(q)?),
            Question::AnotherCopy(q) => Question::AnotherCopy(self.another_copy(q)?),
            Question::Keep(q) => Question::Keep(self.keep(q)?),
        })
    }

    fn code(&mut self, mut q: CodeQuestion) -> Reply<CodeQuestion> {
        self.head(format_args!("Item {}: which code does the picture show?", q.item))?;
        self.picture(q.crop.as_deref())?;
        let reply = self.required("digits under the bars and beside them (d: no book, drop it)", q.read.as_deref())?;
        if reply == "d" {
            q.drop = Some(true);
        } else {
            q.code = Some(reply);
        }
        Ok(q)
    }

    fn add_on(&mut self, mut q: AddOnQuestion) -> Reply<AddOnQuestion> {
        let code = printed(q.code);
        self.head(format_args!("Item {}: which add-on stands beside {code}?", q.item))?;
        self.picture(q.crop.as_deref())?;
        q.add_on = Some(self.required("two or five digits, or none", None)?);
        Ok(q)
    }

    fn title(&mut self, mut q: TitleQuestion) -> Reply<TitleQuestion> {
        let (code, books) = (printed(q.code), count(q.items.len(), "book"));
        self.head(format_args!("{code}{}: which title is it? ({books})", with(&q.add_ons)))?;
        for (number, known) in (1..).zip(&q.proposals) {
            self.ui.line(format_args!("  {number}  {}", known_in_words(known)))?;
        }
        let choice = if q.proposals.is_empty() { "" } else { ", or a number above" };
        let prompt = format!("name{choice} (n: no comic, drop it)");
        let (name, known) = loop {
            let reply = self.required(&prompt, None)?;
            let known = reply.parse::<usize>().ok().map(|n| q.proposals.get(n.wrapping_sub(1)).cloned());
            match known {
                // A mistyped number must not become a title's name.
                Some(None) if !q.proposals.is_empty() => {
                    self.wrong("a number above, or a name; one that is a number in quotes, as \"52\"")?;
                }
                known => break (reply.trim_matches('"').to_owned(), known.flatten()),
            }
        };
        if name == "n" {
            q.keep = Some(false);
            return Ok(q);
        }
        if let Some(known) = known {
            q.title = Some(known.title);
            q.publisher = known.publisher;
            q.volume = Some(known.volume);
            q.year = known.year;
            q.layout = match known.layout {
                Some(layout) => Some(layout),
                None => self.layout(&q.add_ons)?,
            };
            return Ok(q);
        }
        q.title = Some(name);
        let same_company = q.proposals.iter().find_map(|known| known.publisher.clone());
        q.publisher = self.publisher(same_company)?;
        q.year = self.parsed("year in which it began", None)?;
        q.layout = self.layout(&q.add_ons)?;
        Ok(q)
    }

    fn book(&mut self, mut q: BookQuestion) -> Reply<BookQuestion> {
        let number = q.isbn.clone().unwrap_or_else(|| printed(q.code));
        let price = q.cover_price.map(|price| format!(", {price}")).unwrap_or_default();
        self.head(format_args!("ISBN {number}{price}: which book is it?"))?;
        let name = self.required("name, without its volume (n: not for the collection, drop it)", None)?;
        if name == "n" {
            q.keep = Some(false);
            return Ok(q);
        }
        q.title = Some(name);
        q.volume = self.optional("volume, if it is one of several", None)?;
        q.publisher = self.publisher(None)?;
        q.year = self.parsed("year in which the title began", None)?;
        Ok(q)
    }

    fn which(&mut self, mut q: WhichQuestion) -> Reply<WhichQuestion> {
        self.head(format_args!("{}{}: which of the titles that share the code?", printed(q.code), with(&q.add_ons)))?;
        for (number, known) in (1..).zip(&q.titles) {
            self.ui.line(format_args!("  {number}  {}", known_in_words(known)))?;
        }
        loop {
            let reply = self.required("number above (n: a new volume)", None)?;
            if reply == "n" {
                (q.volume, q.year) = self.new_volume()?;
                return Ok(q);
            }
            let known = reply.parse::<usize>().ok().and_then(|n| q.titles.get(n.checked_sub(1)?));
            if let Some(known) = known {
                q.title = Some(known.id);
                return Ok(q);
            }
            self.wrong("one of the numbers above, or n")?;
        }
    }

    fn layout_of(&mut self, mut q: LayoutQuestion) -> Reply<LayoutQuestion> {
        self.head(format_args!("{}: how are its add-ons laid out?", q.title))?;
        q.layout = self.layout(&q.add_ons)?;
        Ok(q)
    }

    fn count(&mut self, mut q: CountQuestion) -> Reply<CountQuestion> {
        let owned = q.highest.map(|highest| format!(", the highest issue owned is {highest}")).unwrap_or_default();
        let printed = numbers(&q.printed);
        self.head(format_args!("{}: its digits say issue {printed}{owned}", q.title))?;
        self.ui.line(format_args!("  1  the run counts on: issue {}", numbers(&q.counted_on)))?;
        self.ui.line(format_args!("  2  as printed: issue {printed}"))?;
        self.ui.line(format_args!("  3  a new volume begins"))?;
        // The next number in line is what a run that counts on would have.
        let next = q.highest.is_some_and(|highest| q.counted_on.first() == Some(&(highest + 1)));
        loop {
            match self.required("number", next.then_some("1"))?.as_str() {
                "1" => q.means = Some(Means::CountsOn),
                "2" => q.means = Some(Means::AsPrinted),
                "3" => {
                    q.means = Some(Means::NewVolume);
                    (q.volume, q.year) = self.new_volume()?;
                }
                _ => {
                    self.wrong("1, 2 or 3")?;
                    continue;
                }
            }
            return Ok(q);
        }
    }

    fn issue(&mut self, mut q: IssueQuestion) -> Reply<IssueQuestion> {
        let add_on = match q.add_on.as_deref() {
            Some(two) if two.len() == 2 => format!(" (add-on {two}: a month or a running number)"),
            Some(five) => format!(" (several that are listed have the add-on {five})"),
            None => String::new(),
        };
        self.head(format_args!("Item {}: which issue of {} is it?{add_on}", q.item, q.title))?;
        self.picture(q.crop.as_deref())?;
        q.issue = Some(self.required("issue", None)?);
        q.cover = self.optional("cover", Some("1"))?;
        q.printing = self.parsed("printing", Some("1"))?;
        Ok(q)
    }

    fn repeat(&mut self, mut q: RepeatQuestion) -> Reply<RepeatQuestion> {
        let add_on = q.add_on.iter().cloned().collect::<Vec<_>>();
        let times = q.seen_again.len() + 1;
        self.head(format_args!("Item {}: {}{} was seen {times} times", q.item, printed(q.code), with(&add_on)))?;
        for place in &q.seen_again {
            self.ui.line(format_args!("  again in {place}"))?;
        }
        q.copies = self.parsed("how many copies", Some("1"))?;
        Ok(q)
    }

    fn another_copy(&mut self, mut q: AnotherCopyQuestion) -> Reply<AnotherCopyQuestion> {
        let (issue, owned) = (&q.issue, count(q.owned, "copy"));
        self.head(format_args!(
            "Item {}: {} {issue}, cover {}, printing {}: {owned} owned already",
            q.item, q.title, q.cover, q.printing
        ))?;
        q.accept = Some(self.yes_or_no("another copy", None)?);
        Ok(q)
    }

    fn keep(&mut self, mut q: KeepQuestion) -> Reply<KeepQuestion> {
        self.head(format_args!("{}: {}", printed(q.code), q.kind))?;
        q.keep = Some(self.yes_or_no("record it all the same", Some("n"))?);
        Ok(q)
    }

    fn publisher(&mut self, proposal: Option<String>) -> Reply<Option<String>> {
        let last = Some(self.publisher.clone()).filter(|name| !name.is_empty());
        let publisher = self.optional("publisher", proposal.or(last).as_deref())?;
        self.publisher = publisher.clone().unwrap_or_default();
        Ok(publisher)
    }

    fn new_volume(&mut self) -> Reply<(Option<String>, Option<i16>)> {
        loop {
            let volume = self.optional("volume", None)?;
            let year = self.parsed("year in which it began", None)?;
            if volume.is_some() || year.is_some() {
                return Ok((volume, year));
            }
            self.wrong("its volume, its year, or both")?;
        }
    }

    /// The layout of five-digit add-ons; nothing is asked if there are none.
    fn layout(&mut self, add_ons: &[String]) -> Reply<Option<Layout>> {
        let five: Vec<[u8; 5]> = add_ons
            .iter()
            .filter_map(|text| match text.parse() {
                Ok(AddOn::Five(digits)) => Some(digits),
                _ => None,
            })
            .collect();
        let Some(&first) = five.first() else { return Ok(None) };
        for (number, layout) in (1..).zip(Layout::ALL) {
            let reading = Reading::new(first, layout);
            self.ui.line(format_args!("  {number}  {}: {reading}  ({layout})", add_on_text(first)))?;
        }
        let numbered = |likely| (1_u8..).zip(Layout::ALL).find(|&(_, layout)| layout == likely);
        let proposal = Layout::likely(&five).and_then(numbered).map(|(number, _)| number.to_string());
        loop {
            match self.required("which of the two", proposal.as_deref())?.as_str() {
                "1" => return Ok(Some(Layout::ALL[0])),
                "2" => return Ok(Some(Layout::ALL[1])),
                other => match other.parse() {
                    Ok(layout) => return Ok(Some(layout)),
                    Err(_) => self.wrong("1 or 2")?,
                },
            }
        }
    }

    fn head(&mut self, text: impl Display) -> io::Result<()> {
        let text = self.ui.paint(&text.to_string(), Tone::Strong);
        self.ui.line(text)
    }

    fn picture(&mut self, crop: Option<&str>) -> io::Result<()> {
        crop.map_or(Ok(()), |path| self.ui.line(format_args!("  picture: {path}")))
    }

    fn wrong(&mut self, expected: &str) -> io::Result<()> {
        self.ui.line(format_args!("  please type {expected}"))
    }

    /// What was typed; the proposal for nothing; `None` for nothing without a proposal.
    fn optional(&mut self, prompt: &str, proposal: Option<&str>) -> Reply<Option<String>> {
        let brackets = proposal.map(|p| format!(" [{p}]")).unwrap_or_default();
        self.ui.text(format_args!("  {prompt}{brackets}: "))?;
        let mut line = String::new();
        if self.input.read_line(&mut line)? == 0 {
            self.ui.line("")?;
            return Err(Stop::End);
        }
        match line.trim() {
            "s" => Err(Stop::Skip),
            "" => Ok(proposal.map(str::to_owned)),
            typed => Ok(Some(typed.to_owned())),
        }
    }

    fn required(&mut self, prompt: &str, proposal: Option<&str>) -> Reply<String> {
        loop {
            match self.optional(prompt, proposal)? {
                Some(reply) => return Ok(reply),
                None => self.wrong("something, or s to skip")?,
            }
        }
    }

    fn parsed<T: FromStr>(&mut self, prompt: &str, proposal: Option<&str>) -> Reply<Option<T>> {
        loop {
            match self.optional(prompt, proposal)?.map(|reply| reply.parse()) {
                None => return Ok(None),
                Some(Ok(value)) => return Ok(Some(value)),
                Some(Err(_)) => self.wrong("a number")?,
            }
        }
    }

    fn yes_or_no(&mut self, prompt: &str, proposal: Option<&str>) -> Reply<bool> {
        loop {
            match self.required(&format!("{prompt}? y or n"), proposal)?.as_str() {
                "y" | "yes" => return Ok(true),
                "n" | "no" => return Ok(false),
                _ => self.wrong("y or n")?,
            }
        }
    }
}

fn printed(code: Option<Gtin>) -> String {
    code.map(Gtin::printed).unwrap_or_default()
}

fn add_on_text(digits: [u8; 5]) -> String {
    AddOn::Five(digits).to_string()
}

fn with(add_ons: &[String]) -> String {
    if add_ons.is_empty() { String::new() } else { format!(" with {}", add_ons.join(", ")) }
}

fn numbers(numbers: &[u32]) -> String {
    numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

fn known_in_words(known: &KnownTitle) -> String {
    let volume = if known.volume.is_empty() { String::new() } else { format!(", volume {}", known.volume) };
    let year = known.year.map(|year| format!(" ({year})")).unwrap_or_default();
    let publisher = known.publisher.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
    let highest = known.highest.map(|issue| format!(", owned up to issue {issue}")).unwrap_or_default();
    format!("{}{volume}{year}{publisher}{highest}", known.title)
}
