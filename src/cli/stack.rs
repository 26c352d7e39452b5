//! The shipped example stack, in the program itself so that an installed one has it too.

use serde::Deserialize;

/// A list of example photos with their bytes.
macro_rules! photos {
    ($($number:literal)*) => {
        [$((
            concat!("photo-", $number, ".jpg"),
            include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/testdata/stack/photo-", $number, ".jpg")).as_slice(),
        )),*]
    };
}

/// Every photo: its name and its bytes.
pub(super) const PHOTOS: [(&str, &[u8]); 24] = photos! {
    "01" "02" "03" "04" "05" "06" "07" "08" "09" "10" "11" "12"
    "13" "14" "15" "16" "17" "18" "19" "20" "21" "22" "23" "24"
};

const TITLES: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/testdata/stack/titles.json"));

/// A title of the stack, as its collector knows it.
#[derive(Debug, Deserialize)]
pub(super) struct StackTitle {
    pub(super) code: crate::code::Gtin,
    pub(super) publisher: String,
    pub(super) title: String,
    pub(super) start_year: i16,
    /// A layout's name, or `month` or `price`.
    pub(super) layout: String,
}

/// Every title of the stack.
pub(super) fn titles() -> serde_json::Result<Vec<StackTitle>> {
    serde_json::from_str(TITLES)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_photo_of_the_folder_is_shipped() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack");
        let mut names: Vec<_> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.ends_with(".jpg"))
            .collect();
        names.sort();
        assert_eq!(names, PHOTOS.map(|(name, _)| name));
        assert!(!titles().unwrap().is_empty());
    }
}
