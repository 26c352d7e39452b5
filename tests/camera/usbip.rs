//! The wire between the webcam and the kernel's virtual host controller: USB/IP (kernel documentation, 'USB/IP
//! protocol'), from its first byte to the driver's last request.

use std::collections::VecDeque;
use std::fs;
use std::io::{self, Read, Write};
use std::os::fd::AsRawFd;
use std::os::unix::net::UnixStream;
use std::sync::{Arc, Condvar, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use super::pictures::Pictures;
use super::uvc::{self, Agreed};

const CONTROLLER: &str = "/sys/devices/platform/vhci_hcd.0";
const SUBMIT: u32 = 1;
const UNLINK: u32 = 2;
const SUBMITTED: u32 = 3;
const UNLINKED: u32 = 4;
/// Linux's numbers: a request that was taken back, and one that is not understood.
const CONNECTION_RESET: i32 = -104;
const BROKEN_PIPE: i32 = -32;

/// What the webcam does with its frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mood {
    Well,
    Frozen,
    /// Every second frame is damaged, in each way by turns.
    SomeDamaged,
    /// Every frame is nothing but zeros.
    AllDamaged,
}

/// A webcam that is plugged in.
pub struct Webcam {
    shared: Arc<Shared>,
}

struct Shared {
    mood: Mutex<Mood>,
    pictures: Arc<Pictures>,
    wire: Mutex<UnixStream>,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    asked: Agreed,
    agreed: Agreed,
    /// Requests for a payload that wait, by number, with their length.
    waiting: VecDeque<(u32, usize)>,
    unplugged: bool,
}

impl Webcam {
    /// Plugs a webcam in.
    pub fn plug_in(pictures: Arc<Pictures>) -> io::Result<Self> {
        let (ours, theirs) = UnixStream::pair()?;
        // Port, file, a number for the device, high speed.
        fs::write(format!("{CONTROLLER}/attach"), format!("0 {} 1 3", theirs.as_raw_fd()))?;
        let shared = Arc::new(Shared {
            mood: Mutex::new(Mood::Well),
            pictures,
            wire: Mutex::new(ours.try_clone()?),
            state: Mutex::default(),
            changed: Condvar::new(),
        });
        let listener = Arc::clone(&shared);
        thread::spawn(move || {
            let _ = listener.listen(ours);
            listener.state.lock().unwrap().unplugged = true;
            listener.changed.notify_all();
        });
        let sender = Arc::clone(&shared);
        thread::spawn(move || sender.send_frames());
        Ok(Self { shared })
    }

    pub fn mood(&self, mood: Mood) {
        *self.shared.mood.lock().unwrap() = mood;
    }

    /// Pulls the plug, in the middle of whatever it does.
    pub fn unplug(self) -> io::Result<()> {
        fs::write(format!("{CONTROLLER}/detach"), "0")
    }
}

impl Shared {
    fn listen(&self, mut wire: UnixStream) -> io::Result<()> {
        loop {
            let mut head = [0; 48];
            wire.read_exact(&mut head)?;
            let word = |at: usize| u32::from_be_bytes([head[at], head[at + 1], head[at + 2], head[at + 3]]);
            let (command, number, is_in, endpoint) = (word(0), word(4), word(12) == 1, word(16));
            match command {
                SUBMIT => {
                    let length = word(24) as usize;
                    let mut data = vec![0; if is_in { 0 } else { length }];
                    wire.read_exact(&mut data)?;
                    if endpoint == 0 {
                        let setup: [u8; 8] = head[40..].try_into().expect("eight bytes are left");
                        match self.control(setup, &data) {
                            Some(mut answer) => {
                                answer.truncate(length);
                                self.submitted(number, 0, if is_in { answer.len() } else { data.len() }, &answer)?;
                            }
                            None => self.submitted(number, BROKEN_PIPE, 0, &[])?,
                        }
                    } else {
                        self.state.lock().unwrap().waiting.push_back((number, length));
                        self.changed.notify_all();
                    }
                }
                UNLINK => {
                    let other = word(20);
                    let mut state = self.state.lock().unwrap();
                    let before = state.waiting.len();
                    state.waiting.retain(|(waiting, _)| *waiting != other);
                    // One that was answered already needs no taking back.
                    let status = if state.waiting.len() < before { CONNECTION_RESET } else { 0 };
                    drop(state);
                    self.answer(UNLINKED, number, &[status], &[])?;
                }
                other => return Err(io::Error::other(format!("command {other}"))),
            }
        }
    }

    /// USB 2.0, chapter 9, and UVC 1.0, 4.3: `None` is a stall.
    fn control(&self, [kind, request, low, high, interface, ..]: [u8; 8], data: &[u8]) -> Option<Vec<u8>> {
        match (kind, request) {
            (0x80, 6) => match high {
                1 => Some(uvc::device()),
                2 => Some(uvc::configuration()),
                3 => uvc::string(low),
                _ => None,
            },
            // Status; set configuration, interface, feature.
            (0x80..=0x82, 0) => Some(vec![0, 0]),
            (0x00..=0x02, 1 | 3 | 9 | 11) => Some(Vec::new()),
            // Probe (1) and commit (2) on the stream.
            (0x21, 1) if interface == 1 => {
                let asked = Agreed::parse(data)?;
                let mut state = self.state.lock().unwrap();
                state.asked = asked;
                if high == 2 {
                    state.agreed = asked;
                }
                Some(Vec::new())
            }
            (0xa1, 0x81..=0x84 | 0x87) if interface == 1 => Some(self.state.lock().unwrap().asked.bytes()),
            (0xa1, 0x85) => Some(vec![26, 0]),
            (0xa1, 0x86) => Some(vec![3]),
            _ => None,
        }
    }

    fn submitted(&self, number: u32, status: i32, length: usize, data: &[u8]) -> io::Result<()> {
        self.answer(SUBMITTED, number, &[status, length as i32], data)
    }

    fn answer(&self, command: u32, number: u32, values: &[i32], data: &[u8]) -> io::Result<()> {
        let mut bytes = Vec::with_capacity(48 + data.len());
        bytes.extend([command, number, 0, 0, 0].iter().flat_map(|n| n.to_be_bytes()));
        bytes.extend(values.iter().flat_map(|n| n.to_be_bytes()));
        bytes.resize(48, 0);
        bytes.extend(data);
        self.wire.lock().unwrap().write_all(&bytes)
    }

    /// One frame after another, at the agreed rate, as long as the driver asks for them.
    fn send_frames(&self) {
        let (mut frame_id, mut count) = (0, 0_usize);
        loop {
            let begun = Instant::now();
            let Some(agreed) = self.wait_for_request() else { return };
            let mood = *self.mood.lock().unwrap();
            let frame = self.pictures.frame(agreed.size(), agreed.is_mjpeg());
            let frame = match mood {
                Mood::Frozen => {
                    thread::sleep(Duration::from_millis(20));
                    continue;
                }
                Mood::SomeDamaged if count % 2 == 1 => damage(&frame, count / 2),
                Mood::Well | Mood::SomeDamaged => frame,
                Mood::AllDamaged => damage(&frame, ZEROS),
            };
            if self.send(&frame, frame_id).is_err() {
                return;
            }
            (frame_id, count) = (1 - frame_id, count + 1);
            let pause = Duration::from_nanos(u64::from(agreed.interval) * 100);
            thread::sleep(pause.saturating_sub(begun.elapsed()));
        }
    }

    /// `None` once it is unplugged.
    fn wait_for_request(&self) -> Option<Agreed> {
        let mut state = self.state.lock().unwrap();
        while state.waiting.is_empty() && !state.unplugged {
            state = self.changed.wait(state).unwrap();
        }
        (!state.unplugged).then_some(state.agreed)
    }

    /// 2.4.3.2: each payload begins with a head of two bytes: its length; the frame's identity, and whether it ends.
    fn send(&self, frame: &[u8], frame_id: u8) -> io::Result<()> {
        let mut parts = frame.chunks(uvc::PAYLOAD as usize - 2).peekable();
        while let Some(part) = parts.next() {
            let end = if parts.peek().is_none() { 2 } else { 0 };
            let payload = [&[2, frame_id | end], part].concat();
            let Some(number) = self.next_request(payload.len()) else { return Err(io::ErrorKind::BrokenPipe.into()) };
            self.submitted(number, 0, payload.len(), &payload)?;
        }
        Ok(())
    }

    fn next_request(&self, length: usize) -> Option<u32> {
        let mut state = self.state.lock().unwrap();
        loop {
            if state.unplugged {
                return None;
            }
            if let Some((number, room)) = state.waiting.pop_front() {
                assert!(room >= length, "a request for {room} bytes; a payload has {length}");
                return Some(number);
            }
            state = self.changed.wait(state).unwrap();
        }
    }
}

const ZEROS: usize = 2;

/// Half a frame, its first bytes alone, or nothing but zeros. What is missing may look whole all the same: the driver's
/// memory still holds the end of an older frame.
fn damage(frame: &[u8], kind: usize) -> Vec<u8> {
    match kind % 3 {
        0 => frame[..frame.len() / 2].to_vec(),
        1 => frame[..frame.len().min(100)].to_vec(),
        ZEROS.. => vec![0; frame.len()],
    }
}
