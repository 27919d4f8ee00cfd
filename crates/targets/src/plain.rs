//! The lines of plain mode: a command, or one sentence that says what to type.

use fifthpeg_plain::host_lines::host_commands;
use fifthpeg_plain::student_lines::STUDENT_COMMANDS;
use fifthpeg_plain::table::{LineCommand, read_line};

use crate::assert_may_be_shown;

fn read<L: Clone + core::fmt::Debug + PartialEq>(table: &[LineCommand<L>], bytes: &[u8]) {
    let Ok(text) = core::str::from_utf8(bytes) else {
        return;
    };
    for line in text.lines() {
        let read = read_line(table, line);
        assert_eq!(read, read_line(table, &format!("  {line} ")));
        if let Err(sentence) = read {
            assert_may_be_shown(sentence.words());
        }
    }
}

/// What a host types.
pub fn host(bytes: &[u8]) {
    read(host_commands(), bytes);
}

/// What a student types.
pub fn student(bytes: &[u8]) {
    read(STUDENT_COMMANDS, bytes);
}
