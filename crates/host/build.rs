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
            let mut lines = names.lines();
            let policy = lines.next().unwrap_or_default();
            let file = |name: &str| made.join(name);
            let files = lines.map(|line| {
                let (path, kind) = line.split_once(' ').unwrap_or((line, ""));
                let of = file(&format!("{}.gz", path.trim_start_matches('/')));
                format!("({path:?}, {kind:?}, include_bytes!({of:?}))")
            });
            format!(
                "Some(Made {{ policy: {policy:?}, html: include_bytes!({:?}), files: &[{}] }})",
                file("page.html.gz"),
                files.collect::<Vec<_>>().join(", "),
            )
        }
        Err(_) => "None".to_owned(),
    };
    let out = env::var_os("OUT_DIR").map(|out| Path::new(&out).join("page.rs"));
    if let Some(out) = out {
        fs::write(out, text).expect("the folder for what is built can be written");
    }
}
