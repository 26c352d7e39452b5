//! A workbook's parts, looked through before anything of them is taken into memory: declared sizes may lie, and the library
//! that reads workbooks believes them.

use std::io::{BufRead, BufReader, Cursor, Read};
use std::path::Path;

use zip::ZipArchive;

use super::ListError;
use super::limits::{
    MOST_CELL_BYTES, MOST_PARTS, MOST_TEXTS, OTHER_PART_MIB, TEXTS_MIB, UNPACKED_MIB, bytes as bytes_of,
};

/// How a part's header begins in an archive's directory (PKWARE's APPNOTE.TXT, 4.3.12).
const DIRECTORY_HEADER: &[u8] = b"PK\x01\x02";

/// What stands in the names of parts that may be large, because the library never keeps them whole: sheets and pictures.
const NOT_KEPT: [&str; 5] = ["worksheets", "media", "embeddings", "pivotcache", ".bin"];

/// What is looked for in parts.
struct Bounds {
    unpacked_mib: usize,
    texts_mib: usize,
    other_mib: usize,
    texts: usize,
    parts: usize,
}

const BOUNDS: Bounds = Bounds {
    unpacked_mib: UNPACKED_MIB,
    texts_mib: TEXTS_MIB,
    other_mib: OTHER_PART_MIB,
    texts: MOST_TEXTS,
    parts: MOST_PARTS,
};

/// Whether a workbook is within what a list needs.
///
/// # Errors
/// If it is not, or is no archive.
pub(super) fn check(path: &Path, bytes: &[u8]) -> Result<(), ListError> {
    check_within(path, bytes, &BOUNDS)
}

fn check_within(path: &Path, bytes: &[u8], bounds: &Bounds) -> Result<(), ListError> {
    let damaged = |error| ListError::Workbook { path: path.to_owned(), source: error };
    let too_many = |what| ListError::TooMany { path: path.to_owned(), what };
    // Counted before the directory is read. Each header begins so; nearly nothing else does.
    let headers = bytes.windows(DIRECTORY_HEADER.len()).filter(|window| *window == DIRECTORY_HEADER);
    if headers.take(bounds.parts + 1).count() > bounds.parts {
        return Err(too_many("parts"));
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| damaged(error.into()))?;
    let mut left = bytes_of(bounds.unpacked_mib) as u64;
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(|error| damaged(error.into()))?;
        let kind = Kind::of(&part.name().map_err(|error| damaged(error.into()))?);
        let of_kind = match kind {
            Kind::Texts => bytes_of(bounds.texts_mib) as u64,
            Kind::Sheet | Kind::Any => left,
            Kind::Package | Kind::Other => bytes_of(bounds.other_mib) as u64,
        };
        let limit = left.min(of_kind);
        // One byte more than allowed tells "too many".
        let mut looked = Looked::new(BufReader::with_capacity(1 << 16, part.take(limit + 1)));
        let fault = looked.through(kind, bounds.texts).map_err(|error| damaged(error.into()))?;
        if let Some(what) = fault {
            return Err(too_many(what));
        }
        if looked.bytes > limit {
            let limit_mib = if limit < left { (of_kind >> 20) as usize } else { bounds.unpacked_mib };
            return Err(ListError::TooLarge { path: path.to_owned(), of: "when it is unpacked", limit_mib });
        }
        left -= looked.bytes;
    }
    Ok(())
}

/// What a part is to the library that reads workbooks (ECMA-376-1, 12.3 and 18.4.9).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Kept in memory whole: the table of texts.
    Texts,
    /// Says which part is the workbook.
    Package,
    /// Read cell by cell.
    Sheet,
    /// What is not read, unless a stranger says that it is a sheet.
    Any,
    /// Everything else may be kept in memory.
    Other,
}

impl Kind {
    fn of(name: &str) -> Self {
        let name = name.to_ascii_lowercase().replace('\\', "/");
        match name {
            name if name.ends_with("sharedstrings.xml") => Self::Texts,
            name if name.ends_with("_rels/.rels") => Self::Package,
            name if name.contains("worksheets") && !name.ends_with(".rels") => Self::Sheet,
            name if !name.ends_with(".rels") && NOT_KEPT.iter().any(|part| name.contains(part)) => Self::Any,
            _ => Self::Other,
        }
    }
}

/// A part read up to its limit and no further than a tag at once.
struct Looked<R> {
    input: R,
    bytes: u64,
    tag: Vec<u8>,
}

impl<R: BufRead> Looked<R> {
    fn new(input: R) -> Self {
        Self { input, bytes: 0, tag: Vec::new() }
    }

    /// Reads the part tag by tag; gives what there is too much of.
    fn through(&mut self, kind: Kind, most_texts: usize) -> std::io::Result<Option<&'static str>> {
        let mut texts = 0;
        // The text of a cell may come in many pieces.
        let mut in_text = None;
        let begin = self.input.fill_buf()?;
        // The library would decode it, and find what is not looked for here.
        if matches!(begin, [0xfe, 0xff, ..] | [0xff, 0xfe, ..] | [0, ..] | [_, 0, ..]) && kind != Kind::Any {
            return Err(std::io::Error::other("a part of it is in UTF-16"));
        }
        // To the library, words before the first tag are no reason to stop.
        let is_xml =
            kind != Kind::Any || begin.first().is_some_and(|byte| matches!(byte, b'<' | 0xef | b' ' | b'\r' | b'\n'));
        while self.next(is_xml)? {
            if !is_xml {
                continue;
            }
            if self.tag.len() > MOST_CELL_BYTES {
                return Ok(Some("text in a cell"));
            }
            let begin = usize::from(self.tag.first() == Some(&b'/'));
            let name = local_name(&self.tag[begin..]);
            if matches!(name, b"si" | b"is" | b"c" | b"t" | b"v") {
                let is_end = begin == 1 && name != b"t" && name != b"v";
                match (is_end, in_text) {
                    (true, _) => in_text = None,
                    (false, _) if is_empty(&self.tag) => {}
                    (false, None) => in_text = Some(self.bytes),
                    (false, Some(_)) => {}
                }
            }
            if matches!(name, b"c" | b"row") && is_beyond(&self.tag) {
                return Ok(Some("rows or columns"));
            }
            if in_text.is_some_and(|begin| self.bytes - begin > MOST_CELL_BYTES as u64) {
                return Ok(Some("text in a cell"));
            }
            match kind {
                // Room is made for as many as are declared, before the first is read. A tag may hold a '<', and a text what
                // looks like a tag: so it is refused wherever it stands.
                Kind::Texts if declared(&self.tag) > most_texts => return Ok(Some("texts")),
                Kind::Texts if begin == 0 && name == b"si" => texts += 1,
                // A list of sheets that stands among them would pass for one.
                Kind::Package if NOT_KEPT.iter().chain(&["&#"]).any(|word| self.says(word)) => {
                    return Ok(Some("links"));
                }
                _ => {}
            }
            if texts > most_texts {
                return Ok(Some("texts"));
            }
        }
        Ok(None)
    }

    /// The next tag without its `<`, and the text behind it; for what is no XML, some bytes.
    fn next(&mut self, is_xml: bool) -> std::io::Result<bool> {
        self.tag.clear();
        let mut some = (&mut self.input).take(MOST_CELL_BYTES as u64 + 2);
        let read = match is_xml {
            true => some.read_until(b'<', &mut self.tag)?,
            false => some.read_to_end(&mut self.tag)?,
        };
        self.bytes += read as u64;
        Ok(read > 0)
    }

    fn says(&self, word: &str) -> bool {
        self.tag.to_ascii_lowercase().windows(word.len()).any(|window| window == word.as_bytes())
    }
}

/// Whether a tag is an element by itself.
fn is_empty(tag: &[u8]) -> bool {
    tag.iter().position(|&byte| byte == b'>').is_some_and(|end| tag[..end].ends_with(b"/"))
}

/// Whether a cell or row says that it stands beyond the last, XFD1048576 (ECMA-376-1, 18.3.1.73; the library would count on
/// from 0).
fn is_beyond(tag: &[u8]) -> bool {
    let end = tag.iter().position(|&byte| byte == b'>').unwrap_or(tag.len());
    let values = tag[..end].split(|byte| matches!(byte, b'"' | b'\'')).skip(1).step_by(2);
    values.into_iter().any(|value| {
        let letters = value.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
        let digits = &value[letters..];
        !digits.is_empty() && digits.iter().all(u8::is_ascii_digit) && (letters > 3 || digits.len() > 7)
    })
}

/// A tag's name without what stands for its namespace.
fn local_name(tag: &[u8]) -> &[u8] {
    let end =
        tag.iter().position(|byte| byte.is_ascii_whitespace() || matches!(byte, b'>' | b'/')).unwrap_or(tag.len());
    tag[..end].rsplit(|&byte| byte == b':').next().unwrap_or_default()
}

/// How many texts are declared here; the highest number, if it is done in several ways.
fn declared(tag: &[u8]) -> usize {
    const NAME: &[u8] = b"uniqueCount";
    let places = tag.windows(NAME.len()).enumerate().filter(|(_, window)| *window == NAME);
    let number = |at: usize| {
        let digits = tag[at + NAME.len()..].iter().skip_while(|byte| !byte.is_ascii_digit());
        let digits: Vec<u8> = digits.take_while(|byte| byte.is_ascii_digit()).copied().collect();
        // What is no number is none to the library either; what is too long for one is too many.
        if digits.is_empty() { 0 } else { String::from_utf8_lossy(&digits).parse().unwrap_or(usize::MAX) }
    };
    places.map(|(at, _)| number(at)).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    use super::*;

    fn archive<'a>(parts: impl IntoIterator<Item = (&'a str, &'a str)>) -> Vec<u8> {
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        for (name, text) in parts {
            archive.start_file(name, SimpleFileOptions::default()).unwrap();
            archive.write_all(text.as_bytes()).unwrap();
        }
        archive.finish().unwrap().into_inner()
    }

    /// What is wrong with an archive of these parts, in words.
    fn fault(parts: &[(&str, &str)]) -> Option<String> {
        let small = Bounds { unpacked_mib: 3, texts_mib: 2, other_mib: 1, texts: 1000, parts: 20 };
        let found = check_within(Path::new("a"), &archive(parts.iter().copied()), &small);
        found.err().map(|error| error.to_string().trim_start_matches("a has more ").to_owned())
    }

    const SHEET: &str = "xl/worksheets/sheet1.xml";
    const TEXTS: &str = "xl/sharedStrings.xml";

    #[test]
    fn what_unpacks_to_too_much_is_refused() {
        let cells = |mib: usize| "<c><v>1</v></c> ".repeat(mib << 16);
        let blanks = |mib: usize| " ".repeat(mib << 20);
        assert_eq!(fault(&[(SHEET, &cells(3))]), None);
        let refused = fault(&[(SHEET, &(cells(3) + "x"))]);
        assert_eq!(refused.as_deref(), Some("than 3 MiB when it is unpacked; part it, or save it as CSV"));
        assert!(fault(&[(SHEET, &cells(2)), ("xl/media/1.png", &("P".to_owned() + &blanks(2)))]).is_some());
        assert_eq!(fault(&[("xl/media/1.png", &("P".to_owned() + &blanks(2)))]), None);
        let of_kind = fault(&[(TEXTS, &("<sst>".to_owned() + &"<si/> ".repeat(400_000)))]);
        assert_eq!(of_kind.as_deref(), Some("texts than a list has; save the sheet as CSV"));
        let of_kind = fault(&[("xl/styles.xml", &cells(2))]);
        assert_eq!(of_kind.as_deref(), Some("than 1 MiB when it is unpacked; part it, or save it as CSV"));
        let many: Vec<String> = (0..21).map(|number| format!("{number}.xml")).collect();
        let many: Vec<(&str, &str)> = many.iter().map(|name| (name.as_str(), "<x/>")).collect();
        assert_eq!(fault(&many).as_deref(), Some("parts than a list has; save the sheet as CSV"));
        assert_eq!(fault(&many[1..]), None);
    }

    #[test]
    fn what_declares_too_much_is_refused() {
        for (begin, refused) in [
            ("<sst count=\"5000000\" uniqueCount=\"1000\">", false),
            ("<sst uniqueCount=\"1001\">", true),
            ("<x:sst a=\">\" uniqueCount = '9999999999999999999999999'>", true),
            ("count<sst uniqueCount=\"1001\">", true),
            ("<sst a=\"<\" uniqueCount=\"1001\">", true),
            ("<sst a<![CDATA[=\"2\" uniqueCount=\"1001\">", true),
            ("<sst a=\"<si \" uniqueCount=\"1001\">", true),
            ("<sst a=\"<si>\" b=\"</si>\" uniqueCount=\"1001\">", true),
            ("<sst uniqueCount=\"many\">", false),
            ("<sst>", false),
        ] {
            let texts = format!("{begin}<si><t>uniqueCount=\"1000\"</t></si><si><t>4000</t></si></sst>");
            assert_eq!(fault(&[(TEXTS, &texts)]).is_some(), refused, "{begin}");
        }
        assert!(fault(&[("_rels/.rels", "<a Target=\"xl/Worksheets/book.xml\"/>")]).is_some());
        assert_eq!(fault(&[("_rels/.rels", "<a Target=\"xl/workbook.xml\"/>")]), None);
    }

    #[test]
    fn a_text_without_end_is_refused_however_it_is_cut() {
        let most = MOST_CELL_BYTES;
        for (text, refused) in [
            (format!("<si><t>{}</t></si>", "a".repeat(30_000)), false),
            (format!("<si><t>{}</t></si>", "a".repeat(most + 1)), true),
            (format!("<si>{}</si>", "<r><t>aaaaaaaa</t></r>".repeat(most / 20)), true),
            (format!("<a {}>", "b='c' ".repeat(most / 5)), true),
            ("<si><t>a</t></si>".repeat(900), false),
        ] {
            assert_eq!(fault(&[(TEXTS, &text)]).is_some(), refused, "{}", text.len());
        }
        for (cell, refused) in [
            ("<row r=\"1048576\" spans=\"1:3\"><c r='XFD1048576' s=\"12\" t=\"inlineStr\">", false),
            ("<row r=\"2147483648\">", true),
            ("<c s=\"1\" r=\"AAAAAAAA1\">", true),
            ("row<row r=\"2147483648\">", true),
            ("\0<\0r\0o\0w\0", true),
        ] {
            assert_eq!(fault(&[(SHEET, cell)]).is_some(), refused, "{cell}");
        }
        let cells = "<row><c><is><t>abc</t></is></c></row>".repeat(50_000);
        assert_eq!(fault(&[(SHEET, &cells)]), None);
        let cell = format!("<c><is>{}</is></c>", "<t>a</t><t/>".repeat(most / 10));
        assert_eq!(fault(&[(SHEET, &cell)]).as_deref(), Some("text in a cell than a list has; save the sheet as CSV"));
    }
}
