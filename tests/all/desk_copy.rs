//! One book on the desk: what is shown of it, what its forms change, its pictures and its history.

use boxward::collection::CopyId;
use boxward::workflow;

use crate::desk_collection::shelf;
use crate::desk_support::{Opened, try_say};

fn known<'a>(change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let names = [
        "condition",
        "defects",
        "signed_by",
        "bag",
        "board",
        "bag_size",
        "bagged_on",
        "shop",
        "acquired",
        "paid",
        "cover_price",
        "asked",
        "discount",
        "tax",
        "value",
    ];
    let mut fields: Vec<_> = names.into_iter().map(|name| (name, "")).collect();
    fields.retain(|(name, _)| change.iter().all(|(changed, _)| changed != name));
    fields.extend(change);
    fields
}

/// Copy 5 as its form shows it: what is bought stays.
fn bought<'a>(change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut all = vec![("shop", "Corner Comics"), ("acquired", "2026-03-04"), ("paid", "3.99 USD")];
    all.retain(|(name, _)| change.iter().all(|(changed, _)| changed != name));
    all.extend(change);
    known(&all)
}

fn runs(desk: &Opened) -> usize {
    desk.store().runs(99).unwrap().len()
}

/// Sends a form that must be carried out, and gives the page that it leads to.
fn done(desk: &Opened, path: &str, fields: &[(&str, &str)]) -> String {
    let said = desk.post(path, fields);
    assert_eq!(said.status, 303, "{path}: {}", said.text());
    desk.page(said.field("location").unwrap())
}

#[test]
fn a_copy_shows_what_is_known_of_it() {
    let desk = shelf();
    let page = desk.page("/copy/5");
    for part in [
        "3.99 USD",
        "Corner Comics, 2026-03-04",
        "not yet",
        "It stands in no box.",
        "href=\"/title/2\"",
        "/copy/5/crop",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("The values are"), "there is no value yet");
    assert_eq!(desk.get("/copy/99").status, 404);
    assert_eq!(desk.get("/copy/x").status, 400);
    let crop = desk.get("/copy/5/crop");
    assert_eq!((crop.status, crop.field("content-type")), (200, Some("image/png")));
    assert_eq!(desk.get("/copy/5/photo").status, 404);
}

#[test]
fn what_is_known_of_a_copy_is_changed_and_taken_back() {
    let desk = shelf();
    let before = runs(&desk);
    done(&desk, "/copy/5/set", &bought(&[]));
    assert_eq!(runs(&desk), before, "a form that says what it showed changes nothing");
    let change = [
        ("condition", "near mint"),
        ("defects", "small crease\r\nat the spine"),
        ("bag", "polyester"),
        ("board", "acid-free"),
        ("value", "12 USD"),
        ("paid", "3.50 USD"),
    ];
    let page = done(&desk, "/copy/5/set", &bought(&change));
    for part in [
        "9.4 (near mint)",
        "small crease\nat the spine",
        "polyester bag, acid-free board, since 2026-03-04",
        "12.00 USD (of 2026-03-04)",
        "no appraisal",
        "3.50 USD",
        "Run ",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let copy = workflow::copy_show(&desk.store(), CopyId::new(5)).unwrap();
    assert_eq!(copy.facts.defects.as_deref(), Some("small crease\nat the spine"));
    // What is emptied is unknown again; the day of the bag goes with it.
    let again = [
        ("condition", "9.4"),
        ("defects", "small crease\r\nat the spine"),
        ("paid", "3.50 USD"),
        ("bagged_on", "2026-03-04"),
    ];
    done(&desk, "/copy/5/set", &bought(&again));
    let copy = workflow::copy_show(&desk.store(), CopyId::new(5)).unwrap();
    assert_eq!((copy.facts.value, copy.bagging.bag, copy.bagging.bagged_on), (None, None, None));
    let run = desk.store().runs(1).unwrap()[0].id.to_string();
    assert_eq!(desk.post("/undo", &[("run", &run)]).status, 303);
    assert!(desk.page("/copy/5").contains("12.00 USD"));
}

#[test]
fn what_cant_be_is_told_with_its_field() {
    let desk = shelf();
    let before = runs(&desk);
    for (field, value, told) in [
        ("condition", "11", "condition: "),
        ("paid", "3.99", "paid: "),
        ("bag", "glass", "bag: "),
        ("discount", "120 %", "taken off: "),
        ("acquired", "soon", "bought on: "),
        ("value", "much", "value: "),
    ] {
        let said = desk.post("/copy/5/set", &bought(&[(field, value)]));
        assert_eq!(said.status, 422, "{field}");
        assert!(said.text().contains(told), "{field}: {}", said.text());
    }
    assert_eq!(desk.post("/copy/99/set", &bought(&[])).status, 404);
    assert_eq!(desk.post("/copy/5/lend", &[("to", " "), ("on", "")]).status, 422);
    assert_eq!(desk.post("/copy/5/returned", &[("on", "")]).status, 422, "it is not lent");
    assert_eq!(desk.post("/copy/5/leave", &[("how", ""), ("on", "")]).status, 422);
    assert_eq!(desk.post("/copy/5/leave", &[("how", "burnt"), ("on", "")]).status, 422);
    assert_eq!(desk.post("/copy/5/read", &[("on", "2026-02-30")]).status, 422);
    assert_eq!(runs(&desk), before);
}

#[test]
fn a_copy_is_read_lent_brought_back_and_gone() {
    let desk = shelf();
    let page = done(&desk, "/copy/5/read", &[("on", "2026-03-01")]);
    assert!(page.contains("on 2026-03-01") && page.contains("Seal the bag"), "{page}");
    assert_eq!(desk.post("/copy/5/read", &[("on", "")]).status, 422, "it is read already");
    let page = done(&desk, "/copy/5/lend", &[("to", "Ada <i>Quill</i>"), ("on", "2026-03-02")]);
    assert!(page.contains("to Ada &lt;i&gt;Quill&lt;/i&gt; since 2026-03-02"), "{page}");
    let page = done(&desk, "/copy/5/returned", &[("on", "2026-03-03")]);
    assert!(!page.contains("since 2026-03-02"), "{page}");
    let gone = [("how", "sold"), ("on", "2026-03-04"), ("price", "12 USD"), ("to", "Ada")];
    let page = done(&desk, "/copy/5/leave", &gone);
    assert!(page.contains("Owned no more: sold on 2026-03-04 to Ada for 12.00 USD"), "{page}");
    assert!(!page.contains("/copy/5/lend"), "what left is not lent");
    // Every run that touched it is in its history, the latest first.
    let history = page.split_once("What happened to it").unwrap().1;
    let at = |words: &str| history.find(words).unwrap_or_else(|| panic!("{words}: {history}"));
    assert!(at("how it left") < at("a loan") && at("a loan") < at("the day it was read"), "{history}");
    assert!(at("the day it was read") < at("its item in the queue"), "{history}");
    assert!(history.contains(">import<") && history.contains(">resolve<"), "{history}");
    assert!(!desk.page("/copy/1").contains("how it left"), "another copy's history is its own");
}

/// A form with one file.
fn upload(desk: &Opened, path: &str, check: &str, file: &[u8]) -> u16 {
    let mut body = b"--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"../x.png\"\r\n\
        Content-Type: image/png\r\n\r\n"
        .to_vec();
    body.extend(file);
    body.extend(b"\r\n--edge--\r\n");
    let head = format!("Origin: http://{}\r\nContent-Type: multipart/form-data; boundary=edge\r\n", desk.host);
    let request = desk.request("POST", &format!("{path}?check={check}"), &head, "");
    let mut bytes = request.replace("Content-Length: 0", &format!("Content-Length: {}", body.len())).into_bytes();
    bytes.extend(body);
    try_say(&desk.host, &bytes).unwrap().status
}

#[test]
fn a_photo_is_kept_small_shown_and_removed() {
    let desk = shelf();
    let check = desk.check();
    let picture = image::RgbImage::from_pixel(1600, 400, image::Rgb([200, 30, 30]));
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    assert_eq!(upload(&desk, "/copy/5/photo", &check, png.get_ref()), 303);
    let said = desk.get("/copy/5/photo");
    assert_eq!(said.field("content-type"), Some("image/jpeg"));
    let kept = image::load_from_memory(&said.body).unwrap();
    assert_eq!((kept.width(), kept.height()), (1200, 300));
    assert!(desk.page("/copy/5").contains("src=\"/copy/5/photo\""));
    // What is no picture, nothing, or another session's form changes nothing.
    let before = runs(&desk);
    assert_eq!(upload(&desk, "/copy/5/photo", &check, b"<svg onload=alert(1)>"), 422);
    assert_eq!(upload(&desk, "/copy/5/photo", &check, b""), 422);
    assert_eq!(upload(&desk, "/copy/5/photo", &"0".repeat(64), png.get_ref()), 403);
    assert_eq!(upload(&desk, "/copy/99/photo", &check, png.get_ref()), 404);
    assert_eq!(runs(&desk), before);
    done(&desk, "/copy/5/photo/forget", &[]);
    assert_eq!(desk.get("/copy/5/photo").status, 404);
}
