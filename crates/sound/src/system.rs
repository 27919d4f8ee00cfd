//! Whether this machine has a sound system at all.

/// Why there is no sound system.
pub(crate) const NO_LIBRARY: &str = if cfg!(target_env = "musl") {
    "this fifthpeg is the one that starts everywhere, and it has no loudspeaker or microphone: \
     take the one with sound"
} else {
    "this system has no sound library (libasound.so.2): install it (Debian 12 calls it \
     libasound2, later ones libasound2t64)"
};

/// Whether there is a sound system to ask.
#[cfg(target_os = "linux")]
pub(crate) fn is_there() -> bool {
    fifthpeg_asound::load() != fifthpeg_asound::Loaded::Missing
}

/// Other systems are never without.
#[cfg(not(target_os = "linux"))]
pub(crate) fn is_there() -> bool {
    true
}
