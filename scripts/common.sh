# Shared by the set-up commands. Sourced, never run.
# Every step may be run twice: what is there already is left alone.

set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"

# Oldest Rust the workspace builds with, kept in one place: Cargo.toml.
rust_wanted=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)

step() { printf '\n== %s\n' "$*"; }
die() {
    printf 'stopped: %s\n' "$*" >&2
    exit 1
}

as_root() {
    if [ "$(id -u)" = 0 ]; then
        "$@"
    elif command -v sudo >/dev/null; then
        sudo "$@"
    else
        die "'$*' needs an administrator: run it as root, or install sudo, then start again"
    fi
}

# need_apt PACKAGE...: installs those Debian packages that are missing, and
# says which.
need_apt() {
    local missing=() p
    for p in "$@"; do
        dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q 'ok installed' || missing+=("$p")
    done
    [ ${#missing[@]} = 0 ] && return 0
    command -v apt-get >/dev/null || die "this needs ${missing[*]}: install them with your system's packages, then start again"
    step "Installing Debian packages: ${missing[*]}"
    # What apt says itself stands above that.
    as_root apt-get update -qq || die "apt cannot ask for packages: see that the network is there, then start again"
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null ||
        die "apt cannot install ${missing[*]}: see what it says above, then start again"
}

# fetch_deb PACKAGE...: unpacks Debian packages of recordings under $sounds, without
# installing them. One that cannot be had is said, and left out.
sounds=$root/target/ear-sounds
fetch_deb() {
    local name into=$sounds/.fetched
    mkdir -p "$sounds"
    for name in "$@"; do
        [ -d "$sounds/$name" ] && continue
        rm -rf "$into" && mkdir -p "$into"
        # A machine that has never asked for packages knows none.
        apt-cache show "$name" >/dev/null 2>&1 || as_root apt-get update -qq || true
        if (cd "$into" && apt-get download -q "$name") >"$sounds/.said" 2>&1; then
            dpkg-deb -x "$into/$name"_*.deb "$into/unpacked"
            mv "$into/unpacked" "$sounds/$name"
        else
            echo "SKIPPED: $name cannot be fetched, its sounds are left out: $(tail -1 "$sounds/.said")"
        fi
    done
    rm -rf "$into"
}

# new_enough VERSION: whether that Rust builds the workspace.
new_enough() {
    [ -n "$1" ] && [ "$(printf '%s\n%s\n' "$rust_wanted" "$1" | sort -V | head -1)" = "$rust_wanted" ]
}

# has_rust [lints]: whether a Rust new enough is on the path, with its formatter and lints where asked for.
has_rust() {
    hash -r
    command -v cargo >/dev/null && command -v rustc >/dev/null || return 1
    [ "${1:-}" != lints ] || { command -v cargo-fmt && command -v cargo-clippy; } >/dev/null || return 1
    new_enough "$(rustc --version | awk '{print $2}')"
}

# apt_offers PACKAGE: the version that apt would install. It may know a name and have nothing of it.
apt_offers() {
    LC_ALL=C apt-cache policy "$1" 2>/dev/null | awk '$1 == "Candidate:" && $2 != "(none)" { print $2 }'
}

# python_with FOLDER PACKAGES...: a Python of its own there, with these.
python_with() {
    [ -x "$1/bin/python" ] || python3 -m venv "$1"
    # aubio 0.4.9 is older than the compilers that stop at a pointer of another kind (GCC 14).
    CFLAGS="${CFLAGS:-} -Wno-error=incompatible-pointer-types" \
        "$1/bin/python" -m pip install --quiet --disable-pip-version-check "${@:2}"
}

# need_rust [lints]: a toolchain new enough. What is there is used; else a rustup that is there; else what
# Debian has: its Rust, the newer one it keeps for its web browsers, or its rustup.
need_rust() {
    [ -d "$HOME/.cargo/bin" ] && PATH=$HOME/.cargo/bin:$PATH
    has_rust "$@" && return 0
    if ! command -v rustup >/dev/null; then
        command -v apt-cache >/dev/null ||
            die "Rust $rust_wanted or newer is missing: install it with your system's packages or with rustup, then start again"
        as_root apt-get update -qq
        local compiler cargo formatter lints
        while read -r compiler cargo formatter lints; do
            new_enough "$(apt_offers "$compiler")" || continue
            if [ "${1:-}" = lints ]; then
                need_apt "$compiler" "$cargo" "$formatter" "$lints"
            else
                need_apt "$compiler" "$cargo"
            fi
            has_rust "$@" && return 0
            die "Debian's Rust is installed, but another one comes first: remove $(command -v rustc), then start again"
        done <<'FAMILIES'
rustc cargo rustfmt rust-clippy
rustc-web cargo-web rustfmt-web rust-web-clippy
FAMILIES
        [ -n "$(apt_offers rustup)" ] ||
            die "Rust $rust_wanted or newer is missing and apt has none (Debian keeps a newer one in its security updates: are they among apt's sources?): install rustup as its own page says, then start again"
        need_apt rustup
    fi
    step "Installing the Rust toolchain with rustup"
    rustup toolchain install stable --profile default
    rustup default stable
    has_rust "$@" || die "Rust is still older than $rust_wanted: run 'rustup update', then start again"
}

wasm_target=wasm32-unknown-unknown
# need_wasm: sets wasm_cargo to the command that compiles for WebAssembly. With
# rustup it is a target; else Debian's newer compiler, its linker and the source of its
# library are unpacked beside the build, and nothing is installed.
need_wasm() {
    local build=${CARGO_TARGET_DIR:-$root/target}
    wasm_cargo=(env "CARGO_TARGET_DIR=$build/wasm" cargo --config "build.target='$wasm_target'")
    if command -v rustup >/dev/null && rustup target add "$wasm_target" >/dev/null 2>&1; then
        return 0
    fi
    local web=$build/web-rust
    if [ ! -x "$web/rust-lld" ]; then
        step "Unpacking Debian's Rust for WebAssembly (once, 150 MB to fetch)"
        local std llvm version libraries
        std=$(apt_needs libstd-rust-web-dev 'libstd-rust-web-[0-9]') && llvm=$(apt_needs "$std" 'libllvm') || return 1
        version=$(grep -oE '[0-9]+' <<<"$llvm" | head -1)
        rm -rf "$web" && mkdir -p "$web/debs" "$web/unpacked"
        (cd "$web/debs" && apt-get download -qq rustc-web rust-web-src libstd-rust-web-dev "$std" "$llvm" "lld-$version" 2>/dev/null) || return 1
        for deb in "$web"/debs/*.deb; do dpkg -x "$deb" "$web/unpacked" || return 1; done
        rm -r "$web/debs"
        libraries="LD_LIBRARY_PATH='$web/unpacked/usr/lib/$(uname -m)-linux-gnu'"
        printf '#!/bin/sh\n%s exec %s "$@"\n' "$libraries" "'$web/unpacked/usr/bin/rustc'" >"$web/rustc"
        printf '#!/bin/sh\n%s exec %s "$@"\n' "$libraries" "'$web/unpacked/usr/lib/llvm-$version/bin/lld'" >"$web/rust-lld"
        chmod +x "$web/rustc" "$web/rust-lld"
    fi
    wasm_cargo=(env "CARGO_TARGET_DIR=$build/wasm" "RUSTC=$web/rustc" RUSTC_BOOTSTRAP=1
        cargo --config "build.target='$wasm_target'" --config "unstable.build-std=['std','panic_abort']"
        --config "target.$wasm_target.linker='$web/rust-lld'")
}

# apt_needs PACKAGE PATTERN: the package of that name which the other needs.
apt_needs() {
    apt-cache depends "$1" 2>/dev/null | sed -n "s/^ *Depends: \($2[^ ]*\)$/\1/p" | grep -m1 .
}

# first_build FILE TIME: says how long it will take, where that file is not there yet.
first_build() {
    [ -e "$1" ] || printf '\nThe first time this takes %s on 2 cores, most of it to build; later times are short.\n' "$2"
}

# need_page_tools: what looks at pages in a browser, under target/.
need_page_tools() {
    local tools=$root/target/pages-tools
    mkdir -p "$tools"
    cp "$root/scripts/pages/package.json" "$root/scripts/pages/package-lock.json" "$tools/"
    cmp -s "$root/scripts/pages/package-lock.json" "$tools/installed.json" && return 0
    PLAYWRIGHT_SKIP_BROWSER_DOWNLOAD=1 npm --prefix "$tools" ci --no-audit --no-fund --loglevel=error
    cp "$root/scripts/pages/package-lock.json" "$tools/installed.json"
}

# need_cargo_tool COMMAND CRATE: a cargo subcommand built from its crate.
need_cargo_tool() {
    command -v "$1" >/dev/null && return 0
    step "Building $2 with cargo (once, several minutes)"
    cargo install --locked "$2"
}
