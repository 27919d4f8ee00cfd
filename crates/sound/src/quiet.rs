//! Keeps the sound system's own messages off the screen.
//!
//! On Linux, ALSA writes to standard error whatever it cannot open, straight
//! through any screen drawn there. Its messages are turned into a buffer here,
//! on the calling thread only; what matters of them comes back as an error too.
//! Not caught, because it takes another library's handler: the JACK client
//! writes to standard error when `device:jack` is asked for by name and no JACK
//! server runs.

/// Held while messages are kept back.
#[cfg(target_os = "linux")]
pub(crate) type Quiet = Option<std::rc::Rc<std::cell::RefCell<alsa::Output>>>;
/// Held while messages are kept back.
#[cfg(not(target_os = "linux"))]
pub(crate) type Quiet = ();

/// Keeps messages back on this thread, from now to the thread's end.
#[cfg(target_os = "linux")]
pub(crate) fn messages() -> Quiet {
    // Failing to hush is no reason not to play.
    crate::system::is_there().then(|| alsa::Output::local_error_handler().ok())?
}

/// Other sound systems keep quiet by themselves.
#[cfg(not(target_os = "linux"))]
pub(crate) fn messages() -> Quiet {}
