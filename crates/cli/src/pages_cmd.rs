//! `fifthpeg completions` and `fifthpeg man-pages`: both are made from the command
//! line's own tables.

use std::fs;

use clap::{Command, CommandFactory};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;

use crate::args::Cli;
use crate::args::pages::{CompletionsArgs, ManPagesArgs};

/// Prints what a shell needs to complete commands and options.
///
/// # Errors
/// When it cannot be written.
pub fn completions(args: &CompletionsArgs) -> Result<(), Failure> {
    let mut made = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "fifthpeg", &mut made);
    out::document(&String::from_utf8_lossy(&made))
}

/// Writes a manual page for the program and each of its commands.
///
/// # Errors
/// When the folder cannot be made or written to.
pub fn man_pages(args: &ManPagesArgs) -> Result<(), Failure> {
    let folder = &args.folder;
    let written = fs::create_dir_all(folder)
        .and_then(|()| clap_mangen::generate_to(command_for_pages(), folder));
    written.map_err(|why| {
        Failure::runtime(why).told(|why| {
            format!(
                "the manual pages could not be written into {} ({why}): name a folder that can be written to",
                folder.display()
            )
        })
    })
}

/// The command line without the long version, which belongs to one build alone.
fn command_for_pages() -> Command {
    Cli::command().long_version(env!("CARGO_PKG_VERSION"))
}

#[cfg(test)]
mod tests {
    use clap_complete::Shell;

    use super::*;

    /// Every command with its path of words, such as `book people`, and its long options.
    fn all(command: &Command, path: &str, found: &mut Vec<(String, Vec<String>)>) {
        let options = command.get_arguments().filter(|a| !a.is_hide_set());
        let options = options.filter_map(|a| a.get_long().map(str::to_owned));
        found.push((path.to_owned(), options.collect()));
        for below in command.get_subcommands() {
            all(below, &format!("{path}-{}", below.get_name()), found);
        }
    }

    fn everything() -> Vec<(String, Vec<String>)> {
        let mut command = Cli::command();
        command.build();
        let mut found = Vec::new();
        all(&command, "fifthpeg", &mut found);
        assert!(found.len() > 20, "{found:?}");
        found
    }

    #[test]
    fn every_shell_is_told_every_command_and_option() {
        for shell in [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell] {
            let mut made = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "fifthpeg", &mut made);
            let made = String::from_utf8(made).unwrap();
            for (path, options) in everything() {
                let word = path.rsplit_once("fifthpeg-").map_or("", |(_, word)| word);
                assert!(
                    made.contains(word.rsplit('-').next().unwrap_or("")),
                    "{shell}: {path}"
                );
                for option in options {
                    // fish names an option without its hyphens.
                    assert!(made.contains(&option), "{shell}: {path} --{option}");
                }
            }
        }
    }

    #[test]
    fn every_command_has_a_page_with_every_option() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-man-{}", std::process::id()));
        let args = ManPagesArgs {
            folder: folder.clone(),
        };
        man_pages(&args).unwrap();
        let mut pages = 0;
        for (path, options) in everything() {
            let page = fs::read_to_string(folder.join(format!("{path}.1")));
            let page = page.unwrap_or_else(|why| panic!("{path}: {why}"));
            for option in options {
                let written = format!("\\-\\-{}", option.replace('-', "\\-"));
                assert!(page.contains(&written), "{path}: {written}");
            }
            pages += 1;
        }
        assert_eq!(fs::read_dir(&folder).unwrap().count(), pages);
        fs::remove_dir_all(&folder).unwrap();
        let args = ManPagesArgs {
            folder: "/dev/null/pages".into(),
        };
        let said = man_pages(&args).unwrap_err().to_string();
        assert!(said.contains("name a folder"), "{said}");
    }
}
