//! Takes the page in that `scripts/build-page` has made, if it has: the program is
//! built without it just as well, and then says that it serves none.

use std::path::Path;
use std::{env, fs};

fn main() {
    let made = Path::new(env!("CARGO_MANIFEST_DIR")).join("../page/made");
    println!("cargo::rerun-if-changed={}", made.display());
    let names = fs::read_to_string(made.join("names"));
    let text = match &names {
        Ok(names) => {
            let line = |at| names.lines().nth(at).unwrap_or_default();
            let file = |name| made.join(name);
            format!(
                "Some(Made {{ policy: {:?}, html: include_bytes!({:?}), wasm_path: {:?}, wasm: include_bytes!({:?}) }})",
                line(1),
                file("page.html.gz"),
                line(0),
                file("page.wasm.gz"),
            )
        }
        Err(_) => "None".to_owned(),
    };
    let out = env::var_os("OUT_DIR").map(|out| Path::new(&out).join("page.rs"));
    if let Some(out) = out {
        fs::write(out, text).expect("the folder for what is built can be written");
    }
}
