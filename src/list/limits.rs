//! How large a list may be before it is refused: a list is data of strangers, and a small file may claim to be a large one.

/// The largest file that is read, and the largest text that it may be: far above a list of a million rows.
pub(super) const FILE_MIB: usize = 256;

/// Cells of a row beyond these are a slip of the mouse, not a list.
pub(super) const MOST_COLUMNS: usize = 1000;

/// What a cell may hold, or a line of JSON; a spreadsheet's cell holds at most 32,767 characters (common practice).
pub(super) const MOST_CELL_BYTES: usize = 1 << 20;

/// What a workbook may unpack to: a sheet of a million rows does, a bomb does not.
pub(super) const UNPACKED_MIB: usize = 768;

/// What its table of texts may unpack to, all of which is kept in memory.
pub(super) const TEXTS_MIB: usize = 256;

/// How many texts may be in it: as many as a million rows have that differ in four cells, and twice that.
pub(super) const MOST_TEXTS: usize = 8_000_000;

/// What any other part may unpack to that is no sheet and no picture: relations, styles, the list of sheets.
pub(super) const OTHER_PART_MIB: usize = 64;

/// How many parts a workbook may have; each sheet and each picture is one.
pub(super) const MOST_PARTS: usize = 20_000;

/// Mebibytes in bytes.
pub(super) const fn bytes(mib: usize) -> usize {
    mib * 1024 * 1024
}
