//! What the webcam says of itself: USB 2.0 and UVC 1.0 descriptors, and the negotiation of a format.
//!
//! Source: USB Device Class Definition for Video Devices, revision 1.0 (its section is named at each part), and its
//! payload documents for MJPEG and uncompressed video.

/// The name that the system shows.
pub const NAME: &str = "Cardboard Cam";
/// Bulk payloads of at most so many bytes: one request of the driver's.
pub const PAYLOAD: u32 = 16_384;
/// The endpoint that frames come from.
pub const ENDPOINT: u8 = 0x81;

/// Sizes and rates of a packing; each rate as the time between frames, in 100 ns.
pub struct Offer {
    pub mjpeg: bool,
    pub sizes: &'static [([u16; 2], &'static [u32])],
}

pub const PER_SECOND_30: u32 = 333_333;
pub const PER_SECOND_15: u32 = 666_666;
pub const PER_SECOND_10: u32 = 1_000_000;
/// 7.5 a second: no whole number.
pub const PER_SECOND_7_5: u32 = 1_333_333;

pub const OFFERS: [Offer; 2] = [
    Offer {
        mjpeg: true,
        sizes: &[
            ([640, 480], &[PER_SECOND_30, PER_SECOND_15]),
            ([1280, 720], &[PER_SECOND_30, PER_SECOND_15]),
            ([1920, 1080], &[PER_SECOND_30, PER_SECOND_15]),
        ],
    },
    Offer {
        mjpeg: false,
        sizes: &[([640, 480], &[PER_SECOND_30, PER_SECOND_15, PER_SECOND_7_5]), ([1280, 720], &[PER_SECOND_10])],
    },
];

/// USB 2.0, table 9-8: a device of several functions' class, as video needs it.
pub fn device() -> Vec<u8> {
    vec![18, 1, 0x00, 0x02, 0xef, 2, 1, 64, 0x09, 0x12, 0x01, 0x00, 0x00, 0x01, 1, 2, 3, 1]
}

pub fn string(index: u8) -> Option<Vec<u8>> {
    let text = match index {
        0 => return Some(vec![4, 3, 0x09, 0x04]),
        1 => "boxward",
        2 => NAME,
        3 => "1",
        _ => return None,
    };
    let units: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    Some([&[units.len() as u8 + 2, 3], &units[..]].concat())
}

/// The configuration with everything in it.
pub fn configuration() -> Vec<u8> {
    // Interface association (USB engineering change notice), then the two interfaces.
    let mut parts = vec![8, 11, 0, 2, 0x0e, 3, 0, 0];
    parts.extend([9, 4, 0, 0, 0, 0x0e, 1, 0, 2]);
    // 3.7.2: header; a camera terminal without controls (3.7.2.3) that feeds a stream (3.7.2.2).
    parts.extend([13, 0x24, 1, 0x00, 0x01, 40, 0, 0x80, 0x8d, 0x5b, 0x00, 1, 1]);
    parts.extend([18, 0x24, 2, 1, 0x01, 0x02, 0, 0, 0, 0, 0, 0, 0, 0, 3, 0, 0, 0]);
    parts.extend([9, 0x24, 3, 2, 0x01, 0x01, 0, 1, 0]);
    parts.extend([9, 4, 1, 0, 1, 0x0e, 2, 0, 0]);
    let formats: Vec<u8> = (1..).zip(&OFFERS).flat_map(|(index, offer)| format(index, offer)).collect();
    let count = OFFERS.len() as u8;
    let [low, high] = (13 + u16::from(count) + formats.len() as u16).to_le_bytes();
    // 3.9.2.1: the stream's header.
    parts.extend([13 + count, 0x24, 1, count, low, high, ENDPOINT, 0, 2, 0, 0, 0, 1]);
    parts.extend(vec![0; OFFERS.len()]);
    parts.extend(formats);
    parts.extend([7, 5, ENDPOINT, 2, 0x00, 0x02, 0]);
    let [low, high] = (9 + parts.len() as u16).to_le_bytes();
    [&[9, 2, low, high, 2, 1, 0, 0x80, 250], &parts[..]].concat()
}

fn format(index: u8, offer: &Offer) -> Vec<u8> {
    let frames = offer.sizes.len() as u8;
    let mut bytes = if offer.mjpeg {
        vec![11, 0x24, 6, index, frames, 1, 1, 0, 0, 0, 0]
    } else {
        let guid = [&b"YUY2"[..], &[0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]].concat();
        [&[27, 0x24, 4, index, frames], &guid[..], &[16, 1, 0, 0, 0, 0]].concat()
    };
    for (index, (size, intervals)) in (1..).zip(offer.sizes) {
        let rate = size.iter().map(|&px| u32::from(px)).product::<u32>() * 16 * 30;
        bytes.extend([26 + 4 * intervals.len() as u8, 0x24, if offer.mjpeg { 7 } else { 5 }, index, 0]);
        bytes.extend(size.iter().flat_map(|px| px.to_le_bytes()));
        bytes.extend([rate / 4, rate, frame_bytes(*size), intervals[0]].iter().flat_map(|n| n.to_le_bytes()));
        bytes.push(intervals.len() as u8);
        bytes.extend(intervals.iter().flat_map(|n| n.to_le_bytes()));
    }
    bytes
}

fn frame_bytes([width, height]: [u16; 2]) -> u32 {
    u32::from(width) * u32::from(height) * 2
}

/// A format as the driver asks for it, or as it is agreed on (4.3.1.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Agreed {
    pub format: u8,
    pub frame: u8,
    pub interval: u32,
}

impl Default for Agreed {
    fn default() -> Self {
        Self { format: 1, frame: 1, interval: PER_SECOND_30 }
    }
}

impl Agreed {
    pub fn parse(bytes: &[u8]) -> Option<Self> {
        let asked = Self {
            format: *bytes.get(2)?,
            frame: *bytes.get(3)?,
            interval: u32::from_le_bytes(bytes.get(4..8)?.try_into().ok()?),
        };
        let (_, intervals) = asked.offer()?.sizes.get(usize::from(asked.frame).checked_sub(1)?)?;
        // The nearest rate there is.
        let interval = *intervals.iter().min_by_key(|offered| offered.abs_diff(asked.interval))?;
        Some(Self { interval, ..asked })
    }

    pub fn bytes(self) -> Vec<u8> {
        let mut bytes = vec![1, 0, self.format, self.frame];
        bytes.extend(self.interval.to_le_bytes());
        bytes.extend([0; 10]);
        bytes.extend(frame_bytes(self.size()).to_le_bytes());
        bytes.extend(PAYLOAD.to_le_bytes());
        bytes
    }

    pub fn size(self) -> [u16; 2] {
        self.offer()
            .and_then(|offer| offer.sizes.get(usize::from(self.frame) - 1))
            .map_or([640, 480], |(size, _)| *size)
    }

    pub fn is_mjpeg(self) -> bool {
        self.offer().is_none_or(|offer| offer.mjpeg)
    }

    fn offer(self) -> Option<&'static Offer> {
        OFFERS.get(usize::from(self.format).checked_sub(1)?)
    }
}
