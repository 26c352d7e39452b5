//! A drawn stack, held to a webcam frame by frame: every book once, no wrong code.

use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::sync::atomic::{AtomicUsize, Ordering};

use image::ExtendedColorType;
use serde_json::Value;

use crate::cli_home::Home;
use crate::render::file::png;
use crate::simulated::{FILM_FPS, FRAMES_A_BOOK, Film, Truth, film};

/// Draws the film's frames into `folder`.
pub fn take(film: &Film, folder: &Path) {
    fs::create_dir_all(folder).unwrap();
    let next = AtomicUsize::new(0);
    let work = || {
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= film.len() {
                return;
            }
            let frame = film.frame(number);
            let bytes = png(&frame.pixels, frame.width, frame.height, ExtendedColorType::L8);
            fs::write(folder.join(format!("frame-{number}.png")), bytes).unwrap();
        }
    };
    std::thread::scope(|scope| {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        (0..cores).for_each(|_| drop(scope.spawn(work)));
    });
}

/// What was said, hints to hold still left out: code, add-on and the word.
fn said(out: &str) -> Vec<(String, Option<String>, String)> {
    let text = |value: &Value| value.as_str().map(str::to_owned);
    let lines = out.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    lines
        .filter(|line| line["said"] != "hold_still")
        .map(|line| (text(&line["gtin"]).unwrap(), text(&line["add_on"]), text(&line["said"]).unwrap()))
        .collect()
}

fn expected(truth: &[Truth]) -> Vec<(String, Option<String>, String)> {
    let word = |n: usize| match n {
        n if n > 0 && truth[n - 1] == truth[n] => "same_book",
        n if truth[..n].contains(&truth[n]) => "a_second_copy",
        _ => "waits_for_title",
    };
    truth
        .iter()
        .enumerate()
        .map(|(n, truth)| (truth.gtin.clone(), truth.add_on.clone(), word(n).replace("a_second", "second")))
        .collect()
}

#[test]
fn a_stack_of_twenty_is_taken_book_by_book() {
    let home = Home::new();
    let film = film(4, 20);
    assert_eq!(film.len(), 20 * FRAMES_A_BOOK);
    take(&film, &home.path().join("frames"));
    if let Some(folder) = std::env::var_os("BOXWARD_FILM_SAVE") {
        take(&film, Path::new(&folder));
    }
    let fps = FILM_FPS.to_string();
    let ran = home.run(["scan", "--json", "--replay", "frames", "--fps", &fps]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    assert_eq!(said(&ran.out), expected(&film.truth));
    // The queue holds each book once; the doubles are noted with theirs.
    let queue = home.run(["queue", "list", "--json"]);
    let items: Vec<Value> = queue.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(items.len(), 18);
    assert_eq!(items.iter().filter_map(|item| item["seen_again"].as_u64()).sum::<u64>(), 2);
    assert!(items.iter().all(|item| item["state"] == "waiting"));
}

/// Where no scanner is, input ends at once: still the camera's first word is heard. No machine has a camera of this name.
#[test]
fn a_camera_that_is_not_there_is_named_though_input_has_ended() {
    let ran = Home::new().run(["scan", "--camera", "no such camera"]);
    assert!([2, 4].contains(&ran.code), "{}", ran.code);
    assert!(ran.err.contains("camera"), "{}", ran.err);
}

#[test]
fn a_scanner_goes_on_beside_the_frames_and_a_bad_frame_ends_nothing() {
    let home = Home::new();
    let film = film(5, 8);
    let folder = home.path().join("frames");
    fs::create_dir_all(&folder).unwrap();
    // The first book only, and a file that is none between its frames.
    for number in 0..FRAMES_A_BOOK {
        let frame = film.frame(number);
        let bytes = png(&frame.pixels, frame.width, frame.height, ExtendedColorType::L8);
        fs::write(folder.join(format!("frame-{number}.png")), bytes).unwrap();
    }
    fs::write(folder.join("frame-2a.png"), "no picture").unwrap();
    let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
    command.args(["scan", "--json", "--handheld", "--replay", "frames", "--fps", "15"]);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    std::io::Write::write_all(&mut child.stdin.take().unwrap(), b"061414100041800411\n").unwrap();
    let ran: crate::cli_home::Ran = child.wait_with_output().unwrap().into();
    assert_eq!(ran.code, 1, "{}", ran.err);
    let mut lines = ran.out.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    assert!(lines.any(|line| line["error"].as_str().is_some_and(|error| error.contains("frame-2a.png"))));
    let (mut gtins, mut truth) = (Vec::new(), vec!["0614141000418".to_owned(), film.truth[0].gtin.clone()]);
    gtins.extend(ran.out.lines().filter_map(|line| {
        let line = serde_json::from_str::<Value>(line).unwrap();
        (line["said"] == "waits_for_title").then(|| line["gtin"].as_str().unwrap().to_owned())
    }));
    gtins.sort();
    truth.sort();
    assert_eq!(gtins, truth);
}
