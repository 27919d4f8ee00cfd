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
    as_root apt-get update -qq
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
}

rust_is_new_enough() {
    command -v cargo >/dev/null || return 1
    local have
    have=$(rustc --version | awk '{print $2}')
    [ "$(printf '%s\n%s\n' "$rust_wanted" "$have" | sort -V | head -1)" = "$rust_wanted" ]
}

# need_rust: a toolchain new enough, by Debian's rustup where there is one.
need_rust() {
    [ -d "$HOME/.cargo/bin" ] && PATH=$HOME/.cargo/bin:$PATH
    rust_is_new_enough && return 0
    if ! command -v rustup >/dev/null; then
        if apt-cache show rustup >/dev/null 2>&1; then
            need_apt rustup
        else
            die "Rust $rust_wanted or newer is missing and this Debian has no rustup package: install rustup as its own page says, then start again"
        fi
    fi
    step "Installing the Rust toolchain with rustup"
    rustup toolchain install stable --profile default
    rustup default stable
    rust_is_new_enough || die "Rust is still older than $rust_wanted: run 'rustup update', then start again"
}

# need_cargo_tool COMMAND CRATE: a cargo subcommand built from its crate.
need_cargo_tool() {
    command -v "$1" >/dev/null && return 0
    step "Building $2 with cargo (once, several minutes)"
    cargo install --locked "$2"
}
