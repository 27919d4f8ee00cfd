//! The page on plain mode, made from the tables that the program runs by.

use crate::alone::ALONE_COMMANDS;
use crate::host_lines::host_commands;
use crate::listen::LISTEN_COMMANDS;
use crate::say::WORDS;
use crate::student::{SeatKind, host_words};
use crate::student_lines::{FRIENDS_COMMANDS, STUDENT_COMMANDS};
use crate::table::{LineCommand, usage};
use fifthpeg_vocab::RULES;

const TOP: &str = "\
# Plain mode

`fifthpeg host --plain`, `fifthpeg join --plain` and `fifthpeg solo --plain` take
lines and give lines.
They suit a screen reader, a pipe, a script, or a terminal that cannot draw.
Without `--plain` you get plain mode too whenever input or output is not a
terminal, or a script is given. Everything that the screens can do can be done
here.

This page is made from the tables that the program itself runs by; a test
compares the two.

## Lines in

One command a line. Case does not matter. `#` begins a comment at the start of
a line or after a space, so `F#4` is a note. A place is a string and a fret,
`2/1`; string 1 is the one at the top of a tablature, and frets are counted from
the main nut, on a short string as well. A pitch is a note name with its octave:
`F#4`, `Gb4`. Nobody needs note names: everything can be done by place.

A line that cannot be done gives one line that begins with `error`, and the
lesson goes on.

Where commands are typed, a line that speech would talk over a tone with waits until
the tone has ended; whatever is typed is answered at once, after what waited. Where they
come from a pipe nothing waits.

`--script FILE` reads commands from a file first and then from standard input.
The whole file is checked before anything starts: a line in it that is no
command ends the program with exit code 2 and the line's number. At the end of
all input a host ends the lesson and a student leaves it, as `end` and `leave`
do; so do Ctrl-C and SIGTERM. A student's commands wait until the lesson is
joined, 10 seconds at the most or as long as `--patience` says, and longer where the host
has you wait.

The program ends with exit code 0 when a lesson was hosted or joined, even if
lines in it gave an error or a wait was in vain; 1 when no lesson could be
started or joined, or a sound file could not be opened or written to its end;
and 2 when the command line or the script makes no sense.
";

/// The page.
pub fn page() -> String {
    let mut page = TOP.to_owned();
    page.push_str("\n## Commands of a host\n\n");
    commands(&mut page, host_commands());
    page.push_str("\n## Commands of a student\n\n");
    commands(&mut page, STUDENT_COMMANDS);
    page.push_str("\n## Friends\n\nFriends call in turn, and have these as well:\n\n");
    commands(&mut page, FRIENDS_COMMANDS);
    page.push_str(&format!(
        "\nThe friend who hosts (`fifthpeg host --friends --as NAME --plain`) plays as a \
         student, and has these\ncommands of a host besides: {}.\n",
        quoted(&host_words(SeatKind::Friend))
    ));
    page.push_str(&format!(
        "\n## Alone\n\nA player alone (`fifthpeg solo --plain`) has a student's commands, except those for friends,\nthese of a host besides: {}, and:\n\n",
        quoted(&host_words(SeatKind::Alone))
    ));
    commands(&mut page, ALONE_COMMANDS);
    page.push_str(
        "\n## Commands of `fifthpeg listen`\n\nNo lesson and no network: tuning, and trying the \
         microphone out.\n\n",
    );
    commands(&mut page, LISTEN_COMMANDS);
    page.push_str("\n## Lines out\n\nEach line begins with one of these words, in ASCII apart from names that people gave.\n\n");
    for (_, form, meaning) in WORDS {
        page.push_str(&format!("- `{form}`: {meaning}\n"));
    }
    for rule in RULES {
        let told = if rule.told { "" } else { "for a host: " };
        page.push_str(&format!("- `{} CHOICE`: {told}{}\n", rule.word, rule.what));
    }
    page
}

fn quoted(words: &[&str]) -> String {
    let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    words.join(", ")
}

fn commands<L>(page: &mut String, table: &[LineCommand<L>]) {
    for command in table {
        page.push_str(&format!("- `{}`: {}\n", usage(command), command.does));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With `FIFTHPEG_WRITE_PAGES=1` it writes the page instead.
    #[test]
    fn the_page_says_what_the_program_does() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/PLAIN.md");
        if std::env::var_os("FIFTHPEG_WRITE_PAGES").is_some() {
            std::fs::write(path, page()).expect("the page can be written");
        }
        let stored = std::fs::read_to_string(path).expect("PLAIN.md");
        assert_eq!(
            stored,
            page(),
            "PLAIN.md is out of date: run FIFTHPEG_WRITE_PAGES=1 cargo test -p fifthpeg-plain page"
        );
    }
}
