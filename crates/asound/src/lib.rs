//! The sound library of Linux, `libasound.so.2`, loaded when it is first wanted. A program that is
//! linked with it does not start where it is missing; linked with this crate it starts, and can say
//! what it lacks. Linking it in for good is no way: it would find none of its own plugins, and so no
//! sound server.
//!
//! The functions that the sound crates call are in `asound.c`. Before [`load`], and where there is no
//! library, each returns an error.

/// How it went to load the library.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loaded {
    /// It is there.
    Whole,
    /// It is there, and older than this program: so many of its functions are missing.
    Older(usize),
    /// There is none.
    Missing,
}

/// Loads the library, the first time that it is called; says how that went, every time.
#[cfg(stands_in)]
pub fn load() -> Loaded {
    use std::sync::OnceLock;

    // Not C's own: `safe`, since it takes nothing, and is called once.
    unsafe extern "C" {
        safe fn fifthpeg_asound_load() -> std::ffi::c_int;
    }
    static LOADED: OnceLock<Loaded> = OnceLock::new();
    *LOADED.get_or_init(|| match fifthpeg_asound_load() {
        0 => Loaded::Whole,
        absent => usize::try_from(absent).map_or(Loaded::Missing, Loaded::Older),
    })
}

/// On other machines the library is linked as usual, so it is there.
#[cfg(not(stands_in))]
pub fn load() -> Loaded {
    Loaded::Whole
}

#[cfg(all(test, stands_in))]
mod tests {
    use super::*;

    /// Against Debian's own library: that it has every function under the name it is asked for.
    #[test]
    fn the_library_has_every_function_or_there_is_none() {
        let loaded = load();
        assert!(
            matches!(loaded, Loaded::Whole | Loaded::Missing),
            "{loaded:?}: a name in functions.h is not libasound's"
        );
        assert_eq!(load(), loaded, "asked again");
    }
}
