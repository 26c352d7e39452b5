//! How much of a person's machine a request may take.

use std::time::Duration;

/// So long a request's head, a form, or the next piece of an upload is waited for.
pub(super) const PATIENCE: Duration = Duration::from_secs(10);

/// A head longer than this is refused: browsers' are far shorter.
pub(super) const HEAD_BYTES: usize = 16 << 10;

/// A form longer than this is refused. The longest holds a list of item numbers.
pub(super) const FORM_BYTES: usize = 256 << 10;

/// So many connections at once; further ones wait. A browser opens about six to a server.
pub(super) const CONNECTIONS: usize = 256;

/// So many steps with the collection at once, each on a thread; further ones wait.
pub(super) const STEPS: usize = 16;
