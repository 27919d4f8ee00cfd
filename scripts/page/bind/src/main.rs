//! `bind IN.wasm FOLDER`: makes of the page's WebAssembly what a browser loads, with
//! the JavaScript that loads it. The version of its one dependency is that of
//! wasm-bindgen in the page.

use std::process::ExitCode;

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
