//! Makes the shipped example pictures again: `cargo run --release --example make-stack [folder]`.

#![allow(clippy::print_stdout, reason = "a program for the shell")]

#[path = "../render/mod.rs"]
mod render;
#[path = "mod.rs"]
mod stack;

use std::fs;
use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    let root = std::env::args_os().nth(1).map_or_else(|| PathBuf::from("testdata"), PathBuf::from);
    let folder = root.join("stack");
    fs::create_dir_all(&folder)?;
    fs::write(folder.join("titles.json"), stack::titles::json())?;
    fs::write(folder.join("truth.tsv"), stack::photos::truth())?;
    for photo in stack::photos::photos() {
        let quality = photo.scene.jpeg_quality.unwrap_or(90);
        let bytes = render::file::rgb_jpeg(&render::render_rgb(&photo.scene), quality);
        println!("{}\t{}\t{}", photo.name, bytes.len(), photo.note);
        fs::write(folder.join(photo.name), bytes)?;
    }
    let folder = root.join("negatives");
    fs::create_dir_all(&folder)?;
    for (name, picture) in stack::negatives::negatives() {
        fs::write(folder.join(name), stack::formats::picture_png(&picture))?;
    }
    let folder = root.join("formats");
    fs::create_dir_all(&folder)?;
    for (name, bytes) in stack::formats::formats() {
        fs::write(folder.join(name), bytes)?;
    }
    Ok(())
}
