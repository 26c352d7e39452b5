//! Answers: the same JSON as the questions, with fields filled in.

use std::collections::HashMap;

use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use super::question::Question;
use crate::code::{AddOn, Gtin, Typed, parse_typed};
use crate::code::{AddOnState, TypedError};
use crate::intake::ItemId;

/// An answer that can't be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("answer on line {line}{}: {problem}", field.as_ref().map(|f| format!(", field '{f}'")).unwrap_or_default())]
pub struct AnswerError {
    /// Its line, from 1.
    pub line: usize,
    /// The field at fault, if it is one.
    pub field: Option<String>,
    /// What is wrong with it.
    pub problem: String,
}

/// What is wrong with a field, before its line is known.
#[derive(Debug)]
pub(super) struct Fault {
    field: Option<String>,
    problem: String,
}

impl Fault {
    pub(super) fn new(field: &str, problem: impl ToString) -> Self {
        Self { field: Some(field.to_owned()), problem: problem.to_string() }
    }

    pub(super) fn at(self, line: usize) -> AnswerError {
        AnswerError { line, field: self.field, problem: self.problem }
    }
}

/// The fields of one object, taken one by one so that a fault names its field.
#[derive(Debug)]
pub(super) struct Fields(Map<String, Value>);

impl Fields {
    pub(super) fn take<T: DeserializeOwned>(&mut self, name: &str) -> Result<T, Fault> {
        let value = self.0.remove(name).unwrap_or(Value::Null);
        serde_json::from_value(value).map_err(|error| Fault::new(name, error))
    }

    pub(super) fn take_or_default<T: DeserializeOwned + Default>(&mut self, name: &str) -> Result<T, Fault> {
        match self.0.get(name) {
            None | Some(Value::Null) => {
                self.0.remove(name);
                Ok(T::default())
            }
            Some(_) => self.take(name),
        }
    }
}

/// Answers, found by kind and item. Of two for the same, the later counts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Answers {
    given: Vec<(usize, Question)>,
    by_item: HashMap<(&'static str, ItemId), usize>,
}

impl Answers {
    /// No answers.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// From questions with answer fields filled in; the others are passed over. Errors count them from 1 as lines.
    ///
    /// # Errors
    /// If a field holds what can't be an answer.
    pub fn new(questions: impl IntoIterator<Item = Question>) -> Result<Self, AnswerError> {
        let mut answers = Self::none();
        for (index, question) in questions.into_iter().enumerate() {
            answers.add(index + 1, question)?;
        }
        Ok(answers)
    }

    /// From JSON: objects one after another, as `resolve --json` prints them, or one array of them.
    ///
    /// # Errors
    /// If it is no JSON, no question, or a field holds what can't be an answer.
    pub fn parse(text: &str) -> Result<Self, AnswerError> {
        let mut answers = Self::none();
        let mut values = serde_json::Deserializer::from_str(text).into_iter::<Value>();
        loop {
            // The offset stands behind the value before, so blanks are skipped to find this one's line.
            let end = values.byte_offset();
            let start = end + text[end..].len() - text[end..].trim_start().len();
            let line = 1 + text[..start].matches('\n').count();
            match values.next() {
                None => return Ok(answers),
                Some(Err(error)) => {
                    let problem = format!("no JSON: {error}");
                    return Err(AnswerError { line: error.line(), field: None, problem });
                }
                Some(Ok(Value::Array(list))) => {
                    for value in list {
                        answers.add_value(line, value)?;
                    }
                }
                Some(Ok(value)) => answers.add_value(line, value)?,
            }
        }
    }

    /// How many answers there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.given.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.given.is_empty()
    }

    /// The answers, in the order given.
    pub fn questions(&self) -> impl Iterator<Item = &Question> {
        self.given.iter().map(|(_, question)| question)
    }

    pub(super) fn get(&self, ask: &'static str, item: ItemId) -> Option<(usize, &Question)> {
        let (line, question) = &self.given[*self.by_item.get(&(ask, item))?];
        Some((*line, question))
    }

    fn add_value(&mut self, line: usize, value: Value) -> Result<(), AnswerError> {
        let Value::Object(object) = value else {
            return Err(AnswerError { line, field: None, problem: "an answer is a JSON object".to_owned() });
        };
        let mut fields = Fields(object);
        let ask: String = fields.take("ask").map_err(|fault| fault.at(line))?;
        let question = Question::parse(&ask, &mut fields).map_err(|fault| fault.at(line))?;
        if let Some(name) = fields.0.keys().next() {
            return Err(Fault::new(name, format!("'{ask}' has no such field")).at(line));
        }
        self.add(line, question)
    }

    fn add(&mut self, line: usize, question: Question) -> Result<(), AnswerError> {
        if !question.is_answered() {
            return Ok(());
        }
        check(&question).map_err(|fault| fault.at(line))?;
        for &item in question.items() {
            self.by_item.insert((question.ask(), item), self.given.len());
        }
        self.given.push((line, question));
        Ok(())
    }
}

fn check(question: &Question) -> Result<(), Fault> {
    let named = |name: &Option<String>, keep: Option<bool>| match name {
        Some(name) if crate::collection::search_key(name).is_empty() => Err(Fault::new("title", "a title has a name")),
        None if keep != Some(false) => Err(Fault::new("title", "null, though other fields are filled in")),
        _ => Ok(()),
    };
    let at_least_one = |field, number: Option<u32>| match number {
        Some(0) => Err(Fault::new(field, "0, but counted from 1")),
        _ => Ok(()),
    };
    match question {
        Question::Code(q) => match (&q.code, q.drop) {
            (Some(code), None | Some(false)) => typed_code(code).map(drop).map_err(|e| Fault::new("code", e)),
            (Some(_), Some(true)) => Err(Fault::new("drop", "true, though a code is given")),
            (None, Some(false)) => Err(Fault::new("code", "null, though the item is not dropped")),
            (None, _) => Ok(()),
        },
        Question::AddOn(q) => q.add_on.as_deref().map_or(Ok(()), |text| typed_add_on(text).map(drop)),
        Question::Title(q) => named(&q.title, q.keep),
        Question::Book(q) => named(&q.title, q.keep),
        Question::Count(q) => match (q.means, &q.volume, q.year) {
            (None, ..) => Err(Fault::new("means", "null, though other fields are filled in")),
            (Some(super::Means::NewVolume), None, None) => {
                Err(Fault::new("volume", "a new volume needs its volume or year"))
            }
            _ => Ok(()),
        },
        Question::Issue(q) => match &q.issue {
            Some(issue) if !issue.trim().is_empty() => at_least_one("printing", q.printing),
            _ => Err(Fault::new("issue", "empty, but nothing else says which issue it is")),
        },
        Question::Repeat(q) => at_least_one("copies", q.copies),
        Question::Which(_) | Question::Layout(_) | Question::AnotherCopy(_) | Question::Keep(_) => Ok(()),
    }
}

/// A main code as a person typed it.
pub(super) fn typed_code(text: &str) -> Result<(Gtin, Option<AddOn>), String> {
    match parse_typed(text) {
        Ok(Typed::Code { gtin, add_on, .. }) => Ok((gtin, add_on)),
        Ok(Typed::AddOn(_)) => Err(format!("'{text}' is an add-on without its code")),
        Err(error) => Err(TypedError::to_string(&error)),
    }
}

/// An add-on as a person typed it, or `none`.
pub(super) fn typed_add_on(text: &str) -> Result<AddOnState, Fault> {
    if text.trim().eq_ignore_ascii_case("none") {
        return Ok(AddOnState::Absent);
    }
    text.trim().parse().map(AddOnState::Read).map_err(|error| Fault::new("add_on", format!("{error}; or 'none'")))
}
