//! The `boxward` program: parses, calls, exits.
fn main() {}
