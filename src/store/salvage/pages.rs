//! A database file as pages, and what its header says (sqlite.org/fileformat2.html, sections 1.2 to 1.5).

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

/// The first sixteen bytes of every database.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// The page size that SQLite chooses by itself since 3.12, and so that of every collection.
const USUAL_PAGE: usize = 4096;

/// The header's length; the first page's tree begins behind it.
pub(super) const HEADER: usize = 100;

/// What the first hundred bytes say, as far as they can be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Header {
    /// Whether it is a header of a database that this program could have written.
    pub(super) sound: bool,
    page: usize,
    reserved: usize,
    trunk: u32,
    free: u32,
    /// The schema's number.
    pub(super) version: i64,
    /// Whose file it says it is.
    pub(super) application: i64,
}

impl Header {
    pub(super) fn of(bytes: &[u8]) -> Self {
        let usual = Self { sound: false, page: USUAL_PAGE, reserved: 0, trunk: 0, free: 0, version: 0, application: 0 };
        let Some(bytes) = bytes.get(..HEADER) else { return usual };
        let page = match number16(bytes, 16) {
            1 => 65536,
            page => page as usize,
        };
        let sound = bytes.starts_with(MAGIC)
            && page.is_power_of_two()
            && page >= 512
            // Versions of the format that are read and written; fractions that never change; UTF-8.
            && matches!((bytes[18], bytes[19]), (1, 1) | (2, 2))
            && bytes[21..24] == [64, 32, 32]
            && bytes[20] == 0
            && number32(bytes, 56) == 1;
        if !sound {
            return usual;
        }
        let signed = |at| i64::from(number32(bytes, at).cast_signed());
        Self {
            sound,
            page,
            reserved: 0,
            trunk: number32(bytes, 32),
            free: number32(bytes, 36),
            version: signed(60),
            application: signed(68),
        }
    }
}

/// A file's pages, read one at a time.
#[derive(Debug)]
pub(super) struct Pages {
    file: File,
    page: usize,
    /// What a page has room for.
    pub(super) usable: usize,
    /// How many there are, a last one that is cut short among them.
    pub(super) count: u32,
    /// What the first one says.
    pub(super) header: Header,
}

impl Pages {
    pub(super) fn open(path: &Path) -> io::Result<Self> {
        let mut file = File::open(path)?;
        let length = file.metadata()?.len();
        let mut bytes = Vec::new();
        (&mut file).take(HEADER as u64).read_to_end(&mut bytes)?;
        let header = Header::of(&bytes);
        let count = u32::try_from(length.div_ceil(header.page as u64)).unwrap_or(u32::MAX);
        Ok(Self { file, page: header.page, usable: header.page - header.reserved, count, header })
    }

    /// A page by its number, from 1. What is cut off is zero; a page beyond the end, or that the disk does not give, is
    /// `None`.
    pub(super) fn read(&self, number: u32) -> Option<Vec<u8>> {
        if number == 0 || number > self.count {
            return None;
        }
        let mut file = &self.file;
        file.seek(SeekFrom::Start(u64::from(number - 1) * self.page as u64)).ok()?;
        let mut bytes = Vec::with_capacity(self.page);
        file.take(self.page as u64).read_to_end(&mut bytes).ok()?;
        bytes.resize(self.page, 0);
        Some(bytes)
    }

    /// The pages that are in no use; `None` if their list can't be believed.
    pub(super) fn free(&self) -> Option<BTreeSet<u32>> {
        let mut free = BTreeSet::new();
        let mut trunk = self.header.trunk;
        while trunk != 0 {
            let page = self.read(trunk)?;
            let leaves = number32(&page, 4) as usize;
            if !free.insert(trunk) || leaves > self.usable / 4 - 2 {
                return None;
            }
            for leaf in 0..leaves {
                let leaf = number32(&page, 8 + leaf * 4);
                if leaf == 0 || leaf > self.count || !free.insert(leaf) {
                    return None;
                }
            }
            trunk = number32(&page, 0);
        }
        (self.header.sound && free.len() == self.header.free as usize).then_some(free)
    }
}

/// Two bytes, the higher first.
pub(super) fn number16(bytes: &[u8], at: usize) -> u16 {
    bytes.get(at..at + 2).map_or(0, |two| u16::from_be_bytes([two[0], two[1]]))
}

/// Four bytes, the highest first.
pub(super) fn number32(bytes: &[u8], at: usize) -> u32 {
    bytes.get(at..at + 4).map_or(0, |four| u32::from_be_bytes([four[0], four[1], four[2], four[3]]))
}
