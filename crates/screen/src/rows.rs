//! Rows that several screens have in their tables of keys: each says here once
//! what its key does.

use crossterm::event::KeyCode;

use crate::keys::{
    Binding, CTRL_C, DOWN, END, ENTER, HOME, Key, LEFT, PAGE_DOWN, PAGE_UP, RIGHT, SPACE, UP, row,
};

/// The help.
pub const fn help<C>(command: C) -> Binding<C> {
    const KEYS: &[Key] = &[Key::Char('?'), Key::Code(KeyCode::F(1))];
    row(KEYS, "this help", "help", command)
}

/// Leaving the lesson.
pub const fn leave<C>(command: C) -> Binding<C> {
    const KEYS: &[Key] = &[Key::Char('q'), CTRL_C];
    row(KEYS, "leave the lesson (asks first)", "leave", command)
}

/// Ending the lesson, for who holds it.
pub const fn end<C>(command: C) -> Binding<C> {
    const KEYS: &[Key] = &[Key::Char('q'), CTRL_C];
    row(KEYS, "end the lesson (asks first)", "end", command)
}

/// One press of any key that a foot switch sends, where one thing can be done.
pub const fn foot_switch<C>(does: &'static str, short: &'static str, command: C) -> Binding<C> {
    row(&[SPACE, ENTER, PAGE_DOWN], does, short, command)
}

/// Sounding a call for everyone, by the other side of a foot switch too.
pub const fn sound_again<C>(short: &'static str, command: C) -> Binding<C> {
    let does = "sound the call again for everyone (PageUp too)";
    row(&[Key::Char('h'), PAGE_UP], does, short, command)
}

/// Showing the note.
pub const fn reveal<C>(command: C) -> Binding<C> {
    let does = "reveal the note and every place of it";
    row(&[Key::Char('r')], does, "reveal", command)
}

/// Ending the call.
pub const fn close<C>(command: C) -> Binding<C> {
    row(&[Key::Char('x')], "close the call", "close", command)
}

/// Another reach, with what is suggested.
pub const fn reach<C>(command: C) -> Binding<C> {
    let does = "change the reach, or take what is suggested";
    row(&[Key::Char('e')], does, "reach", command)
}

/// Note names on the neck.
pub const fn names<C>(command: C) -> Binding<C> {
    let does = "show or hide note names";
    row(&[Key::Char('l')], does, "letters", command)
}

/// The microphone.
pub const fn listen<C>(command: C) -> Binding<C> {
    let does = "listen to your instrument, or no longer (needs --microphone)";
    row(&[Key::Char('i')], does, "", command)
}

/// The noise of the room.
pub const fn quiet<C>(short: &'static str, command: C) -> Binding<C> {
    let does = "measure the noise of the room: three seconds of quiet";
    row(&[Key::Char('o')], does, short, command)
}

/// A lesson book that cannot be written.
pub const fn without_book<C>(command: C) -> Binding<C> {
    let does = "go on without the lesson book, if it cannot be written";
    row(&[Key::Char('b')], does, "", command)
}

/// The cursor on the neck.
pub const fn string_up<C>(command: C) -> Binding<C> {
    row(&[UP], "one string up", "", command)
}

/// The cursor on the neck.
pub const fn string_down<C>(command: C) -> Binding<C> {
    row(&[DOWN], "one string down", "", command)
}

/// The cursor on the neck.
pub const fn fret_left<C>(command: C) -> Binding<C> {
    row(&[LEFT], "one fret to the left", "", command)
}

/// The cursor on the neck.
pub const fn fret_right<C>(command: C) -> Binding<C> {
    row(&[RIGHT], "one fret to the right", "", command)
}

/// The cursor on the neck.
pub const fn open_string<C>(short: &'static str, command: C) -> Binding<C> {
    row(&[HOME], "to the open string", short, command)
}

/// The cursor on the neck.
pub const fn last_fret<C>(short: &'static str, command: C) -> Binding<C> {
    row(&[END], "to the last fret", short, command)
}
