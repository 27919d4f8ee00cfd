//! `bind IN.wasm FOLDER`: makes of the page's WebAssembly what a browser loads, with
//! the JavaScript that loads it. The version of its dependency is that of
//! wasm-bindgen in the page.
//!
//! `bind compress FILE...`: puts `FILE.gz` (RFC 1952) in the place of each, as small as
//! it gets, and says how large they are. Browsers take no better kind over plain http.

use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let done = match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["compress", ref files @ ..] if !files.is_empty() => {
            files.iter().try_for_each(|file| compressed(file))
        }
        [input, folder] => made(input, folder),
        _ => Err("say which file, and into which folder".to_owned()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("stopped: {e}");
            ExitCode::FAILURE
        }
    }
}

fn compressed(file: &str) -> Result<(), String> {
    let bytes = std::fs::read(file).map_err(|e| format!("{file}: {e}"))?;
    let options = zopfli::Options {
        // More makes it smaller by a few hundred bytes, and takes minutes.
        iteration_count: std::num::NonZeroU64::MIN.saturating_add(2),
        ..zopfli::Options::default()
    };
    let mut small = Vec::new();
    zopfli::compress(options, zopfli::Format::Gzip, &bytes[..], &mut small)
        .and_then(|()| std::fs::write(format!("{file}.gz"), &small))
        .and_then(|()| std::fs::remove_file(file))
        .map_err(|e| format!("{file}: {e}"))?;
    let name = std::path::Path::new(file).file_name().unwrap_or_default();
    println!("{}: {} kB, compressed", name.display(), small.len().div_ceil(1000));
    Ok(())
}

fn made(input: &str, folder: &str) -> Result<(), String> {
    let mut bindgen = wasm_bindgen_cli_support::Bindgen::new();
    let bindgen = bindgen
        .input_path(input)
        .out_name("fifthpeg")
        .typescript(true);
    bindgen
        .web(true)
        .and_then(|bindgen| bindgen.generate(folder))
        .map_err(|e| format!("{e:#}"))
}
