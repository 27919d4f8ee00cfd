//! How picking fares with made-up learners: prints the tables of `docs/picking.md`.
//!
//! `cargo run -p fifthpeg-bench --release --bin picking_table [seeds]`

mod course;
mod tables;

fn main() {
    let seeds = std::env::args()
        .nth(1)
        .and_then(|text| text.parse().ok())
        .unwrap_or(400);
    tables::known(4 * seeds);
    tables::alone(seeds);
    if std::env::var("SOLO").is_err() {
        tables::class(seeds / 4);
    }
}
