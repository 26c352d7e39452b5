//! The checks, one after another, on one webcam.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::{Duration, Instant};

use boxward::picture::{Packing, luma_of_frame};
use boxward::source::camera::{
    Camera, CameraError, Choice, Driver, Event, Format, Timing, Watch, Webcams, best_formats, pick, watch,
};
use v4l::video::Capture;

use super::pictures::{ADD_ON, GTIN, Pictures};
use super::usbip::{Mood, Webcam};
use super::uvc;

/// Emulated processors are slow; what hangs is told all the same.
const PATIENCE: Duration = Duration::from_secs(60);
/// The command, where the machine has it.
const BOXWARD: &str = "/bin/boxward";

type Check = Result<(), String>;
/// Its name, and what it does.
type Named = (&'static str, fn(&mut Bench) -> Check);

struct Bench {
    pictures: Arc<Pictures>,
    webcam: Option<Webcam>,
}

impl Bench {
    fn plug_in(&mut self) -> Check {
        self.webcam = Some(Webcam::plug_in(Arc::clone(&self.pictures)).map_err(|error| error.to_string())?);
        wait_for("the camera's node", || Webcams.list().is_ok())
    }

    fn unplug(&mut self) -> Check {
        self.webcam.take().ok_or("nothing is plugged in")?.unplug().map_err(|error| error.to_string())
    }

    fn mood(&self, mood: Mood) {
        if let Some(webcam) = &self.webcam {
            webcam.mood(mood);
        }
    }
}

pub fn run() -> ExitCode {
    if !Path::new("/sys/devices/platform/vhci_hcd.0/attach").exists() {
        println!("no virtual host controller");
        return ExitCode::from(2);
    }
    let mut bench = Bench { pictures: Arc::default(), webcam: None };
    // Drawn before anything waits for it.
    for (size, _) in uvc::OFFERS.iter().flat_map(|offer| offer.sizes) {
        bench.pictures.frame(*size, true);
    }
    let checks: [Named; 12] = [
        ("without a camera there is none", none),
        ("only the node with pictures is listed", lists),
        ("the best format is chosen", chooses),
        ("MJPEG comes within two grey levels, and is read", mjpeg),
        ("YUYV comes bit by bit, after a rate that is no whole number", yuyv),
        ("a camera in use says so", busy),
        ("a frozen camera says so, and goes on", frozen),
        ("damaged frames are passed over, and told when there is nothing else", damaged),
        ("an unplugged camera says so, and is opened when it is back", unplugged),
        ("who may not use it is told how", forbidden),
        ("the command lists it", command_lists),
        ("the command takes the book, through all of that", command_scans),
    ];
    let mut failed = 0;
    for (name, check) in checks {
        let begun = Instant::now();
        let result = check(&mut bench);
        bench.mood(Mood::Well);
        let seconds = begun.elapsed().as_secs_f64();
        match result {
            Ok(()) => println!("ok {name} ({seconds:.1} s)"),
            Err(why) => {
                failed += 1;
                println!("FAILED {name} ({seconds:.1} s): {why}");
            }
        }
    }
    println!("{} checks, {failed} failed", checks.len());
    ExitCode::from(u8::from(failed > 0))
}

fn wait_for(what: &str, is: impl Fn() -> bool) -> Check {
    let begun = Instant::now();
    while !is() {
        if begun.elapsed() > PATIENCE {
            return Err(format!("{what} did not come"));
        }
        thread::sleep(Duration::from_millis(50));
    }
    Ok(())
}

fn expect<T: PartialEq + std::fmt::Debug>(found: T, wanted: T) -> Check {
    if found == wanted { Ok(()) } else { Err(format!("{found:?} instead of {wanted:?}")) }
}

fn webcam() -> Result<Camera, String> {
    let cameras = Webcams.list().map_err(|error| error.to_string())?;
    pick(&cameras, &Choice::Any).cloned().map_err(|error| error.to_string())
}

/// Waits until whoever used the camera before has let go of it; gives the camera.
fn free_webcam() -> Result<Camera, String> {
    let camera = webcam()?;
    let code = v4l::FourCC::new(b"YUYV");
    let set = |device: &v4l::Device| device.set_format(&v4l::Format::new(640, 480, code));
    wait_for("the camera's end", || v4l::Device::new(camera.number as usize).and_then(|d| set(&d)).is_ok())?;
    Ok(camera)
}

fn start() -> (Watch, Receiver<Event>) {
    let timing = Timing { no_picture_after: Duration::from_secs(4), retry_after: Duration::from_millis(300) };
    let (sender, events) = mpsc::channel();
    (watch(Webcams, Choice::Any, timing, move |event| sender.send(event).is_ok()), events)
}

/// The first event that `is` gives something for.
fn until<T>(events: &Receiver<Event>, what: &str, mut is: impl FnMut(Event) -> Option<T>) -> Result<T, String> {
    let begun = Instant::now();
    let mut seen = String::new();
    while let Some(left) = PATIENCE.checked_sub(begun.elapsed()) {
        let Ok(event) = events.recv_timeout(left) else { break };
        let shown = match &event {
            Event::Looked { .. } => ".".to_owned(),
            Event::Opened { format, .. } => format!(" opened {format} "),
            other => format!(" {other:?} "),
        };
        seen.push_str(&shown);
        if let Some(found) = is(event) {
            return Ok(found);
        }
    }
    Err(format!("{what} did not come, but:{seen}"))
}

fn until_frame(events: &Receiver<Event>) -> Check {
    until(events, "a frame", |event| matches!(event, Event::Looked { .. }).then_some(()))
}

fn none(_: &mut Bench) -> Check {
    expect(Webcams.list().err(), Some(CameraError::NoCamera))
}

fn lists(bench: &mut Bench) -> Check {
    bench.plug_in()?;
    let nodes = std::fs::read_dir("/sys/class/video4linux").map_err(|error| error.to_string())?.count();
    if nodes < 2 {
        return Err(format!("{nodes} nodes: the driver made none for what is no picture"));
    }
    let cameras = Webcams.list().map_err(|error| error.to_string())?;
    expect(cameras.iter().map(|camera| camera.name.as_str()).collect::<Vec<_>>(), vec![uvc::NAME])?;
    // Every rate offered but the one that is no whole number.
    let offered = uvc::OFFERS.iter().flat_map(|offer| offer.sizes).map(|(_, rates)| rates.len()).sum::<usize>();
    expect(cameras[0].formats.len(), offered - 1)
}

fn chooses(_: &mut Bench) -> Check {
    let best = best_formats(&webcam()?).first().copied();
    expect(best, Some(Format { size: [1920, 1080], per_second: 30, packing: Packing::Mjpeg }))
}

fn mjpeg(bench: &mut Bench) -> Check {
    let (_watch, events) = start();
    let looked = until(&events, "a frame", |event| match event {
        Event::Looked { looked, .. } => Some(looked),
        _ => None,
    })?;
    let sent = bench.pictures.luma([1920, 1080]);
    let worst = sent.pixels().iter().zip(looked.luma.pixels()).map(|(a, b)| a.abs_diff(*b)).max();
    // JPEG's own loss comes on top of what the way may add.
    let packed = bench.pictures.frame([1920, 1080], true);
    let here = luma_of_frame(&packed, Packing::Mjpeg, [1920, 1080]).map_err(|error| error.to_string())?;
    let loss = sent.pixels().iter().zip(here.pixels()).map(|(a, b)| a.abs_diff(*b)).max();
    if worst > loss.map(|loss| loss + 2) {
        return Err(format!("{worst:?} grey levels away, where JPEG alone is {loss:?}"));
    }
    let read: Vec<_> = looked.symbols.iter().map(|symbol| symbol.code).collect();
    let words: Vec<_> = read.iter().map(|c| (c.gtin.to_string(), c.add_on.read().map(|a| a.to_string()))).collect();
    expect(words, vec![(GTIN.to_owned(), Some(ADD_ON.to_owned()))])
}

fn yuyv(bench: &mut Bench) -> Check {
    let camera = free_webcam()?;
    // Another program leaves the camera at 7.5 a second.
    let device = v4l::Device::new(camera.number as usize).map_err(|error| error.to_string())?;
    let code = v4l::FourCC::new(b"YUYV");
    let left = device
        .set_format(&v4l::Format::new(640, 480, code))
        .and_then(|_| device.set_params(&v4l::video::capture::Parameters::new(v4l::Fraction::new(2, 15))));
    left.map_err(|error| error.to_string())?;
    drop(device);
    let format = Format { size: [640, 480], per_second: 30, packing: Packing::Yuyv };
    let mut stream = Webcams.open(&camera, format).map_err(|error| error.to_string())?;
    for _ in 0..5 {
        let frame = stream.frame().map_err(|error| error.to_string())?;
        let luma = luma_of_frame(&frame.bytes, format.packing, format.size).map_err(|error| error.to_string())?;
        if luma != bench.pictures.luma([640, 480]) {
            return Err("a pixel differs".to_owned());
        }
        let age = jiff::Timestamp::now().duration_since(frame.at).as_secs_f64();
        if !(0.0..5.0).contains(&age) {
            return Err(format!("taken {age} s ago"));
        }
    }
    Ok(())
}

fn busy(_: &mut Bench) -> Check {
    let camera = free_webcam()?;
    let format = Format { size: [640, 480], per_second: 30, packing: Packing::Mjpeg };
    let mut stream = Webcams.open(&camera, format).map_err(|error| error.to_string())?;
    stream.frame().map_err(|error| error.to_string())?;
    expect(Webcams.open(&camera, format).err(), Some(CameraError::Busy { name: uvc::NAME.to_owned() }))
}

fn frozen(bench: &mut Bench) -> Check {
    let (_watch, events) = start();
    until_frame(&events)?;
    bench.mood(Mood::Frozen);
    until(&events, "word of the freeze", |event| matches!(event, Event::NoPicture { damaged: 0, .. }).then_some(()))?;
    bench.mood(Mood::Well);
    until_frame(&events)
}

fn damaged(bench: &mut Bench) -> Check {
    let (_watch, events) = start();
    until_frame(&events)?;
    bench.mood(Mood::SomeDamaged);
    let mut all = 0;
    until(&events, "a frame after damaged ones", |event| match event {
        Event::Looked { damaged, .. } => {
            all += damaged;
            (all >= 1).then_some(())
        }
        _ => None,
    })?;
    bench.mood(Mood::AllDamaged);
    until(&events, "word of the damage", |event| matches!(event, Event::NoPicture { damaged: 1.., .. }).then_some(()))?;
    bench.mood(Mood::Well);
    until_frame(&events)
}

fn unplugged(bench: &mut Bench) -> Check {
    let (_watch, events) = start();
    for round in 1..=2 {
        until_frame(&events)?;
        // Once in the middle of frames, once while it is frozen.
        if round == 2 {
            bench.mood(Mood::Frozen);
            until(&events, "word of the freeze", |event| matches!(event, Event::NoPicture { .. }).then_some(()))?;
        }
        bench.unplug()?;
        let lost = until(&events, "word of the loss", |event| match event {
            Event::Lost(error) => Some(error),
            _ => None,
        })?;
        if !matches!(lost, CameraError::Gone { .. } | CameraError::NoCamera | CameraError::Failed { .. }) {
            return Err(format!("told as: {lost}"));
        }
        bench.plug_in()?;
        until(&events, "the camera again", |event| matches!(event, Event::Opened { .. }).then_some(()))?;
    }
    until_frame(&events)
}

fn forbidden(_: &mut Bench) -> Check {
    let output = Command::new(BOXWARD).args(["scan", "--cameras"]).uid(65_534).gid(65_534).output();
    let output = output.map_err(|error| error.to_string())?;
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    if output.status.code() != Some(4) || !told.contains("may not be used") {
        return Err(format!("{:?}: {told}", output.status));
    }
    Ok(())
}

fn command_lists(_: &mut Bench) -> Check {
    let output = Command::new(BOXWARD).args(["scan", "--cameras"]).output().map_err(|error| error.to_string())?;
    let number = webcam()?.number;
    let listed = format!("{number}: {}, 1920 × 1080 MJPEG at 30/s\n", uvc::NAME);
    expect(String::from_utf8_lossy(&output.stdout).into_owned(), listed)
}

/// A session with everything in it: the book is taken once, the scanner goes on while the camera is away, and the camera
/// goes on after it.
fn command_scans(bench: &mut Bench) -> Check {
    free_webcam()?;
    let mut command = Command::new(BOXWARD);
    command.args(["scan", "--json", "--camera", "cardboard", "--preview", "--collection", "/tmp/collection.sqlite"]);
    let mut child = command
        .env("HOME", "/tmp")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|error| error.to_string())?;
    let mut input = child.stdin.take().unwrap();
    let lines = lines_of(child.stdout.take().unwrap());
    let notes = lines_of(child.stderr.take().unwrap());
    let taken = until_line(&lines, "\"said\":\"waits_for_title\"")?;
    if !taken.contains(GTIN) || !taken.contains(ADD_ON) {
        return Err(taken);
    }
    let link = until_line(&notes, "preview: ")?;
    until_line(&notes, "camera: Cardboard Cam, 1920 × 1080 MJPEG at 30/s")?;
    page_shows_it(link.split(' ').find(|word| word.starts_with("http://")).ok_or("no link")?)?;
    bench.unplug()?;
    until_line(&notes, "plug")?;
    writeln!(input, "614141023660 10411").map_err(|error| error.to_string())?;
    until_line(&lines, "0614141023660")?;
    bench.plug_in()?;
    until_line(&notes, "camera: Cardboard Cam")?;
    // After another book it is a second copy.
    until_line(&lines, "\"said\":\"second_copy\"")?;
    writeln!(input, "q").map_err(|error| error.to_string())?;
    let status = child.wait().map_err(|error| error.to_string())?;
    until_line(&notes, "ms behind")?;
    expect(status.code(), Some(0))
}

/// The page of the preview: the camera's name, the book, and a picture.
fn page_shows_it(link: &str) -> Check {
    let (host, entry) = link.trim_start_matches("http://").split_once('/').ok_or("no path")?;
    let get = |path: &str, cookie: &str| {
        let mut all = Vec::new();
        let mut stream = TcpStream::connect(host)?;
        write!(stream, "GET {path} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n")?;
        stream.read_to_end(&mut all)?;
        Ok::<_, std::io::Error>(all)
    };
    let get = |path: &str, cookie: &str| get(path, cookie).map_err(|error| error.to_string());
    let entered = String::from_utf8_lossy(&get(&format!("/{entry}"), "")?).into_owned();
    let cookie = entered.lines().find_map(|line| match line.split_once(": ") {
        Some((name, value)) if name.eq_ignore_ascii_case("set-cookie") => value.split(';').next(),
        _ => None,
    });
    let cookie = cookie.ok_or_else(|| format!("not let in: {entered}"))?;
    let page = String::from_utf8_lossy(&get("/intake", cookie)?).into_owned();
    if let Some(part) =
        ["Cardboard Cam", GTIN.trim_start_matches('0'), ADD_ON].iter().find(|part| !page.contains(**part))
    {
        return Err(format!("the page is without {part}: {page}"));
    }
    let picture = get("/intake/frame.jpg", cookie)?;
    let begin = picture.windows(4).position(|bytes| bytes == b"\r\n\r\n").ok_or("no picture")? + 4;
    // JPEG's first marker, 'start of image' (ITU-T T.81, table B.1).
    expect(picture.get(begin..begin + 2), Some(&[0xFF, 0xD8][..]))
}

fn lines_of(output: impl std::io::Read + Send + 'static) -> Receiver<String> {
    let (sender, lines) = mpsc::channel();
    thread::spawn(move || {
        for line in BufReader::new(output).lines().map_while(Result::ok) {
            println!("   | {line}");
            let _ = sender.send(line);
        }
    });
    lines
}

fn until_line(lines: &Receiver<String>, part: &str) -> Result<String, String> {
    let begun = Instant::now();
    while let Some(left) = PATIENCE.checked_sub(begun.elapsed()) {
        match lines.recv_timeout(left) {
            Ok(line) if line.contains(part) => return Ok(line),
            Ok(_) => {}
            Err(_) => break,
        }
    }
    Err(format!("no line with {part}"))
}
