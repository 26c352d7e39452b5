//! What drivers say, told apart: the camera library gives the system's word as text only.

use super::CameraError;

/// The error of `name`'s that `what` tells of. Numbers are Linux's (errno-base.h): 1 and 13 permission, 2, 6 and 19 no
/// such device, 16 busy.
pub(super) fn error_of(name: &str, what: &str) -> CameraError {
    let name = name.to_owned();
    match system_error(what) {
        Some(16) => CameraError::Busy { name },
        Some(1 | 13) => CameraError::Forbidden { name },
        Some(2 | 6 | 19) => CameraError::Gone { name },
        _ => CameraError::Failed { name, what: what.to_owned() },
    }
}

fn system_error(what: &str) -> Option<u32> {
    let (_, number) = what.rsplit_once("os error ")?;
    number.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_are_told_apart_by_the_systems_number() {
        let name = "Desk Cam".to_owned();
        for (what, error) in [
            ("Device or resource busy (os error 16)", CameraError::Busy { name: name.clone() }),
            ("V4L2 Error: Permission denied (os error 13)", CameraError::Forbidden { name: name.clone() }),
            ("No such device (os error 19): twice", CameraError::Gone { name: name.clone() }),
            ("odd (os error 22)", CameraError::Failed { name: name.clone(), what: "odd (os error 22)".to_owned() }),
            ("os error x", CameraError::Failed { name: name.clone(), what: "os error x".to_owned() }),
        ] {
            assert_eq!(error_of("Desk Cam", what), error);
        }
    }
}
