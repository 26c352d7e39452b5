//! The page for the counter: small enough, closed to markup, and in a real browser the program's own answers.

use std::path::PathBuf;

use boxward::collection::{Owned, Title, TitleId, Want, Week, search_key};
use boxward::report::{PocketTitle, pocket_page};
use boxward::store::Store;
use boxward::workflow::{self, Have, Named, PullRequest, Wanted};
use jiff::civil::date;
use serde_json::json;

use crate::browser::{Browser, missing};
use crate::workflow_support::{Home, home, now, upc};

/// What a phone is asked to hold.
const MOST_BYTES: usize = 2_000_000;

fn titled(id: i64, name: &str) -> Title {
    Title {
        id: TitleId::new(id),
        publisher: Some("Lantern Street".to_owned()),
        name: name.to_owned(),
        volume: String::new(),
        year: Some(2019),
        layout: None,
        issue_base: 0,
    }
}

fn printing(cover: &str) -> Owned {
    Owned { cover: cover.to_owned(), printing: 1, code: None, add_on: None, copies: 1 }
}

fn page_of(titles: &[PocketTitle]) -> String {
    pocket_page(titles, date(2026, 3, 4))
}

#[test]
fn twenty_thousand_books_fit_a_phone() {
    // As collections are: long runs, of which every fifth issue has another cover too.
    let issue = |n: u32| {
        let covers = if n.is_multiple_of(5) { vec![printing("1"), printing("2")] } else { vec![printing("1")] };
        (n.to_string(), Some(n), covers)
    };
    let runs: Vec<_> = (0..250_u32)
        .map(|n| PocketTitle {
            title: titled(n.into(), &format!("The Adventures of the Night Ferry, series {n}")),
            codes: vec![upc(n).parse().unwrap()],
            owned: (1..=67_u32).filter(|k| !k.is_multiple_of(11)).map(issue).collect(),
            wants: vec![("11".to_owned(), Want { up_to: "5 USD".parse().ok(), note: "any cover".to_owned() })],
            dues: Vec::new(),
        })
        .collect();
    let books: usize = runs.iter().flat_map(|title| &title.owned).map(|(_, _, printings)| printings.len()).sum();
    assert!(books >= 18_000, "{books}");
    let page = page_of(&runs);
    assert!(page.len() < MOST_BYTES / 4, "{} bytes", page.len());
    // And at the worst: every book of another title, with a name longer than most.
    let single: Vec<_> = (0..20_000_u32)
        .map(|n| PocketTitle {
            title: titled(n.into(), &format!("The Clockwork Cartographer {n}")),
            codes: vec![upc(n).parse().unwrap()],
            owned: vec![(n.to_string(), Some(n), vec![printing("1")])],
            wants: Vec::new(),
            dues: Vec::new(),
        })
        .collect();
    let page = page_of(&single);
    assert!(page.len() < MOST_BYTES, "{} bytes", page.len());
}

const EVIL: &str = "</script><script>document.title='broken'</script><!-- <img src=x onerror=alert(1)>";

#[test]
fn markup_in_names_and_notes_stays_text() {
    let evil = PocketTitle {
        title: Title { publisher: Some(EVIL.to_owned()), volume: EVIL.to_owned(), ..titled(1, EVIL) },
        codes: Vec::new(),
        owned: vec![(EVIL.to_owned(), None, vec![printing(EVIL)])],
        wants: vec![("1".to_owned(), Want { up_to: None, note: EVIL.to_owned() })],
        dues: Vec::new(),
    };
    let page = page_of(&[evil]);
    // Its own two scripts and nothing else, whatever an element's name is written like.
    assert_eq!(page.to_lowercase().matches("<script").count(), 2);
    assert_eq!(page.to_lowercase().matches("</script").count(), 2);
    assert_eq!(page.matches("<!--").count(), 1, "the line that says who wrote it");
    assert!(!page.contains("<img"));
    for outside in ["http:", "https:", "src=", "href=", "@import", "url(", "fetch(", "XMLHttpRequest"] {
        assert!(!page.replace("src=x", "").contains(outside), "{outside}");
    }
}

/// A collection with names of every kind, gaps, covers, wants and expected books.
fn shelf() -> Home {
    let home = home();
    let books: [(u32, &str, Option<i16>, &str); 8] = [
        (41, "The Night Ferry", Some(2019), "00411 00511 00521 00911"),
        (42, "Night & Tide", Some(2020), "00111"),
        (43, "Café Fähre: L'Œuvre", Some(2021), "00211"),
        (44, "Ｎight Ferry Tales", None, "00111 00211"),
        (45, "Ferryman\u{2019}s Song", Some(1999), "01211"),
        (46, "52", Some(2006), "00111"),
        (47, "夜の船", Some(2018), "00311"),
        (48, "The Night Ferry", Some(1988), "00411"),
    ];
    for (code, name, year, add_ons) in books {
        let lines: String = add_ons.split(' ').map(|add_on| format!("{} {add_on}\n", upc(code))).collect();
        home.stack(&lines);
        home.answer(&[(
            "title",
            json!({"title": name, "publisher": "Lantern Street", "year": year, "layout": "IIICP"}),
        )]);
    }
    let named = |text: &str| Named::new(&[text.to_owned()]);
    let want = Want { up_to: "5 USD".parse().ok(), note: EVIL.to_owned() };
    workflow::want_add(&home.store, &Wanted::Issues(named("night ferry 2019 6"), None), &want, now()).unwrap();
    let request = PullRequest { named: named("night tide 2"), due: "2026-W48".parse().ok(), every: None, new: None };
    workflow::pull_add(&home.store, &request, date(2026, 11, 25), now()).unwrap();
    home
}

fn written(home: &Home) -> PathBuf {
    let titles = workflow::pocket(&home.store, Week::of(date(2026, 11, 25))).unwrap();
    let path = home.folder.path().join("pocket.html");
    std::fs::write(&path, page_of(&titles)).unwrap();
    path
}

/// What the page answers: each entry's class and text.
fn answers(browser: &Browser) -> Vec<(String, String)> {
    let found =
        browser.run("return [...document.querySelectorAll('#found li')].map(li => [li.className, li.innerText])");
    serde_json::from_value(found).unwrap()
}

fn asked(browser: &Browser, query: &str) -> Vec<(String, String)> {
    browser.type_into("#query", query);
    answers(browser)
}

/// The titles and issues of which the program says that they are owned.
fn owned_by_program(store: &Store, query: &str) -> Vec<String> {
    let answer = workflow::have(store, query).unwrap();
    let owned = answer.titles.iter().filter(|title| title.issue.is_some() && !title.owned.is_empty());
    let mut owned: Vec<_> =
        owned.map(|t| format!("{} {} {:?}", t.title.name, t.issue.clone().unwrap(), t.title.year)).collect();
    assert_eq!(owned.is_empty(), answer.answer == Have::NotOwned, "{query}");
    owned.sort();
    owned
}

#[test]
fn a_real_browser_gives_the_programs_answers() {
    if missing() {
        return;
    }
    let home = shelf();
    let browser = Browser::open(&written(&home), 390, 844);
    assert_eq!(browser.run("return document.title"), "In my pocket");
    // Before anything is typed: what is wanted and expected, and how much there is.
    let all = answers(&browser);
    assert_eq!(all.len(), 2, "{all:?}");
    assert!(all.iter().any(|(_, text)| text.contains("6 wanted, up to 5.00 USD") && text.contains(EVIL)), "{all:?}");
    assert!(all.iter().any(|(_, text)| text.contains("2 expected, due 2026-W48")), "{all:?}");
    for query in [
        "night ferry 4",
        "NIGHT FERRY #004",
        "the night ferry 5",
        "night ferry 6",
        "ferry 9",
        "night and tide 1",
        "night & tide 1",
        "cafe fahre l'œuvre 2",
        "café 2",
        "night ferry tales 2",
        "ferrymans song 12",
        "ferryman's 12",
        "52 1",
        "夜の船 3",
        "night ferry 1988 4",
        "night ferry 1988 5",
        "night ferry 77",
        "tide 2",
    ] {
        let mut by_page: Vec<String> = Vec::new();
        for (class, text) in asked(&browser, query) {
            if class == "owned" && text.contains("cover ") {
                by_page.push(text.lines().next().unwrap().to_owned());
            }
        }
        let by_program = owned_by_program(&home.store, query);
        // The page shows each title with its year in brackets; names may begin alike, so each owned one must be there.
        for owned in &by_program {
            let (book, year) = owned.rsplit_once(' ').unwrap();
            let year = year.trim_start_matches("Some(").trim_end_matches(')').to_owned();
            assert!(
                by_page.iter().any(|line| line.starts_with(book) && (year == "None" || line.contains(&year))),
                "{query}: the program owns {owned}, the page says {by_page:?}"
            );
        }
        assert_eq!(by_page.is_empty(), by_program.is_empty(), "{query}: {by_page:?} {by_program:?}");
    }
    // Covers, gaps, wants, codes, and what nobody knows.
    let five = asked(&browser, "night ferry 2019 5");
    assert!(five[0].1.contains("cover 2, printing 1: 1 copy"), "{five:?}");
    let six = asked(&browser, "night ferry 2019 6");
    assert!(
        six[0].0 == "not" && six[0].1.contains("a gap in the run") && six[0].1.contains("up to 5.00 USD"),
        "{six:?}"
    );
    let code = asked(&browser, &upc(45)[1..]);
    assert!(code[0].1.contains("Ferryman\u{2019}s Song"), "{code:?}");
    assert_eq!(asked(&browser, "no such thing 4"), []);
    assert_eq!(
        browser.run("return document.getElementById('count').textContent"),
        "Nothing is known of that: not owned."
    );
    // Letter by letter, without Enter.
    let counts: Vec<usize> = ["f", "fe", "ferrym"].iter().map(|text| asked(&browser, text).len()).collect();
    assert_eq!(counts, [5, 4, 1]);
    assert_eq!(browser.run("return document.title"), "In my pocket", "no markup of a note has run");
    assert_eq!(browser.run("return document.images.length"), 0);
}

#[test]
fn names_are_folded_as_the_program_folds_them() {
    if missing() {
        return;
    }
    let home = shelf();
    let browser = Browser::open(&written(&home), 800, 600);
    let names = [
        "The Night & Ferry",
        "NIGHT-AND-FERRY",
        "Nïght and Férry",
        "Ｎight and ferry",
        "Ferryman\u{2019}s Song",
        "The",
        "A B",
        "Song of the Ferry",
        " !? ",
        "  ",
        "夜の船",
        "İstanbul Iğdır",
        "Straße",
        "ﬁne ½ ² Ⅷ",
        "Ωmega Ǆ",
        "a\u{301}e\u{327}",
        "x\u{200d}y",
        "№ 5",
        "가나",
        "ひ゛ ガ",
        "नमस्ते",
    ];
    let script = format!("return {}.map(name => keyOf(name))", json!(names));
    let by_page: Vec<String> = serde_json::from_value(browser.run(&script)).unwrap();
    assert_eq!(by_page, names.map(search_key));
}

#[test]
fn the_page_is_for_everybody() {
    if missing() {
        return;
    }
    let home = shelf();
    let browser = Browser::open(&written(&home), 390, 844);
    browser.chromium(
        "Emulation.setDeviceMetricsOverride",
        &json!({"width": 390, "height": 844, "deviceScaleFactor": 3, "mobile": true}),
    );
    // Nothing sticks out of a phone's width, also with long words in a name (WCAG 2.2, 1.4.10, reflow at 320 px).
    for width in [390, 320] {
        let metrics = json!({"width": width, "height": 844, "deviceScaleFactor": 3, "mobile": true});
        browser.chromium("Emulation.setDeviceMetricsOverride", &metrics);
        browser.type_into("#query", "ferry 4");
        assert_eq!(browser.run("return document.documentElement.scrollWidth <= window.innerWidth"), true, "{width} px");
    }
    // A name for the field that is seen, a region that is read out, a language, one heading.
    let checks = "const field = document.getElementById('query');
        return [field.labels[0].innerText, document.getElementById('count').getAttribute('aria-live'),
                document.documentElement.lang, document.querySelectorAll('h1').length,
                getComputedStyle(field).fontSize.replace('px', '') >= 16]";
    assert_eq!(browser.run(checks), json!(["Do I own this? Do I want this?", "polite", "en", 1, true]));
    // The field is reached and left by the keyboard alone, and Enter leaves the page as it is.
    assert_eq!(browser.run("document.body.focus(); document.getElementById('query').blur(); return 1"), 1);
    browser.type_into("#query", "ferry 4\u{e007}");
    assert_eq!(answers(&browser).len(), asked(&browser, "ferry 4").len());
    assert_eq!(browser.run("return document.activeElement.id"), "query");
    // Light and dark as the phone says, each with the contrast of 4.5 to 1 that WCAG 2.2, 1.4.3 asks of text.
    let mut grounds = Vec::new();
    for scheme in ["light", "dark"] {
        let media = json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        browser.chromium("Emulation.setEmulatedMedia", &media);
        browser.type_into("#query", "night");
        grounds.push(browser.run("return getComputedStyle(document.body).backgroundColor"));
        let low = browser.run(CONTRAST);
        assert_eq!(low, json!([]), "{scheme}");
    }
    assert_ne!(grounds[0], grounds[1]);
    // The page asks nothing of any network, and could not.
    assert_eq!(browser.run("return performance.getEntriesByType('resource').length"), 0);
    let refused = "return new Promise(done => {
        document.addEventListener('securitypolicyviolation', event => done(event.effectiveDirective));
        fetch('http://127.0.0.1:9/').catch(() => {});
        setTimeout(() => done('sent'), 5000);
    })";
    assert_eq!(browser.run(refused), "connect-src");
    let inserted = "const script = document.createElement('script');
        script.textContent = 'document.title = \"ran\"';
        document.body.append(script);
        return document.title";
    assert_eq!(browser.run(inserted), "In my pocket");
}

/// The texts of the page whose contrast to their ground is below 4.5 to 1 (WCAG 2.2, 'contrast ratio').
const CONTRAST: &str = r"
    const light = colour => {
        const [r, g, b] = colour.match(/[\d.]+/g).slice(0, 3).map(c => c / 255)
            .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ground = element => {
        for (let e = element; e; e = e.parentElement) {
            const colour = getComputedStyle(e).backgroundColor;
            if (colour !== 'rgba(0, 0, 0, 0)') return colour;
        }
        return 'rgb(255, 255, 255)';
    };
    const low = [];
    for (const element of document.querySelectorAll('body *')) {
        const text = [...element.childNodes].some(node => node.nodeType === 3 && node.textContent.trim());
        if (!text || !element.offsetParent) continue;
        const [a, b] = [light(getComputedStyle(element).color), light(ground(element))];
        const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
        if (ratio < 4.5) low.push([element.className, element.innerText, ratio]);
    }
    return low;
";

#[test]
fn a_search_among_twenty_thousand_books_is_there_at_once() {
    if missing() {
        return;
    }
    let titles: Vec<_> = (0..20_000_u32)
        .map(|n| PocketTitle {
            title: titled(n.into(), &format!("The Clockwork Cartographer {n}")),
            codes: Vec::new(),
            owned: vec![("1".to_owned(), Some(1), vec![printing("1")])],
            wants: Vec::new(),
            dues: Vec::new(),
        })
        .collect();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pocket.html");
    std::fs::write(&path, page_of(&titles)).unwrap();
    let browser = Browser::open(&path, 390, 844);
    // A title's own number comes before an issue of that number.
    let found = asked(&browser, "cartographer 19999");
    assert!(found[0].1.starts_with("The Clockwork Cartographer 19999 ") && found[0].0 == "owned", "{:?}", found[0]);
    let all = asked(&browser, "clockwork");
    assert_eq!(all.len(), 40, "the first of many");
    let count = browser.run("return document.getElementById('count').textContent");
    assert_eq!(count, "20,000 answers, the first 40 shown: type more");
}
