//! Which title, issue, cover and printing an item's digits stand for.

use super::answers::Fault;
use super::count::{Count, count};
use super::desk::{Desk, Found, answer, stale};
use super::plan::{Listed, Lookup, ResolveError, Resolved, TitleRef};
use super::question::{
    CountQuestion, IssueQuestion, KnownTitle, LayoutQuestion, Means, Question, TitleQuestion, WhichQuestion,
};
use crate::code::{AddOn, AddOnState, Code, Gtin};
use crate::collection::{NewTitle, issue_number};
use crate::intake::Item;
use crate::meaning::Reading;

impl<L: Lookup> Desk<'_, L> {
    /// Uses an answer that names the title of the item's code.
    pub(super) fn name_title(&mut self, item: &Item, code: Code) -> Resolved<(), L::Error> {
        let Some((line, answer)) = answer!(self, Title, "title", item) else { return Ok(()) };
        if answer.code.is_some_and(|told| told != code.gtin) {
            return Err(stale(line, "code", item).into());
        }
        let (false, Some(name)) = (answer.keep == Some(false), &answer.title) else { return Ok(()) };
        let new = NewTitle {
            publisher: answer.publisher.clone(),
            name: name.clone(),
            volume: answer.volume.clone().unwrap_or_default(),
            year: answer.year,
            layout: answer.layout,
            issue_base: answer.issue_base.unwrap_or(0),
        };
        let title = self.titles.find_or_make(new, line)?;
        self.named.insert(item.id, title);
        self.titles.stands_for(code.gtin, title)
    }

    /// What a list says of the item's digits, which is more than the digits say; `None` if no list has them, or several
    /// titles have them and nobody has said which it is. Of several covers or issues of one title a person says which.
    pub(super) fn listed(&mut self, item: &Item, code: Code) -> Resolved<Option<Option<Found>>, L::Error> {
        let AddOnState::Read(add_on @ AddOn::Five(_)) = code.add_on else { return Ok(None) };
        let is_answered = |ask| self.answers.get(ask, item.id).is_some();
        if ["title", "layout", "count"].into_iter().any(is_answered) {
            return Ok(None);
        }
        let mut found = self.lookup.listed(code.gtin, add_on).map_err(ResolveError::Lookup)?;
        if let Some((_, answer)) = answer!(self, Which, "which", item) {
            let is_stale = answer.code.is_some_and(|told| told != code.gtin);
            found.retain(|listed| Some(listed.title.id) == answer.title && !is_stale);
        }
        if found.windows(2).any(|two| two[0].title.id != two[1].title.id) {
            return Ok(None);
        }
        let several = found.len() > 1;
        let Some(Listed { title, issue, cover, printing }) = found.pop() else { return Ok(None) };
        let title = self.titles.known(title);
        let found =
            if several { self.asked_issue(item, code, title) } else { Some(Found { title, issue, cover, printing }) };
        Ok(Some(found))
    }

    /// The title that the item's code stands for, or `None` if it is asked for.
    pub(super) fn title(&mut self, item: &Item, code: Code) -> Resolved<Option<TitleRef>, L::Error> {
        if let Some(&title) = self.named.get(&item.id) {
            return Ok(Some(title));
        }
        let gtin = code.gtin;
        let add_on = code.add_on.read().map(|add_on| add_on.to_string());
        match *self.titles.of_code(gtin)? {
            [] => {
                self.plan.unknown.push(item.id);
                let proposals = self.titles.neighbours(gtin, &self.groups)?;
                let group = self.group("title", gtin.number(), || Question::Title(title_question(gtin, proposals)));
                if let Question::Title(question) = group {
                    question.items.push(item.id);
                    question.add_ons.extend(add_on);
                }
                Ok(None)
            }
            [title] => Ok(Some(title)),
            _ => self.which(item, gtin, add_on),
        }
    }

    fn which(&mut self, item: &Item, gtin: Gtin, add_on: Option<String>) -> Resolved<Option<TitleRef>, L::Error> {
        let candidates = self.titles.of_code(gtin)?.to_vec();
        if let Some((line, answer)) = answer!(self, Which, "which", item) {
            if answer.code.is_some_and(|told| told != gtin) {
                return Err(stale(line, "code", item).into());
            }
            return match answer.title.map(TitleRef::Known) {
                Some(title) if candidates.contains(&title) => Ok(Some(title)),
                Some(_) => Err(Fault::new("title", format!("no title of code {gtin} has this number")).at(line).into()),
                None => {
                    let like = candidates[candidates.len() - 1];
                    let title = self.titles.new_volume(like, answer.volume.as_deref(), answer.year, line)?;
                    self.titles.will_stand_for(gtin, title);
                    Ok(Some(title))
                }
            };
        }
        let titles = candidates.iter().map(|&t| self.titles.shown(t)).collect::<Result<Vec<_>, _>>()?;
        let group = self.group("which", gtin.number(), || {
            Question::Which(WhichQuestion {
                items: Vec::new(),
                code: Some(gtin),
                add_ons: Vec::new(),
                titles: titles.into_iter().flatten().collect(),
                title: None,
                volume: None,
                year: None,
            })
        });
        if let Question::Which(question) = group {
            question.items.push(item.id);
            question.add_ons.extend(add_on);
        }
        Ok(None)
    }

    /// Title, issue, cover and printing, or `None` if something is asked. The title changes if a new volume begins.
    pub(super) fn issue(&mut self, item: &Item, code: Code, title: TitleRef) -> Resolved<Option<Found>, L::Error> {
        let AddOnState::Read(AddOn::Five(digits)) = code.add_on else { return Ok(self.asked_issue(item, code, title)) };
        let layout = match (self.titles.get(title).layout, answer!(self, Layout, "layout", item)) {
            (Some(layout), _) => layout,
            (None, Some((_, LayoutQuestion { layout: Some(layout), .. }))) => {
                self.titles.set_layout(title, *layout);
                *layout
            }
            (None, _) => {
                let name = self.titles.get(title).name.clone();
                let group = self.group("layout", title_key(title), || {
                    let (items, add_ons) = (Vec::new(), Vec::new());
                    Question::Layout(LayoutQuestion { items, title: name, add_ons, layout: None })
                });
                if let Question::Layout(question) = group {
                    question.items.push(item.id);
                    question.add_ons.extend(code.add_on.read().map(|a| a.to_string()));
                }
                return Ok(None);
            }
        };
        let reading = Reading::new(digits, layout);
        let Some((title, number)) = self.number(item, title, code.gtin, reading)? else { return Ok(None) };
        // A 0 for cover or printing is none: publishers leave the digit unset (common practice).
        let (cover, printing) = (reading.cover.max(1).to_string(), u32::from(reading.printing.max(1)));
        Ok(Some(Found { title, issue: number.to_string(), cover, printing }))
    }

    fn asked_issue(&mut self, item: &Item, code: Code, title: TitleRef) -> Option<Found> {
        if let Some((_, answer)) = answer!(self, Issue, "issue", item) {
            let issue = issue_number(answer.issue.as_deref().unwrap_or_default());
            let cover = answer.cover.as_deref().map_or_else(|| "1".to_owned(), issue_number);
            return Some(Found { title, issue, cover, printing: answer.printing.unwrap_or(1) });
        }
        self.plan.open.push(Question::Issue(IssueQuestion {
            item: item.id,
            crop: None,
            title: self.titles.get(title).name.clone(),
            code: Some(code.gtin),
            add_on: code.add_on.read().map(|a| a.to_string()),
            issue: None,
            cover: None,
            printing: None,
        }));
        None
    }

    fn number(
        &mut self,
        item: &Item,
        title: TitleRef,
        gtin: Gtin,
        reading: Reading,
    ) -> Resolved<Option<(TitleRef, u32)>, L::Error> {
        let highest = self.titles.highest(title)?;
        let (printed, counted_on, base) = match count(reading, self.titles.get(title).issue_base, highest) {
            Count::Clear(number) => return Ok(Some((title, number))),
            Count::Unclear { printed, counted_on, base } => (printed, counted_on, base),
        };
        if let Some((line, answer)) = answer!(self, Count, "count", item) {
            return match answer.means {
                Some(Means::CountsOn) => {
                    self.titles.will_count_from(title, base);
                    Ok(Some((title, counted_on)))
                }
                Some(Means::NewVolume) => {
                    let title = self.titles.new_volume(title, answer.volume.as_deref(), answer.year, line)?;
                    self.titles.will_stand_for(gtin, title);
                    Ok(Some((title, reading.issue)))
                }
                Some(Means::AsPrinted) | None => Ok(Some((title, printed))),
            };
        }
        let name = self.titles.get(title).name.clone();
        let group = self.group("count", title_key(title), || {
            Question::Count(CountQuestion {
                items: Vec::new(),
                title: name,
                highest,
                printed: Vec::new(),
                counted_on: Vec::new(),
                means: None,
                volume: None,
                year: None,
            })
        });
        if let Question::Count(question) = group {
            question.items.push(item.id);
            question.printed.push(printed);
            question.counted_on.push(counted_on);
        }
        Ok(None)
    }
}

fn title_key(title: TitleRef) -> u64 {
    match title {
        TitleRef::Known(id) => id.number().cast_unsigned() << 1,
        TitleRef::New(index) => ((index as u64) << 1) | 1,
    }
}

fn title_question(gtin: Gtin, proposals: Vec<KnownTitle>) -> TitleQuestion {
    TitleQuestion {
        items: Vec::new(),
        code: Some(gtin),
        add_ons: Vec::new(),
        proposals,
        title: None,
        publisher: None,
        volume: None,
        year: None,
        layout: None,
        issue_base: None,
        keep: None,
    }
}
