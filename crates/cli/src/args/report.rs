//! What `fifthpeg report` takes.

use std::path::PathBuf;

use clap::Args;

/// `fifthpeg report`.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// The lesson book; without it, the one kept in the usual place
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,

    /// The class; may be left out if the book has only one, or only one that did
    /// more than practise alone
    #[arg(long, value_name = "NAME")]
    pub class: Option<String>,

    /// One student over time
    #[arg(long, value_name = "NAME")]
    pub student: Option<String>,

    /// One lesson: last (of the class, not practice alone), its day (2026-10-13), or its day and time
    #[arg(long, value_name = "WHICH")]
    pub lesson: Option<String>,

    /// text for a terminal, page (HTML, to read and print), csv or json
    #[arg(
        long = "as",
        id = "form",
        value_name = "FORM",
        value_enum,
        default_value = "text",
        hide_possible_values = true
    )]
    pub form: ReportForm,

    /// Write the report into this file, made for you alone to read; - is
    /// standard output
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,

    /// Write over an older report of that name
    #[arg(long, requires = "to")]
    pub replace: bool,

    /// Numbers in place of the students' names, for a lesson or a class
    #[arg(long, conflicts_with = "student")]
    pub without_names: bool,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// Write F#4 and not F♯4
    #[arg(long)]
    pub ascii: bool,

    /// Draw necks with the nut on the right
    #[arg(long)]
    pub left_handed: bool,
}

/// The forms of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum ReportForm {
    /// Lines for a terminal.
    Text,
    /// A page for a browser and for paper.
    Page,
    /// For a spreadsheet.
    Csv,
    /// For programs.
    Json,
}
