//! The targets under libFuzzer, which finds bytes that take new ways through the code. `scripts/fuzz` builds and runs it;
//! BOXWARD_FUZZ names the target.
#![no_main]
#![allow(clippy::unwrap_used, reason = "a test that can't go on has failed")]

#[path = "mod.rs"]
#[allow(unused_imports, dead_code, reason = "libFuzzer changes examples by itself")]
mod fuzz;
#[path = "../render/random.rs"]
#[allow(dead_code, reason = "only its numbers are used")]
pub mod random;

/// Where the targets look for random numbers.
mod render {
    pub use crate::random;
}

use std::sync::OnceLock;

use fuzz::{TARGETS, Target};

static TARGET: OnceLock<&Target> = OnceLock::new();

libfuzzer_sys::fuzz_target!(init: { choose(); }, |bytes: &[u8]| {
    if let Some(target) = TARGET.get() {
        (target.check)(bytes);
    }
});

/// Takes the target that is asked for, and writes its examples where libFuzzer begins.
fn choose() {
    let name = std::env::var("BOXWARD_FUZZ").unwrap_or_default();
    let target = TARGETS.iter().find(|target| target.name == name);
    let target =
        target.unwrap_or_else(|| panic!("no target is called '{name}'; there are {:?}", TARGETS.map(|t| t.name)));
    if let Some(folder) = std::env::var_os("BOXWARD_FUZZ_SEEDS") {
        let found = fuzz::found(name.as_str()).into_iter().map(|(_, bytes)| bytes);
        for (number, bytes) in (target.seeds)().into_iter().chain(found).enumerate() {
            std::fs::write(std::path::Path::new(&folder).join(format!("example-{number}")), bytes).unwrap();
        }
    }
    let _ = TARGET.set(target);
}
