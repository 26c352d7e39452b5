//! Backups, the export, settings, and the first page of the desk.

use boxward::workflow;

use crate::desk_collection::shelf;
use crate::desk_support::Opened;
use crate::workflow_support::dump;

#[test]
fn a_backup_is_made_listed_and_checked() {
    let desk = shelf();
    assert!(desk.page("/backups").contains("There is none yet."));
    let said = desk.post("/backups/make", &[("keep", "2")]);
    assert_eq!(said.status, 303, "{}", said.text());
    let page = desk.page(said.field("location").unwrap());
    let name = "collection-20260304T120000Z.sqlite";
    for part in [name, "Made", "2 titles, 5 copies", "backup restore"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let folder = workflow::backup_folder(desk.file());
    assert!(desk.page(&format!("/backups/check?file={name}")).contains("Whole"));
    // Two stay.
    for _ in 0..2 {
        desk.post("/backups/make", &[("keep", "2")]);
    }
    let backups = workflow::backups(desk.file(), &folder).unwrap();
    assert_eq!(backups.len(), 2);
    // One that is damaged is told.
    let file = &backups[0].path;
    let mut bytes = std::fs::read(file).unwrap();
    let end = bytes.len();
    bytes.truncate(end - 4096);
    std::fs::write(file, bytes).unwrap();
    let damaged = file.file_name().unwrap().to_str().unwrap();
    assert!(desk.page(&format!("/backups/check?file={damaged}")).contains("Not whole"));
}

#[test]
fn only_a_backups_own_name_is_checked() {
    let desk = shelf();
    let outside = desk.file().display().to_string();
    for name in ["../collection.sqlite", outside.as_str(), "", "collection-20260304T120000Z.sqlite"] {
        let name: String = form_urlencoded::byte_serialize(name.as_bytes()).collect();
        assert_eq!(desk.get(&format!("/backups/check?file={name}")).status, 404, "{name}");
    }
    for keep in ["0", "-1", "many"] {
        assert_eq!(desk.post("/backups/make", &[("keep", keep)]).status, 422, "{keep}");
    }
    assert!(!workflow::backup_folder(desk.file()).exists());
}

#[test]
fn an_export_is_the_whole_record() {
    let desk = shelf();
    let said = desk.get("/export");
    assert_eq!(said.status, 200);
    assert!(said.field("content-disposition").unwrap().starts_with("attachment"), "{}", said.head);
    let mut lines = Vec::new();
    desk.store().export(&mut lines).unwrap();
    assert!(said.body == lines, "the download is what boxward export writes");
    let folder = tempfile::tempdir().unwrap();
    let other = folder.path().join("other.sqlite");
    workflow::import_data(&other, &mut said.body.as_slice()).unwrap();
    assert_eq!(dump(&other), dump(desk.file()));
}

fn filing<'a>(change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut all: Vec<(&str, &str)> =
        ["fill", "divider_mm", "short_series", "new_box", "new_mm", "new_box_weight", "split_weight"]
            .map(|n| (n, ""))
            .into();
    all.retain(|(name, _)| change.iter().all(|(changed, _)| changed != name));
    all.extend(change);
    all
}

#[test]
fn settings_are_kept_and_taken_back() {
    let desk = shelf();
    let said = desk.post(
        "/settings/filing",
        &filing(&[("fill", "85"), ("divider_mm", "0,5"), ("new_box", "long"), ("back", "/settings")]),
    );
    let page = desk.page(said.field("location").unwrap());
    assert!(page.contains("name=\"fill\" value=\"85\"") && page.contains("value=\"0.5\""), "{page}");
    let options = workflow::filing_settings(&desk.store()).unwrap().options;
    assert_eq!((options.fill_percent, options.new_kind.word()), (85, "long"));
    for (field, value) in [
        ("fill", "9"),
        ("fill", "101"),
        ("divider_mm", "-1"),
        ("new_mm", "20"),
        ("new_box", "round"),
        ("split_weight", "x"),
    ] {
        assert_eq!(desk.post("/settings/filing", &filing(&[(field, value)])).status, 422, "{field} {value}");
    }
    let run = desk.store().runs(1).unwrap()[0].id.to_string();
    desk.post("/undo", &[("run", &run)]);
    assert_ne!(workflow::filing_settings(&desk.store()).unwrap().options.fill_percent, 85);
}

#[test]
fn an_order_is_shown_before_it_is_set() {
    let desk = shelf();
    for copy in ["1", "5"] {
        desk.post("/pile/read", &[("one", copy)]);
    }
    let page = desk.page("/settings/order?order=title,issue&annuals=before");
    assert!(page.contains("title, issue") && page.contains("The Night Ferry 1"), "{page}");
    let rule = || workflow::filing_settings(&desk.store()).unwrap().rule.to_string();
    let before = rule();
    assert_eq!(desk.get("/settings/order?order=colour&annuals=before").status, 422);
    assert_eq!(rule(), before);
    assert_eq!(desk.post("/settings/order", &[("order", "title, issue"), ("annuals", "before")]).status, 303);
    assert_ne!(rule(), before);
}

#[test]
fn supplies_are_counted() {
    let desk = shelf();
    let fields =
        [("item", "bags=current"), ("on_hand", "3"), ("pack", "50"), ("price", "9.50 USD"), ("back", "/settings")];
    let said = desk.post("/settings/stock", &fields);
    let page = desk.page(said.field("location").unwrap());
    assert!(page.contains("bags, current") && page.contains("9.50 USD"), "{page}");
    let page = desk.page("/settings/buy?weeks=4");
    assert!(
        page.contains("bags, current") && page.contains("1 of 50") && page.contains("lift them with care"),
        "{page}"
    );
    for (field, value) in [("item", "tape"), ("on_hand", "-1"), ("pack", "0"), ("price", "9.50")] {
        let mut fields = vec![("item", "dividers"), ("on_hand", ""), ("pack", ""), ("price", "")];
        fields.retain(|(name, _)| *name != field);
        fields.push((field, value));
        assert_eq!(desk.post("/settings/stock", &fields).status, 422, "{field} {value}");
    }
    assert_eq!(desk.get("/settings/buy?weeks=5000").status, 422);
    assert_eq!(desk.post("/settings/list/remove", &[("name", "none")]).status, 422);
}

#[test]
fn the_first_page_says_where_the_books_are() {
    let desk = shelf();
    desk.post("/pile/read", &[("one", "5")]);
    let page = desk.page("/");
    let (_, pile) = page.split_once("On the reading pile").unwrap();
    assert!(pile.starts_with("</a></dt><dd>4"), "{pile}");
    let (_, to_file) = page.split_once("To be filed").unwrap();
    assert!(to_file.starts_with("</a></dt><dd>1"), "{to_file}");
    for place in ["/intake", "/queue", "/pile", "/wall", "/money", "/collection"] {
        assert!(page.contains(&format!("=\"{place}\"")), "{place}: {page}");
    }
    assert!(Opened::new().page("/").contains("no limit is set"));
}
