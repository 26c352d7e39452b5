//! Paths as a person gives them (files, folders) to picture files in the order in which a person would list them.

use std::cmp::Ordering;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Suffixes that mark a picture inside a folder. HEIC is among them even where it can't be decoded: a phone's photo is
/// better reported as unreadable than passed over in silence.
const SUFFIXES: [&str; 10] = ["jpg", "jpeg", "png", "webp", "bmp", "tif", "tiff", "gif", "heic", "heif"];

/// Why a path gave no pictures.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The folder can't be listed.
    #[error("{} can't be listed", path.display())]
    Unreadable {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Nothing in the folder has a picture's suffix.
    #[error("{} holds no picture ({})", path.display(), SUFFIXES.join(", "))]
    NoPicture {
        /// The folder.
        path: PathBuf,
    },
}

impl FolderError {
    /// The folder that this is about.
    #[must_use]
    pub fn path(&self) -> &Path {
        match self {
            Self::Unreadable { path, .. } | Self::NoPicture { path } => path,
        }
    }
}

/// The pictures that `paths` name: a file as it is given, whatever its suffix; a folder's pictures, all levels deep,
/// in natural order (`2.jpg` before `10.jpg`), without hidden files. A folder that can't be listed is one entry.
#[must_use]
pub fn pictures(paths: &[PathBuf]) -> Vec<Result<PathBuf, FolderError>> {
    let mut found = Vec::new();
    for path in paths {
        if path.is_dir() {
            let before = found.len();
            walk(path, &mut Vec::new(), &mut found);
            if found.len() == before {
                found.push(Err(FolderError::NoPicture { path: path.clone() }));
            }
        } else {
            found.push(Ok(path.clone()));
        }
    }
    found
}

/// `above` holds the real paths of the folders that contain this one, so that a link back to one of them ends the walk.
fn walk(folder: &Path, above: &mut Vec<PathBuf>, found: &mut Vec<Result<PathBuf, FolderError>>) {
    let listed = folder.canonicalize().and_then(|real| {
        if above.contains(&real) {
            return Ok(None);
        }
        let entries = fs::read_dir(folder)?.map(|entry| entry.map(|e| e.path())).collect::<io::Result<Vec<_>>>()?;
        Ok(Some((real, entries)))
    });
    let (real, mut entries) = match listed {
        Ok(Some(listed)) => listed,
        Ok(None) => return,
        Err(source) => return found.push(Err(FolderError::Unreadable { path: folder.to_owned(), source })),
    };
    entries.retain(|path| !is_hidden(path));
    entries.sort_by(|a, b| natural_order(&name(a), &name(b)));
    above.push(real);
    for path in entries {
        if path.is_dir() {
            walk(&path, above, found);
        } else if has_picture_suffix(&path) {
            found.push(Ok(path));
        }
    }
    above.pop();
}

fn name(path: &Path) -> String {
    path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

fn is_hidden(path: &Path) -> bool {
    name(path).starts_with('.')
}

fn has_picture_suffix(path: &Path) -> bool {
    path.extension().is_some_and(|s| SUFFIXES.iter().any(|known| s.eq_ignore_ascii_case(known)))
}

/// Letters without regard to case, runs of digits as numbers; the plain order decides between equals.
fn natural_order(a: &str, b: &str) -> Ordering {
    let (mut x, mut y) = (a, b);
    loop {
        match (x.chars().next(), y.chars().next()) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => return Ordering::Less,
            (Some(_), None) => return Ordering::Greater,
            (Some(c), Some(d)) if c.is_ascii_digit() && d.is_ascii_digit() => {
                let (m, rest_x) = digit_run(x);
                let (n, rest_y) = digit_run(y);
                let order = m.len().cmp(&n.len()).then_with(|| m.cmp(n));
                if order.is_ne() {
                    return order;
                }
                (x, y) = (rest_x, rest_y);
            }
            (Some(c), Some(d)) => {
                let order = c.to_lowercase().cmp(d.to_lowercase());
                if order.is_ne() {
                    return order;
                }
                (x, y) = (&x[c.len_utf8()..], &y[d.len_utf8()..]);
            }
        }
    }
}

/// The leading digits without their leading zeros, and what follows.
fn digit_run(text: &str) -> (&str, &str) {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    (text[..end].trim_start_matches('0'), &text[end..])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_sort_by_value() {
        let mut names =
            ["IMG_10.jpg", "img_9.jpg", "IMG_009.jpg", "IMG_1.jpg", "IMG_99999999999999999999.jpg", "a", ""];
        names.sort_by(|a, b| natural_order(a, b));
        let expected = ["", "a", "IMG_1.jpg", "IMG_009.jpg", "img_9.jpg", "IMG_10.jpg", "IMG_99999999999999999999.jpg"];
        assert_eq!(names, expected);
    }
}
