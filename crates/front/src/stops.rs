//! What asks the program to stop: Ctrl-C, the system, or its window being closed.
//! What that is called differs from system to system.

use std::io;

#[cfg(unix)]
mod system {
    use std::io;

    use tokio::signal::unix::{Signal, SignalKind, signal};

    /// Its end, its interruption, its quitting and its terminal going away.
    pub(super) struct Asked([Signal; 4]);

    impl Asked {
        pub(super) fn listen() -> io::Result<Self> {
            Ok(Self([
                signal(SignalKind::hangup())?,
                signal(SignalKind::interrupt())?,
                signal(SignalKind::quit())?,
                signal(SignalKind::terminate())?,
            ]))
        }

        pub(super) async fn next(&mut self) -> i32 {
            let [hangup, interrupt, quit, terminate] = &mut self.0;
            tokio::select! {
                _ = hangup.recv() => SignalKind::hangup().as_raw_value(),
                _ = interrupt.recv() => SignalKind::interrupt().as_raw_value(),
                _ = quit.recv() => SignalKind::quit().as_raw_value(),
                _ = terminate.recv() => SignalKind::terminate().as_raw_value(),
            }
        }
    }
}

#[cfg(windows)]
mod system {
    use std::io;

    use tokio::signal::windows;

    /// Ctrl-C, Ctrl-Break, the window closed, the user logged off, the machine shut
    /// down. Windows gives the last three a few seconds.
    pub(super) struct Asked {
        interrupt: windows::CtrlC,
        break_off: windows::CtrlBreak,
        close: windows::CtrlClose,
        log_off: windows::CtrlLogoff,
        shut_down: windows::CtrlShutdown,
    }

    impl Asked {
        pub(super) fn listen() -> io::Result<Self> {
            Ok(Self {
                interrupt: windows::ctrl_c()?,
                break_off: windows::ctrl_break()?,
                close: windows::ctrl_close()?,
                log_off: windows::ctrl_logoff()?,
                shut_down: windows::ctrl_shutdown()?,
            })
        }

        /// With the numbers that POSIX has for the like: SIGINT, SIGHUP and SIGTERM.
        pub(super) async fn next(&mut self) -> i32 {
            tokio::select! {
                _ = self.interrupt.recv() => 2,
                _ = self.break_off.recv() => 2,
                _ = self.close.recv() => 1,
                _ = self.log_off.recv() => 15,
                _ = self.shut_down.recv() => 15,
            }
        }
    }
}

/// Tells when the program is asked to stop.
pub struct Stops(system::Asked);

impl Stops {
    /// Takes these over from now on.
    ///
    /// # Errors
    /// If the system does not let the program listen.
    pub fn listen() -> io::Result<Self> {
        system::Asked::listen().map(Self)
    }

    /// Waits for the next one; its number, as POSIX counts signals.
    pub async fn next(&mut self) -> i32 {
        self.0.next().await
    }
}
