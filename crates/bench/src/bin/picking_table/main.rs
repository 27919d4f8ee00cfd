//! How picking fares with made-up learners: prints the tables of `docs/picking.md`.
//!
//! `cargo run -p fifthpeg-bench --release --bin picking_table [seeds] [known|alone|class]`

mod course;
mod tables;

fn main() {
    let mut words = std::env::args().skip(1);
    let seeds = words.next().and_then(|text| text.parse().ok());
    let seeds = seeds.unwrap_or(400);
    let only = words.next();
    let wanted = |part: &str| only.as_deref().is_none_or(|only| only == part);
    if wanted("known") {
        tables::known(4 * seeds);
    }
    if wanted("alone") {
        tables::alone(seeds);
    }
    if wanted("class") {
        tables::class(seeds / 4);
    }
}
