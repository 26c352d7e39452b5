//! A form as the answer to its question.

use crate::code::{AddOn, AddOnState};
use crate::desk::pages::queue::sent::{Fault, Sent};
use crate::meaning::Layout;
use crate::resolve::{KnownTitle, Means, Question, TitleQuestion};

/// The fields of each question's form, to show what was typed if the question is gone.
pub(super) fn typed(ask: &str, sent: &Sent) -> Vec<(&'static str, String)> {
    let names: &[&'static str] = match ask {
        "title" => &["title", "publisher", "volume", "year", "layout", "issue_base"],
        "book" => &["title", "publisher", "volume", "year"],
        "which" | "count" => &["volume", "year"],
        "issue" => &["issue", "cover", "printing"],
        "repeat" => &["copies"],
        "layout" => &["layout"],
        _ => &[],
    };
    names.iter().filter_map(|name| Some((*name, sent.text(name)?))).collect()
}

/// The question with its answer filled in.
pub(super) fn answered(question: &Question, sent: &Sent) -> Result<Question, Fault> {
    let (yes, no) = (sent.get("do") == "yes", sent.get("do") == "no");
    Ok(match question.clone() {
        Question::Code(_) | Question::AddOn(_) => {
            return Err(Fault::new("", "this is completed beside the item's picture"));
        }
        Question::Title(mut q) if no => {
            q.keep = Some(false);
            Question::Title(q)
        }
        Question::Title(q) => Question::Title(title(q, sent)?),
        Question::Book(mut q) if no => {
            q.keep = Some(false);
            Question::Book(q)
        }
        Question::Book(mut q) => {
            q.title = Some(sent.required("title", "the name")?);
            q.volume = sent.text("volume");
            q.publisher = sent.text("publisher");
            q.year = sent.parsed("year", "year")?;
            Question::Book(q)
        }
        Question::Which(mut q) => {
            match sent.get("title") {
                "" => return Err(Fault::new("title", "say which of them it is")),
                "new" => {
                    (q.volume, q.year) = (sent.text("volume"), sent.parsed("year", "year")?);
                    if q.volume.is_none() && q.year.is_none() {
                        return Err(Fault::new(
                            "volume",
                            "a new volume needs its volume or the year in which it began",
                        ));
                    }
                }
                known => {
                    let known = known.parse().map_err(|_| Fault::new("title", format!("'{known}' is no title")))?;
                    q.title = Some(known);
                }
            }
            Question::Which(q)
        }
        Question::Layout(mut q) => {
            q.layout = Some(layout(sent)?.ok_or_else(|| Fault::new("layout", "say which of the two it is"))?);
            Question::Layout(q)
        }
        Question::Count(mut q) => {
            q.means = Some(match sent.get("means") {
                "counts_on" => Means::CountsOn,
                "as_printed" => Means::AsPrinted,
                "new_volume" => Means::NewVolume,
                _ => return Err(Fault::new("means", "say what the number means")),
            });
            if q.means == Some(Means::NewVolume) {
                (q.volume, q.year) = (sent.text("volume"), sent.parsed("year", "year")?);
            }
            Question::Count(q)
        }
        Question::Issue(mut q) => {
            q.issue = Some(sent.required("issue", "the issue")?);
            q.cover = sent.text("cover");
            q.printing = sent.parsed("printing", "number")?;
            Question::Issue(q)
        }
        Question::Repeat(mut q) => {
            q.copies = sent.parsed("copies", "number")?;
            if q.copies.is_none() {
                return Err(Fault::new("copies", "the number of copies is missing"));
            }
            Question::Repeat(q)
        }
        Question::AnotherCopy(mut q) => {
            q.accept = Some(decided(yes, no)?);
            Question::AnotherCopy(q)
        }
        Question::Keep(mut q) => {
            q.keep = Some(decided(yes, no)?);
            Question::Keep(q)
        }
    })
}

fn decided(yes: bool, no: bool) -> Result<bool, Fault> {
    if yes != no { Ok(yes) } else { Err(Fault::new("", "say which of the two it is, by its button")) }
}

fn title(mut q: TitleQuestion, sent: &Sent) -> Result<TitleQuestion, Fault> {
    let layout = layout(sent)?;
    let has_five = !five(&q.add_ons).is_empty();
    let missing = || Fault::new("layout", "say how the add-ons are laid out: look at the issue on a cover");
    match sent.get("known") {
        "" | "new" => {
            q.title = Some(sent.required("title", "the title's name")?);
            q.publisher = sent.text("publisher");
            q.volume = sent.text("volume");
            q.year = sent.parsed("year", "year")?;
            q.layout = layout;
            q.issue_base = sent.parsed("issue_base", "number")?;
        }
        number => {
            if let Some(name) = sent.text("title") {
                let problem =
                    format!("'{name}', but a title that is known is chosen: empty this, or choose the new title");
                return Err(Fault::new("title", problem));
            }
            let known = q.proposals.iter().find(|known| known.id.to_string() == number).cloned();
            let known = known.ok_or_else(|| Fault::new("known", format!("'{number}' is none of the titles shown")))?;
            let KnownTitle { title, publisher, volume, year, layout: kept, .. } = known;
            (q.title, q.publisher, q.volume, q.year) = (Some(title), publisher, Some(volume), year);
            q.layout = kept.or(layout);
        }
    }
    if has_five && q.layout.is_none() { Err(missing()) } else { Ok(q) }
}

fn layout(sent: &Sent) -> Result<Option<Layout>, Fault> {
    match sent.get("layout") {
        "" => Ok(None),
        text => text.parse().map(Some).map_err(|error| Fault::new("layout", error)),
    }
}

/// The five-digit ones among add-ons.
pub(super) fn five(add_ons: &[String]) -> Vec<[u8; 5]> {
    let states = add_ons.iter().filter_map(|text| text.parse().ok());
    states
        .filter_map(|add_on| match AddOnState::Read(add_on).read() {
            Some(AddOn::Five(digits)) => Some(digits),
            _ => None,
        })
        .collect()
}
