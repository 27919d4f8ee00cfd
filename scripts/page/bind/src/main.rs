//! `bind IN.wasm FOLDER`: makes of the page's WebAssembly what a browser loads, with
//! the JavaScript that loads it. The version of its one dependency is that of
//! wasm-bindgen in the page.

use std::process::ExitCode;

/// How a program says that references of the browser's stand in its tables. Nothing
/// of ours needs them, and Debian's wasm-opt spoils such tables: it is unsaid.
const SAID: &[u8] = b"+\x0freference-types";
const UNSAID: &[u8] = b"-\x0freference-types";

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let (Some(input), Some(folder)) = (arguments.next(), arguments.next()) else {
        eprintln!("say which file, and into which folder");
        return ExitCode::FAILURE;
    };
    match made(&input, &folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("stopped: {e}");
            ExitCode::FAILURE
        }
    }
}

fn made(input: &str, folder: &str) -> Result<(), String> {
    let mut bytes = std::fs::read(input).map_err(|e| format!("{input}: {e}"))?;
    let at = bytes.windows(SAID.len()).position(|part| part == SAID);
    if let Some(at) = at {
        bytes[at..at + SAID.len()].copy_from_slice(UNSAID);
    }
    let mut bindgen = wasm_bindgen_cli_support::Bindgen::new();
    let bindgen = bindgen.input_bytes("fifthpeg", bytes).typescript(true);
    bindgen
        .web(true)
        .and_then(|bindgen| bindgen.generate(folder))
        .map_err(|e| format!("{e:#}"))
}
