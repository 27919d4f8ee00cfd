//! Compiles what stands in for libasound, where this crate knows how to.

use std::env::var;

fn main() {
    println!("cargo::rerun-if-changed=src/asound.c");
    println!("cargo::rerun-if-changed=src/functions.h");
    println!("cargo::rustc-check-cfg=cfg(stands_in)");
    let is = |what: &str, known: &[&str]| {
        var(format!("CARGO_CFG_TARGET_{what}")).is_ok_and(|value| known.contains(&value.as_str()))
    };
    if !(is("OS", &["linux"]) && is("ARCH", &["x86_64", "aarch64"])) {
        return;
    }
    println!("cargo::rustc-cfg=stands_in");
    cc::Build::new()
        .file("src/asound.c")
        .cargo_metadata(false)
        .warnings(true)
        .compile("fifthpeg_asound");
    println!(
        "cargo::rustc-link-search=native={}",
        var("OUT_DIR").unwrap_or_default()
    );
    // Whole, since those who call its functions come later on the linker's line.
    println!("cargo::rustc-link-lib=static:+whole-archive=fifthpeg_asound");
}
