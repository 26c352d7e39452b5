//! `read --explain`: the page says what was seen, stands alone, and writes over nothing but an older page.

use std::fs;
use std::path::{Path, PathBuf};

use crate::cli_home::{Home, Ran};

fn picture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name)
}

fn explain(home: &Home, photo: &Path, out: &str) -> Ran {
    home.run([Path::new("read"), photo, Path::new("--explain"), Path::new(out)])
}

/// What is wrong with the page as HTML that is XML, too: tags that do not pair, attributes without quotes, stray marks.
fn faults(page: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let mut open: Vec<&str> = Vec::new();
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        if rest[..at].contains('>') && open.last() != Some(&"style") {
            faults.push(format!("a bare > in {:?}", &rest[..at]));
        }
        rest = &rest[at..];
        if let Some(comment) = rest.strip_prefix("<!--") {
            rest = comment.split_once("-->").map_or("", |(_, behind)| behind);
            continue;
        }
        let Some((tag, behind)) = rest[1..].split_once('>') else {
            faults.push("a tag does not end".to_owned());
            break;
        };
        rest = behind;
        let name = tag.trim_matches('/').split([' ', '\n']).next().unwrap();
        if tag.starts_with('/') {
            if open.pop() != Some(name) {
                faults.push(format!("</{name}> closes nothing"));
            }
        } else if !tag.starts_with('!') {
            let quoted: Vec<&str> = tag.split('"').collect();
            let outside = quoted.iter().step_by(2).copied().collect::<String>();
            if quoted.len().is_multiple_of(2)
                || outside.matches('=').count() * 2 != quoted.len() - 1
                || tag.contains('<')
            {
                faults.push(format!("<{name}: attributes do not pair"));
            }
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
    }
    faults.extend(open.iter().map(|name| format!("<{name}> stays open")));
    for (at, _) in page.match_indices('&') {
        let known = ["&amp;", "&lt;", "&gt;", "&quot;", "&#39;"];
        if !known.iter().any(|entity| page[at..].starts_with(entity)) {
            faults.push("a bare &".to_owned());
        }
    }
    faults
}

/// The page's words without its tags.
fn words(page: &str) -> String {
    let body = page.split("<body>").nth(1).unwrap();
    let text: String =
        body.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| text.to_owned() + " ").collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn stands_alone(page: &str) {
    assert_eq!(faults(page), [""; 0]);
    assert!(!page.contains("<script") && !page.contains("http"), "it needs something else");
    assert!(page.contains("prefers-color-scheme: dark"));
    let pictures: Vec<_> = page.match_indices("href=\"").chain(page.match_indices("src=\"")).collect();
    assert!(!pictures.is_empty());
    for (at, key) in pictures {
        let value = &page[at + key.len()..];
        assert!(value.starts_with("data:image/png;base64,") || value.starts_with('#'), "{}", &value[..30]);
    }
}

#[test]
fn a_code_is_explained_digit_by_digit() {
    let home = Home::new();
    let ran = explain(&home, &picture("stack/photo-01.jpg"), "out.html");
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("614141001040") && ran.err.contains("out.html"), "{ran:?}");
    let page = fs::read_to_string(home.path().join("out.html")).unwrap();
    stands_alone(&page);
    let words = words(&page);
    for said in [
        "photo-01.jpg",
        "UPC-A 614141001040",
        "Add-on 01211, read",
        "Digit 6 1 4 1 4 1 0 0 1 0 4 0 Set A A A A A A C C C C C C",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    let margins = words.split("Its misfit ").nth(1).unwrap().split(" Unexplained").next().unwrap();
    let margins: Vec<f32> = margins.split(' ').map(|m| m.trim_start_matches('×').parse().unwrap()).collect();
    assert_eq!(margins.len(), 12);
    assert!(margins.iter().all(|&margin| margin > 1.2), "a clear picture, but {margins:?}");
    let sure = |name: &str| {
        words.split(name).nth(1).unwrap().split('×').nth(1).unwrap().split(' ').next().unwrap().parse::<f32>().unwrap()
    };
    assert!(sure("Runner-up") > 1.5);
    // The waves are drawn whole: 105 modules, four samples each.
    for wave in ["<polyline class=\"seen\" points=\"", "<polyline class=\"model\" points=\""] {
        let points = page.split(wave).nth(1).unwrap().split('"').next().unwrap();
        assert_eq!(points.split(' ').count(), 105 * 4);
    }
}

#[test]
fn what_is_not_believed_is_told_with_the_reason() {
    let home = Home::new();
    let ran = explain(&home, &picture("negatives/wrong-check-digit.png"), "out.html");
    assert_eq!(ran.code, 1, "{}", ran.err);
    let page = fs::read_to_string(home.path().join("out.html")).unwrap();
    stands_alone(&page);
    let words = words(&page);
    assert!(words.contains("Nothing read") && words.contains("not believed: ") && !words.contains("believed: sure"));
    for entry in fs::read_dir(picture("negatives")).unwrap() {
        let path = entry.unwrap().path();
        explain(&home, &path, "other.html");
        let page = fs::read_to_string(home.path().join("other.html")).unwrap();
        assert_eq!(faults(&page), [""; 0], "{}", path.display());
        fs::remove_file(home.path().join("other.html")).unwrap();
    }
}

#[test]
fn a_name_can_not_break_the_page() {
    let home = Home::new();
    let photo = home.path().join("a<b>&\"c\".png");
    fs::copy(picture("negatives/cut.png"), &photo).unwrap();
    explain(&home, &photo, "out.html");
    let page = fs::read_to_string(home.path().join("out.html")).unwrap();
    stands_alone(&page);
    assert!(page.contains("a&lt;b&gt;&amp;&quot;c&quot;.png"));
}

#[test]
fn only_an_older_page_is_written_over() {
    let home = Home::new();
    let photo = picture("negatives/cut.png");
    let there = home.path().join("there.html");
    fs::write(&there, "<!DOCTYPE html>mine").unwrap();
    let ran = explain(&home, &photo, "there.html");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("hint: give another name"), "{}", ran.err);
    assert_eq!(fs::read_to_string(&there).unwrap(), "<!DOCTYPE html>mine");

    // A photo whose name says otherwise is not written over either.
    let own = home.path().join("photo.html");
    fs::copy(&photo, &own).unwrap();
    assert_eq!(explain(&home, &own, "photo.html").code, 2);
    assert_eq!(fs::read(&own).unwrap(), fs::read(&photo).unwrap());

    for _ in 0..2 {
        assert_eq!(explain(&home, &photo, "new.html").code, 1);
    }
    let ran = explain(&home, &photo, "new.svg");
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains(".html"), "{}", ran.err);
    assert_eq!(explain(&home, &photo, "no/such/folder.html").code, 4);
}

#[test]
fn one_photo_is_explained_at_a_time() {
    let home = Home::new();
    let ran = explain(&home, &picture("stack"), "out.html");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("24") && ran.err.contains("hint: name the photo"), "{}", ran.err);
    let ran = explain(&home, &picture("stack/titles.json"), "out.html");
    assert_eq!(ran.code, 3);
    assert!(!home.path().join("out.html").exists());
}

#[test]
fn faults_are_found() {
    for page in
        ["<p>a", "<p></b></p>", "<p class=a></p>", "<p>a & b</p>", "<p>a > b</p>", "</p>", "<p class=\"a></p>", "<p"]
    {
        assert_ne!(faults(page), [""; 0], "{page}");
    }
    assert_eq!(faults("<!-- c --><!DOCTYPE html><p class=\"a\">b &amp; c<br/></p>\n"), [""; 0]);
}
