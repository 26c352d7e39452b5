//! Where photos are dropped or chosen, and where what became of them shows up.

use maud::{Markup, html};

use super::{Batch, Taken, list};
use crate::desk::guard::CHECK_FIELD;
use crate::desk::limits::PHOTOS;
use crate::workflow::words::count;

/// Who sends photos.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::desk) enum Sender {
    /// A browser on the desk: files.
    Desk,
    /// A phone: its camera and its album.
    Phone,
}

/// What a phone's album offers. The kinds are named one by one: where HEIC is not read, an iPhone then sends a JPEG of it
/// (WebKit's way, from memory).
const READ: &str = if cfg!(feature = "heic") {
    "image/jpeg,image/png,image/webp,image/bmp,image/tiff,image/gif,image/heic,image/heif"
} else {
    "image/jpeg,image/png,image/webp,image/bmp,image/tiff,image/gif"
};

/// The panel, for a form that is sent to `action` with the session's `check` token.
pub(in crate::desk) fn panel(sender: Sender, action: &str, check: &str, batch: Batch, taken: Option<&Taken>) -> Markup {
    let action = format!("{action}?{CHECK_FIELD}={check}&batch={batch}");
    html! {
        section.photos data-photos {
            h2 { "Photos" }
            p.hint {
                @match sender {
                    Sender::Desk => { "One book or several on a photo, the bar code in view. " span.drop-here { "Drop them here, or choose them:" } }
                    Sender::Phone => { "One book or several on a photo, the bar code in view and sharp." }
                }
            }
            @if sender == Sender::Phone {
                (form(&action, "camera", "Take a photo", "image/*", Some("environment")))
                (form(&action, "album", "From the album", READ, None))
            } @else {
                (form(&action, "files", "Choose photos", "image/*,.heic,.heif", None))
            }
            p.dim {
                span.without-script { "At most " (PHOTOS) " at a time. " }
                "A photo is read and forgotten; a small picture of each symbol is kept."
            }
            p.count role="status" {
                @if let Some(taken) = taken { (summary(taken)) }
            }
            @if let Some(taken) = taken {
                @if taken.left_out > 0 {
                    p.trouble role="alert" { (count(taken.left_out, "photo")) " more than " (PHOTOS) " came and were left out: send them again." }
                }
                @if let Some(cut) = &taken.cut { p.trouble role="alert" { (cut) } }
            }
            ol.told-list aria-label="What became of each photo" {
                @if let Some(taken) = taken { (list(&taken.told)) }
            }
        }
    }
}

/// With a script the field alone is shown as the button, and what is chosen is sent at once.
fn form(action: &str, name: &str, words: &str, kinds: &str, capture: Option<&str>) -> Markup {
    html! {
        form.upload method="post" action=(action) enctype="multipart/form-data" {
            label.pick { span { (words) }
                input type="file" name="photo" id=(name) accept=(kinds) multiple[capture.is_none()] capture=[capture] required;
            }
            button { "Send" span.unseen { ": " (words) } }
        }
    }
}

fn summary(taken: &Taken) -> String {
    match taken.told.len() {
        0 => "no photo was taken".to_owned(),
        photos => format!("{} looked at", count(photos, "photo")),
    }
}
