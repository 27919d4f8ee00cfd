//! The fifthpeg program.
fn main() {}
