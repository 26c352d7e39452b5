//! How much of a person's machine a request may take. Of pictures themselves, [`crate::picture::Limits`] tells.

use std::time::Duration;

/// So long a request's head, a form, or the next piece of an upload is waited for.
pub(super) const PATIENCE: Duration = Duration::from_secs(10);

/// So long a browser that takes a download may stop.
pub(super) const DOWNLOAD_PATIENCE: Duration = Duration::from_secs(60);

/// A head longer than this is refused: browsers' are far shorter.
pub(super) const HEAD_BYTES: usize = 16 << 10;

/// A form longer than this is refused. The longest holds a list of item numbers.
pub(super) const FORM_BYTES: usize = 256 << 10;

/// A photo longer than this is refused: telephones' are about 5 MB.
pub(super) const PHOTO_BYTES: usize = 32 << 20;

/// So many connections at once; further ones wait. A browser opens about six to a server.
pub(super) const CONNECTIONS: usize = 256;

/// So many steps with the collection at once, each on a thread; further ones wait.
pub(super) const STEPS: usize = 16;

/// So many forms with photos are received at once; further ones wait.
pub(super) const UPLOADS: usize = 8;

/// So many photos are taken from one form; a script sends one at a time.
pub(super) const PHOTOS: usize = 60;

/// So many parts a form with photos may have: its photos, and what is left out.
pub(super) const PARTS: usize = 500;

/// A part's head, with what the network brings along behind it. A photo's name is far shorter.
pub(super) const PART_HEAD_BYTES: u64 = 256 << 10;

/// All of a form with photos: sixty of 16 MiB, or eight of the largest allowed.
pub(super) const UPLOAD_BYTES: u64 = 1 << 30;

/// So long a form with photos may take in all: 1 GiB at 3.5 MiB a second, or 40 photos of 3 MiB over a poor network.
pub(super) const UPLOAD_TIME: Duration = Duration::from_secs(300);

/// A photo is held in memory up to this size while it comes in; a larger one goes to a temporary file.
pub(super) const IN_MEMORY: usize = 16 << 20;

/// So many pages that photos come from are remembered; a page older than these begins a new run.
pub(super) const BATCHES: usize = 64;

/// So long a phone's link is good for.
pub(super) const LINK_TIME: Duration = Duration::from_secs(600);

/// After so many wrong links no phone is let in until a new link is drawn on the desk.
pub(super) const WRONG_LINKS: u32 = 20;

/// A wrong link is answered so late.
pub(super) const WRONG_LINK_DELAY: Duration = Duration::from_millis(500);

/// So many pages may be told what happens in a session.
pub(super) const LISTENERS: usize = 16;

/// So far apart they are told, and new pictures are made: ten a second are enough to aim by.
pub(super) const NEWS_APART: Duration = Duration::from_millis(100);

/// A session that nobody looks at for so long ends: somebody has forgotten it, and its camera is on.
pub(super) const ALONE: Duration = Duration::from_secs(600);
