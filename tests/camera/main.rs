//! A webcam of cardboard for the real driver: runs inside the virtual machine of `scripts/camera-test`, plugs the webcam in
//! over USB/IP, and holds what `boxward::source::camera` and `boxward scan` must do with it.
//!
//! One line a check, `ok` or `FAILED`; ends with 1 if any failed, with 2 if there is no virtual host controller.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, reason = "a test program")]
#![cfg_attr(not(target_os = "linux"), allow(dead_code, reason = "only Linux has that host controller"))]

use std::process::ExitCode;

#[path = "../render/mod.rs"]
mod render;

#[cfg(target_os = "linux")]
mod guest;
#[cfg(target_os = "linux")]
mod pictures;
#[cfg(target_os = "linux")]
mod usbip;
mod uvc;

#[cfg(target_os = "linux")]
fn main() -> ExitCode {
    guest::run()
}

#[cfg(not(target_os = "linux"))]
fn main() -> ExitCode {
    println!("this needs Linux");
    ExitCode::from(2)
}
