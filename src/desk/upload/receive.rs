//! A form with photos as it comes in: piece by piece, each photo into a place of its own, within bounds.

use std::io::{Read, Seek, Write};
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::task::{Context, Poll, ready};
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes};
use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{DefaultBodyLimit, FromRequest, Multipart, Request};
use axum::http::StatusCode;
use hyper::body::Frame;
use sha2::{Digest, Sha256};
use tempfile::SpooledTempFile;
use tokio::time::timeout;

use super::label::label;
use crate::desk::limits::{IN_MEMORY, PART_HEAD_BYTES, PARTS, PATIENCE, PHOTOS, UPLOAD_BYTES, UPLOAD_TIME};
use crate::picture::{Limits, PictureError};

/// How much one form may bring, and how slowly.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    /// The next piece is waited for so long.
    pub(super) patience: Duration,
    /// All pieces together.
    pub(super) whole: Duration,
    /// Bytes of all of it.
    pub(super) bytes: u64,
    /// Bytes of one photo.
    pub(super) photo_bytes: u64,
    /// Photos; further ones are left out.
    pub(super) photos: usize,
}

impl Default for Bounds {
    fn default() -> Self {
        Self {
            patience: PATIENCE,
            whole: UPLOAD_TIME,
            bytes: UPLOAD_BYTES,
            photo_bytes: Limits::default().max_bytes,
            photos: PHOTOS,
        }
    }
}

/// Why no more was taken from a form.
#[derive(Debug, thiserror::Error)]
pub(in crate::desk) enum Cut {
    #[error("the photo came too slowly and was not taken; send it again where the network is better")]
    TooSlow,
    #[error("this is more than can be sent at once; send fewer photos at a time")]
    TooMuch,
    #[error("the photo did not come whole and was not taken; send it again")]
    Broken(#[source] MultipartError),
    #[error("these are no photos of a form")]
    NoForm,
    #[error("there is no room here to receive the photo; make room on the disk and send it again")]
    NoRoom(#[source] std::io::Error),
}

impl Cut {
    pub(in crate::desk) fn status(&self) -> StatusCode {
        match self {
            Self::TooSlow => StatusCode::REQUEST_TIMEOUT,
            Self::TooMuch => StatusCode::PAYLOAD_TOO_LARGE,
            Self::Broken(_) | Self::NoForm => StatusCode::BAD_REQUEST,
            Self::NoRoom(_) => StatusCode::INSUFFICIENT_STORAGE,
        }
    }
}

/// A photo that came whole, or why it can't be one.
#[derive(Debug)]
pub(super) struct Received {
    pub(super) label: String,
    pub(super) content: Result<Content, PictureError>,
}

/// A photo's bytes: in memory or, if there are many, in a file without a name, which ends with the program.
#[derive(Debug)]
pub(super) struct Content {
    pub(super) sha256: [u8; 32],
    bytes: u64,
    file: SpooledTempFile,
}

impl Content {
    /// All of it.
    pub(super) fn whole(mut self) -> std::io::Result<Vec<u8>> {
        let mut bytes = Vec::with_capacity(usize::try_from(self.bytes).unwrap_or(0));
        self.file.rewind()?;
        self.file.read_to_end(&mut bytes)?;
        Ok(bytes)
    }
}

/// A form's photos, one after another.
#[derive(Debug)]
pub(super) struct Incoming {
    multipart: Multipart,
    meter: Arc<Meter>,
    patience: Patience,
    bounds: Bounds,
    parts: usize,
    photos: usize,
}

impl Incoming {
    pub(super) async fn open(mut request: Request, bounds: Bounds) -> Result<Self, Cut> {
        // The meter below counts instead.
        DefaultBodyLimit::disable().apply(&mut request);
        let meter = Arc::new(Meter::default());
        let counted = Arc::clone(&meter);
        let request = request.map(|body| Body::new(Metered { body, meter: counted, left: bounds.bytes }));
        let multipart = Multipart::from_request(request, &()).await.map_err(|_| Cut::NoForm)?;
        let patience = Patience { piece: bounds.patience, left: bounds.whole };
        Ok(Self { multipart, meter, patience, bounds, parts: 0, photos: 0 })
    }

    /// How many photos came beyond those that are taken.
    pub(super) fn left_out(&self) -> usize {
        self.photos.saturating_sub(self.bounds.photos)
    }

    /// The next photo; `None` behind the last.
    pub(super) async fn next(&mut self) -> Result<Option<Received>, Cut> {
        loop {
            self.meter.begin_head();
            let next = self.patience.wait(self.multipart.next_field()).await?;
            self.meter.end_head();
            let Some(mut field) = next.map_err(|error| self.meter.cut(error))? else { return Ok(None) };
            self.parts += 1;
            if self.parts > PARTS {
                return Err(Cut::TooMuch);
            }
            let given = field.file_name().map(str::to_owned);
            let is_photo = given.is_some();
            // A field without a file's name is no photo; nor is a file field in which nothing was chosen, told below.
            self.photos += usize::from(is_photo);
            let keep = is_photo && self.photos <= self.bounds.photos;
            let most = if keep { self.bounds.photo_bytes } else { 0 };
            let content = received(&mut field, &mut self.patience, &self.meter, most).await?;
            let given = given.unwrap_or_default();
            if is_photo && given.is_empty() && content.as_ref().is_ok_and(|content| content.bytes == 0) {
                self.photos -= 1;
                continue;
            }
            if keep {
                return Ok(Some(Received { label: label(&given), content }));
            }
        }
    }
}

/// Reads a field to its end. Of one that is longer than `most` nothing is kept, and the rest is passed over.
async fn received(
    field: &mut Field<'_>,
    patience: &mut Patience,
    meter: &Meter,
    most: u64,
) -> Result<Result<Content, PictureError>, Cut> {
    let (mut hash, mut bytes) = (Sha256::new(), 0_u64);
    let mut file = Some(SpooledTempFile::new(IN_MEMORY));
    while let Some(piece) = patience.wait(field.chunk()).await?.map_err(|error| meter.cut(error))? {
        bytes += piece.len() as u64;
        if bytes > most {
            file = None;
        }
        if let Some(file) = &mut file {
            hash.update(&piece);
            // Into memory or the system's cache: not worth a thread.
            file.write_all(&piece).map_err(Cut::NoRoom)?;
        }
    }
    Ok(match file {
        Some(file) => Ok(Content { sha256: hash.finalize().into(), bytes, file }),
        None => Err(PictureError::TooManyBytes { max_bytes: most }),
    })
}

/// How long is waited yet. Time that the server itself takes does not count.
#[derive(Debug)]
struct Patience {
    piece: Duration,
    left: Duration,
}

impl Patience {
    async fn wait<T>(&mut self, piece: impl Future<Output = T>) -> Result<T, Cut> {
        let begun = Instant::now();
        let came = timeout(self.piece.min(self.left), piece).await.map_err(|_| Cut::TooSlow)?;
        self.left = self.left.saturating_sub(begun.elapsed());
        Ok(came)
    }
}

/// What came of the form so far. The parser itself holds no bound for a part's head.
#[derive(Debug, Default)]
struct Meter {
    in_head: AtomicBool,
    head_bytes: AtomicU64,
    too_much: AtomicBool,
}

impl Meter {
    fn begin_head(&self) {
        self.head_bytes.store(0, Ordering::Relaxed);
        self.in_head.store(true, Ordering::Relaxed);
    }

    fn end_head(&self) {
        self.in_head.store(false, Ordering::Relaxed);
    }

    fn cut(&self, error: MultipartError) -> Cut {
        if self.too_much.load(Ordering::Relaxed) { Cut::TooMuch } else { Cut::Broken(error) }
    }
}

/// A body that is counted.
struct Metered {
    body: Body,
    meter: Arc<Meter>,
    left: u64,
}

impl hyper::body::Body for Metered {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        let frame = ready!(Pin::new(&mut self.body).poll_frame(context));
        let count = match &frame {
            Some(Ok(frame)) => frame.data_ref().map_or(0, Bytes::len) as u64,
            _ => 0,
        };
        let in_head = self.meter.in_head.load(Ordering::Relaxed);
        let head = self.meter.head_bytes.fetch_add(count, Ordering::Relaxed) + count;
        let Some(left) = self.left.checked_sub(count).filter(|_| !in_head || head <= PART_HEAD_BYTES) else {
            self.meter.too_much.store(true, Ordering::Relaxed);
            return Poll::Ready(Some(Err(axum::Error::new(Cut::TooMuch))));
        };
        self.left = left;
        Poll::Ready(frame)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOUNDS: Bounds = Bounds {
        patience: Duration::from_millis(200),
        whole: Duration::from_millis(600),
        bytes: 1 << 20,
        photo_bytes: 1000,
        photos: 2,
    };

    /// A body that comes in these pieces, each so long after the one before; `ends` or waits for ever.
    struct Pieces {
        pieces: std::vec::IntoIter<Vec<u8>>,
        pause: Duration,
        sleep: Pin<Box<tokio::time::Sleep>>,
        ends: bool,
    }

    impl hyper::body::Body for Pieces {
        type Data = Bytes;
        type Error = axum::Error;

        fn poll_frame(
            mut self: Pin<&mut Self>,
            context: &mut Context<'_>,
        ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
            if !self.pause.is_zero() {
                ready!(self.sleep.as_mut().poll(context));
                let next = tokio::time::Instant::now() + self.pause;
                self.sleep.as_mut().reset(next);
            }
            match self.pieces.next() {
                Some(piece) => Poll::Ready(Some(Ok(Frame::data(piece.into())))),
                None if self.ends => Poll::Ready(None),
                None => Poll::Pending,
            }
        }
    }

    fn part(name: &str, content: &str) -> String {
        format!("--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"{name}\"\r\n\r\n{content}\r\n")
    }

    async fn incoming(text: &str, piece: usize, pause_ms: u64, ends: bool) -> Incoming {
        let pieces: Vec<_> = text.as_bytes().chunks(piece).map(<[u8]>::to_vec).collect();
        let pause = Duration::from_millis(pause_ms);
        let body = Pieces { pieces: pieces.into_iter(), pause, sleep: Box::pin(tokio::time::sleep(pause)), ends };
        let request = Request::builder().header("content-type", "multipart/form-data; boundary=x");
        Incoming::open(request.body(Body::new(body)).unwrap(), BOUNDS).await.unwrap()
    }

    /// What came: labels with the bytes of each or none, and how it ended.
    async fn all(incoming: &mut Incoming) -> (Vec<(String, Option<Vec<u8>>)>, Option<StatusCode>) {
        let mut came = Vec::new();
        loop {
            match incoming.next().await {
                Ok(Some(photo)) => came.push((photo.label, photo.content.ok().map(|c| c.whole().unwrap()))),
                Ok(None) => return (came, None),
                Err(cut) => return (came, Some(cut.status())),
            }
        }
    }

    #[tokio::test]
    async fn photos_come_whole_and_in_order() {
        let form = part("a.jpg", "one") + &part("", "") + &part("b.jpg", &"2".repeat(1000)) + "--x--\r\n";
        for piece in [1, 7, 4096] {
            let mut incoming = incoming(&form, piece, 0, true).await;
            let (came, end) = all(&mut incoming).await;
            assert_eq!(end, None);
            assert_eq!(
                came,
                [("a.jpg".to_owned(), Some(b"one".to_vec())), ("b.jpg".to_owned(), Some(vec![b'2'; 1000]))]
            );
        }
    }

    #[tokio::test]
    async fn what_is_too_large_or_too_many_is_passed_over() {
        let form = part("a.jpg", &"1".repeat(1001)) + &part("b.jpg", "2") + &part("c.jpg", "3") + "--x--\r\n";
        let mut incoming = incoming(&form, 50, 0, true).await;
        let (came, end) = all(&mut incoming).await;
        assert_eq!(came, [("a.jpg".to_owned(), None), ("b.jpg".to_owned(), Some(b"2".to_vec()))]);
        assert_eq!((end, incoming.left_out()), (None, 1));
    }

    #[tokio::test]
    async fn a_form_that_ends_early_gives_no_photo_in_part() {
        let form = part("a.jpg", "one") + &part("b.jpg", "two") + "--x--\r\n";
        let whole = part("a.jpg", "one").len();
        for end in 0..form.len() - 4 {
            let (came, cut) = all(&mut incoming(&form[..end], 64, 0, true).await).await;
            // The part's end is known by the boundary behind it.
            assert_eq!(came.len(), usize::from(end >= whole + 3), "{end}");
            assert_eq!(cut, Some(StatusCode::BAD_REQUEST), "{end}");
        }
    }

    #[tokio::test]
    async fn slow_and_endless_forms_are_cut() {
        let slow = Some(StatusCode::REQUEST_TIMEOUT);
        let begun = Instant::now();
        // It stops, in a head and in a photo.
        for end in [20, part("a.jpg", "").len()] {
            assert_eq!(all(&mut incoming(&part("a.jpg", "x")[..end], 64, 0, false).await).await, (vec![], slow));
        }
        // It drips, each drop in time.
        assert_eq!(all(&mut incoming(&part("a.jpg", &"x".repeat(900)), 1, 20, false).await).await, (vec![], slow));
        assert!(begun.elapsed() < Duration::from_secs(10));
        let much = Some(StatusCode::PAYLOAD_TOO_LARGE);
        // A head, a field that is no photo, and parts without end.
        let head = "--x\r\nContent-Disposition: form-data; x=\"".to_owned() + &"y".repeat(900_000);
        assert_eq!(all(&mut incoming(&head, 16 << 10, 0, true).await).await, (vec![], much));
        let field = "--x\r\nContent-Disposition: form-data; name=\"x\"\r\n\r\n".to_owned() + &"y".repeat(2 << 20);
        assert_eq!(all(&mut incoming(&field, 16 << 10, 0, true).await).await, (vec![], much));
        let parts = "--x\r\nContent-Disposition: form-data; name=\"x\"\r\n\r\ny\r\n".repeat(PARTS + 1);
        assert_eq!(all(&mut incoming(&parts, 16 << 10, 0, true).await).await, (vec![], much));
    }
}
