//! Days and cover dates as lists write them.

use std::str::FromStr;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::collection::CoverDate;

/// In which order a list writes day, month and year where all are numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum DayOrder {
    /// Year first, as ISO 8601 has it: 2026-03-04.
    #[default]
    Ymd,
    /// Day first: 4.3.2026.
    Dmy,
    /// Month first: 3/4/2026.
    Mdy,
}

impl FromStr for DayOrder {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.trim() {
            "ymd" => Ok(Self::Ymd),
            "dmy" => Ok(Self::Dmy),
            "mdy" => Ok(Self::Mdy),
            other => Err(format!("'{other}' is no order of days; ymd, dmy and mdy are")),
        }
    }
}

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// A date as exact as it is written: 2026, 2026-05, May 2026, 5/2026, or a whole day.
pub(super) fn cover_date(text: &str, order: DayOrder) -> Result<CoverDate, String> {
    let parts: Vec<&str> = without_time(text).split(|c: char| !c.is_alphanumeric()).filter(|p| !p.is_empty()).collect();
    let wrong = || format!("'{text}' is no date such as 2026-05-20, 2026-05 or May 2026");
    let number = |part: &str| part.parse::<i16>().map_err(|_| wrong());
    let small = |part: &str| part.parse::<i8>().map_err(|_| wrong());
    let is_year = |part: &str| part.len() == 4 && part.bytes().all(|c| c.is_ascii_digit());
    let made = |year, month, day| CoverDate::new(year, month, day).ok_or_else(wrong);
    let named = parts.iter().position(|part| month(part).is_some());
    match (parts.as_slice(), named) {
        (&[year], None) if is_year(year) => made(number(year)?, None, None),
        (&[year, month] | &[month, year], None) if is_year(year) => made(number(year)?, Some(small(month)?), None),
        (_, Some(at)) => {
            let rest: Vec<&str> = parts.iter().enumerate().filter(|&(i, _)| i != at).map(|(_, part)| *part).collect();
            let ordinal = |part: &str| small(part.trim_end_matches(|c: char| c.is_ascii_alphabetic()));
            match rest.as_slice() {
                &[year] if is_year(year) => made(number(year)?, month(parts[at]), None),
                &[year, day] | &[day, year] if is_year(year) => {
                    made(number(year)?, month(parts[at]), Some(ordinal(day)?))
                }
                _ => Err(wrong()),
            }
        }
        (&[year, month, day], None) if is_year(year) => made(number(year)?, Some(small(month)?), Some(small(day)?)),
        (&[first, second, year], None) if is_year(year) => {
            let (day, month) = match order {
                DayOrder::Dmy => (first, second),
                DayOrder::Mdy => (second, first),
                DayOrder::Ymd => {
                    return Err(format!("'{text}': which is the day? say how the list writes days (dmy or mdy)"));
                }
            };
            made(number(year)?, Some(small(month)?), Some(small(day)?))
        }
        _ => Err(wrong()),
    }
}

/// A whole day.
pub(super) fn day(text: &str, order: DayOrder) -> Result<Date, String> {
    let date = cover_date(text, order)?;
    date.to_string().parse().map_err(|_| format!("'{text}' names no day"))
}

/// `2026-03-04 00:00:00` and `2026-03-04T00:00` without their time, which lists of days have by accident.
fn without_time(text: &str) -> &str {
    let text = text.trim();
    match text.split_once([' ', 'T']) {
        Some((date, time)) if time.contains(':') && date.starts_with(|c: char| c.is_ascii_digit()) => date,
        _ => text,
    }
}

/// A month by its English name or the beginning of it.
fn month(part: &str) -> Option<i8> {
    let part = part.to_lowercase();
    let found = MONTHS.iter().position(|month| part.len() >= 3 && (month.starts_with(&part) || part == "sept"));
    found.and_then(|at| i8::try_from(if part == "sept" { 9 } else { at + 1 }).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_as_exact_as_they_are_written() {
        for (text, expected) in [
            ("2026", "2026"),
            ("2026-05", "2026-05"),
            ("5/2026", "2026-05"),
            ("May 2026", "2026-05"),
            ("MAY, 2026", "2026-05"),
            ("Sept. 2026", "2026-09"),
            ("2026-05-20", "2026-05-20"),
            ("2026/5/20", "2026-05-20"),
            ("2026-05-20T00:00:00", "2026-05-20"),
            ("2026-05-20 00:00:00", "2026-05-20"),
            ("20 May 2026", "2026-05-20"),
            ("May 20th, 2026", "2026-05-20"),
        ] {
            assert_eq!(cover_date(text, DayOrder::Ymd).unwrap().to_string(), expected, "{text}");
        }
        for text in
            ["", "May", "soon", "26", "2026-13", "3/4/26", "32 May 2026", "2026 2026", "Ma 2026", "May June 2026"]
        {
            assert!(cover_date(text, DayOrder::Dmy).is_err(), "{text}");
        }
    }

    #[test]
    fn numbers_alone_need_their_order() {
        let day = |order| day("03/04/2026", order).map(|day| day.to_string());
        assert_eq!((day(DayOrder::Dmy), day(DayOrder::Mdy)), (Ok("2026-04-03".into()), Ok("2026-03-04".into())));
        assert!(day(DayOrder::Ymd).unwrap_err().contains("which is the day?"));
        assert!(super::day("2026-03", DayOrder::Ymd).unwrap_err().contains("no day"));
    }
}
