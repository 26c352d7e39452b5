//! Lists into the catalogue: completed, never silently overwritten, taken back as one; and scans that need no question.

use std::path::Path;

use boxward::collection::{CopyId, Edit, TitleChange, TitleId};
use boxward::list::{Choices, Field};
use boxward::resolve::{Answers, Question};
use boxward::workflow::{self, Have, IssueChange, ListReport, ListTaking, RowNew, RowOutcome, WorkflowError};
use serde_json::json;

use crate::workflow_support::{Home, home, now, upc};

fn choices() -> Choices {
    Choices { currency: "USD".parse().ok(), ..Choices::default() }
}

fn take(home: &Home, path: &Path, taking: &ListTaking) -> (ListReport, Vec<RowOutcome>) {
    let mut rows = Vec::new();
    let tell = &mut |row: &RowOutcome| rows.push(row.clone());
    let report = workflow::list_import(&home.store, path, &choices(), taking, now(), tell).unwrap();
    (report, rows)
}

/// Takes a list with these rows.
fn list(home: &Home, text: &str) -> (ListReport, Vec<RowOutcome>) {
    take(home, &home.photo("list.csv", text), &ListTaking::default())
}

fn problems(rows: &[RowOutcome]) -> Vec<(usize, String)> {
    rows.iter().flat_map(|row| row.problems.iter().map(|problem| (row.line, problem.problem.clone()))).collect()
}

/// Two volumes that share a code, a run past what its digits hold, and a ratio variant.
fn shop() -> String {
    let (tide, moth) = (upc(104), upc(2366));
    format!(
        "title,publisher,volume,year,issue,cover,printing,code,pages,key\n\
         Tide Wardens,Lantern Row,1,2023,12,A,1,{tide} 01211,32,\n\
         Tide Wardens,Lantern Row,1,2023,12,1:25,1,{tide} 01221,32,\n\
         Tide Wardens,Lantern Row,1,2023,13,A,2,{tide} 01312,32,first appearance of the Lamplighter\n\
         Tide Wardens,Lantern Row,2,2025,1,A,1,{tide} 00111,40,\n\
         Moth Parliament,Brass Heron,,2016,1001,A,1,{moth} 00111,32,\n\
         Moth Parliament,Brass Heron,,2016,Annual 2,A,1,,64,\n"
    )
}

#[test]
fn a_list_becomes_known_and_nothing_owned_and_is_taken_back_as_one() {
    let home = home();
    let path = home.photo("shop.csv", &shop());
    let (dry, rows) = take(&home, &path, &ListTaking { dry_run: true, ..ListTaking::default() });
    assert_eq!((home.dump().as_str(), dry.run, workflow::runs(&home.store, 9).unwrap().len()), ("", None, 0));
    let (report, real) = take(&home, &path, &ListTaking::default());
    assert_eq!(rows, real);
    assert_eq!((report.rows, report.titles, report.issues, report.printings), (6, 3, 5, 6));
    assert_eq!((report.completed, report.differing, report.failed), (0, 0, 0));
    let new: Vec<_> = real.iter().map(|row| row.new.unwrap()).collect();
    assert_eq!(new, [RowNew::Title, RowNew::Printing, RowNew::Issue, RowNew::Title, RowNew::Title, RowNew::Issue]);
    assert_eq!(home.have("tide wardens 12").answer, Have::NotOwned);
    assert_eq!(home.have("moth parliament annual 2").titles.len(), 1);
    let known = workflow::catalogue_show(&home.store, "tide wardens 2023 13").unwrap();
    assert_eq!(known[0].facts.key.as_deref(), Some("first appearance of the Lamplighter"));
    // The same list again is no news.
    let after = home.dump();
    let (again, rows) = take(&home, &path, &ListTaking::default());
    assert_eq!((again.run, home.dump()), (None, after));
    assert!(rows.iter().all(|row| row.new.is_none() && row.completed.is_empty() && row.differs.is_empty()));
    workflow::undo(&home.store, report.run, now()).unwrap();
    assert_eq!(home.dump(), "");
}

#[test]
fn scans_of_listed_books_resolve_with_no_question() {
    let home = home();
    take(&home, &home.photo("shop.csv", &shop()), &ListTaking::default());
    let (tide, moth) = (upc(104), upc(2366));
    home.stack(&format!("{tide} 01211\n{tide} 01221\n{tide} 01312\n{tide} 00111\n{moth} 00111"));
    let report = home.resolve(&Answers::none());
    assert_eq!((report.open.len(), report.unknown.len(), report.decided.len()), (0, 0, 5), "{:?}", report.open);
    let found: Vec<_> = report
        .decided
        .iter()
        .map(|d| {
            (
                d.title_id.unwrap().number(),
                d.issue.as_deref().unwrap(),
                d.cover.as_deref().unwrap(),
                d.printing.unwrap(),
            )
        })
        .collect();
    assert_eq!(
        found,
        [(1, "12", "A", 1), (1, "12", "1:25", 1), (1, "13", "A", 2), (2, "1", "A", 1), (3, "1001", "A", 1)]
    );
    // Each is a copy of the printing that the list gave: no second one was made.
    for query in ["tide wardens 2023 12", "tide wardens 2025 1", "moth parliament 1001"] {
        let known = workflow::catalogue_show(&home.store, query).unwrap();
        assert!(known[0].printings.iter().all(|printing| printing.copies == 1), "{known:?}");
    }
    assert_eq!(home.have(&format!("{moth} 00111")).titles[0].issue.as_deref(), Some("1001"));
    // A second copy is asked about as ever.
    home.stack(&format!("{tide} 01211"));
    assert!(matches!(home.resolve(&Answers::none()).open.as_slice(), [Question::AnotherCopy(_)]));
    let titles: std::collections::HashSet<_> =
        workflow::pile_list(&home.store, 9).unwrap().iter().map(|copy| copy.title.id).collect();
    assert_eq!((titles.len(), home.store.unread_copy(CopyId::new(1)).unwrap().cover.as_str()), (3, "A"));
}

#[test]
fn digits_that_a_list_gives_twice_are_asked_about() {
    let home = home();
    let code = upc(104);
    list(
        &home,
        &format!(
            "title,year,issue,cover,code\nTide Wardens,2023,12,A,{code}01211\nTide Wardens,2023,12,B,{code}01211\n\
             Tide Wardens,2023,13,A,{code}01311\nNight Ferry,2024,13,A,{code}01311\n"
        ),
    );
    home.stack(&format!("{code} 01211\n{code} 01311"));
    let open = home.resolve(&Answers::none()).open;
    assert!(matches!(open.as_slice(), [Question::Which(_), Question::Issue(_)]), "{open:?}");
    let report = home.answer(&[("issue", json!({"issue": "12", "cover": "B"})), ("which", json!({"title": 2}))]);
    assert_eq!((report.decided.len(), report.open.len()), (2, 0));
    let copies = |query: &str, at: usize| workflow::catalogue_show(&home.store, query).unwrap()[0].printings[at].copies;
    assert_eq!((copies("tide wardens 12", 0), copies("tide wardens 12", 1), copies("night ferry 13", 0)), (0, 1, 1));
}

#[test]
fn what_is_known_is_completed_and_what_differs_is_kept_unless_the_lists_is_wanted() {
    let home = home();
    let code = upc(104);
    home.stack(&format!("{code} 01211\n{code} 01311"));
    home.answer(&[("title", json!({"title": "Tide Wardens", "layout": "IIICP"}))]);
    let pages = IssueChange { pages: Edit::To(32), ..IssueChange::default() };
    workflow::catalogue_set(&home.store, "tide wardens 12", &pages, now()).unwrap();
    let text = format!(
        "title,publisher,year,issue,cover,code,pages,price\n\
         The Tide-Wardens,Lantern Row,2023,12,1,{code} 01211,40,3.99\n\
         Tide Wardens,LANTERN ROW,2023,13,A,{code} 01311,32,3.99\n"
    );
    let before = home.dump();
    let (report, rows) = list(&home, &text);
    assert_eq!((report.titles, report.issues, report.printings, report.completed), (0, 0, 0, 2));
    let completed: Vec<_> = rows[0].completed.iter().map(|done| (done.field, done.list.as_str())).collect();
    assert_eq!(completed, [(Field::Publisher, "Lantern Row"), (Field::Year, "2023"), (Field::Price, "3.99 USD")]);
    let differs: Vec<_> = rows
        .iter()
        .flat_map(|row| &row.differs)
        .map(|d| (d.field, d.here.as_str(), d.list.as_str(), d.taken))
        .collect();
    assert_eq!(differs, [(Field::Pages, "32", "40", false), (Field::Cover, "1", "A", false)]);
    let shown =
        |issue: &str| workflow::catalogue_show(&home.store, &format!("tide wardens {issue}")).unwrap().remove(0);
    assert_eq!((shown("12").facts.pages, shown("13").printings[0].cover.as_str()), (Some(32), "1"));
    let path = home.folder.path().join("list.csv");
    let (replaced, _) = take(&home, &path, &ListTaking { replace: true, ..ListTaking::default() });
    assert_eq!((shown("12").facts.pages, shown("13").printings[0].cover.as_str()), (Some(40), "A"));
    assert_eq!((shown("13").printings[0].copies, replaced.differing), (1, 2));
    assert_eq!(take(&home, &path, &ListTaking::default()).0.run, None);
    workflow::undo(&home.store, replaced.run, now()).unwrap();
    workflow::undo(&home.store, report.run, now()).unwrap();
    assert_eq!(home.dump(), before);
}

#[test]
fn a_row_that_makes_no_sense_is_told_and_the_rest_taken() {
    let home = home();
    let (report, rows) = list(
        &home,
        &format!(
            "title,year,issue,code,price,on sale,pages\n\
             Tide Wardens,2023,1,{0} 00111,x.99,2026-01-07,32\n\
             ,2023,2,,3.99,,32\n\
             Tide Wardens,2023,3,614141001041,3.99,soon,none\n\
             Tide Wardens,2023,,{0} 00411,3.99,,\n\
             Tide Wardens,2023,5,{0} 00511,3.99,2026-05-06,32\n\
             Tide Wardens,2023,,,3.99,,36\n\
             Tide Wardens,2023,,{0},,,36\n",
            upc(104)
        ),
    );
    assert_eq!((report.rows, report.failed, report.issues), (7, 5, 1));
    let lines: Vec<usize> = problems(&rows).iter().map(|(line, _)| *line).collect();
    assert_eq!(lines, [2, 3, 4, 4, 4, 5, 7]);
    assert_eq!(rows[0].problems[0].column.as_deref(), Some("price"));
    assert_eq!(problems(&rows)[0].1, "'x.99' is no price");
    assert_eq!(workflow::catalogue_show(&home.store, "tide wardens").unwrap().len(), 1);
}

#[test]
fn titles_are_told_apart_by_what_they_say() {
    let home = home();
    for (code, year) in [(104, json!(2016)), (2366, json!(null))] {
        home.stack(&format!("{} 00111", upc(code)));
        let name = if year.is_null() { "Night Ferry" } else { "Tide Wardens" };
        home.answer(&[("title", json!({"title": name, "year": year, "layout": "IIICP"}))]);
    }
    let (_, rows) = list(
        &home,
        &format!(
            "title,volume,year,issue,code\n\
             Tide Wardens,,2016,2,\n\
             Tide Wardens,2,2023,1,\n\
             Tide Wardens,2,,2,\n\
             Tide Wardens,3,,1,\n\
             Tide Wardens,,,9,\n\
             Tide Wardens,,,9,{tide}\n\
             Night Ferry,,2019,2,{ferry}\n\
             Night Ferry,,2024,1,{other}\n",
            tide = upc(104),
            ferry = upc(2366),
            other = upc(999)
        ),
    );
    let titles: Vec<_> = rows.iter().map(|row| row.title.as_ref().map(|title| title.id.number())).collect();
    // The third volume may be the one of 2016, and a row that says neither may be any.
    assert_eq!(titles, [Some(1), Some(3), Some(3), None, None, Some(1), Some(2), Some(4)]);
    assert!(rows[3].problems[0].problem.contains("title set 1"), "{:?}", rows[3].problems);
    assert!(rows[4].problems[0].problem.contains("give the volume or the year"));
    assert_eq!(home.store.title(TitleId::new(2)).unwrap().year, Some(2019));
    assert_eq!(home.store.title(TitleId::new(3)).unwrap().volume, "2");
}

#[test]
fn titles_books_and_layouts() {
    let home = home();
    list(
        &home,
        &format!(
            "title,publisher,volume,year,issue,code,size,pages,family\n\
             Tide Wardens,Lantern Row,,2023,,{tide},silver,36,Wardens\n\
             Tide Wardens,Lantern Row,,2023,104,{tide} 10411,,,\n\
             Orla Quill,Brass Heron,,2024,10,{orla} 10021,,,\n\
             Tide Wardens: Low Water,Lantern Row,2,2025,,9798999999993,paperback,160,\n",
            tide = upc(104),
            orla = upc(2310)
        ),
    );
    let title = workflow::title_show(&home.store, TitleId::new(1)).unwrap();
    assert_eq!((title.facts.pages, title.facts.family.as_deref(), title.issues), (Some(36), Some("Wardens"), 0));
    assert_eq!(title.title.layout.map(|layout| layout.to_string()).as_deref(), Some("IIICP"));
    let orla = workflow::title_show(&home.store, TitleId::new(2)).unwrap().title;
    assert_eq!(orla.layout.map(|layout| layout.to_string()).as_deref(), Some("IICCP"));
    assert_eq!(workflow::catalogue_show(&home.store, "orla quill 10").unwrap()[0].printings[0].cover, "2");
    // A book is known by its own number, and its volume is the issue.
    home.stack("9798999999993 51999");
    let report = home.resolve(&Answers::none());
    assert_eq!((report.open.len(), report.decided[0].issue.as_deref()), (0, Some("2")));
}

#[test]
fn how_a_list_is_read_is_kept_under_a_name() {
    let home = home();
    let path = home.photo("other.csv", "Series;No.;Cover Price\nTide Wardens;1;3,99\n");
    let none =
        workflow::list_import(&home.store, &path, &Choices::default(), &ListTaking::default(), now(), &mut |_| {});
    assert!(matches!(none, Err(WorkflowError::Columns(_))));
    let columns = [(Field::Title, "series"), (Field::Issue, "no"), (Field::Price, "3")];
    let columns = columns.map(|(field, column)| (field, column.to_owned())).into();
    let choices = Choices { columns, currency: "EUR".parse().ok(), ..Choices::default() };
    let taking = ListTaking { save_as: Some(" corner ".to_owned()), ..ListTaking::default() };
    let report = workflow::list_import(&home.store, &path, &choices, &taking, now(), &mut |_| {}).unwrap();
    assert_eq!(report.issues, 1);
    assert_eq!(workflow::list_preset(&home.store, "corner").unwrap(), choices);
    assert_eq!(workflow::list_presets(&home.store).unwrap().len(), 1);
    workflow::remove_list_preset(&home.store, "corner", now()).unwrap();
    assert!(workflow::list_preset(&home.store, "corner").is_err());
    workflow::undo(&home.store, None, now()).unwrap();
    workflow::undo(&home.store, report.run, now()).unwrap();
    assert_eq!(home.dump(), "");
    let blank = ListTaking { save_as: Some(" ".to_owned()), ..ListTaking::default() };
    let refused = workflow::list_import(&home.store, &path, &choices, &blank, now(), &mut |_| {});
    assert!(matches!(refused, Err(WorkflowError::NoPresetName)));
    assert_eq!(home.dump(), "");
}

#[test]
fn a_listed_title_may_be_renamed_and_its_list_finds_it_by_its_code() {
    let home = home();
    list(&home, &format!("title,year,issue,code\nTide Wardens,2023,1,{} 00111\n", upc(104)));
    let change = TitleChange { year: Edit::To(2022), ..TitleChange::default() };
    workflow::title_set(&home.store, TitleId::new(1), &change, now()).unwrap();
    let (report, _) = list(&home, &format!("title,issue,code\nTide Wardens,2,{} 00211\n", upc(104)));
    assert_eq!((report.titles, report.issues), (0, 1));
}
