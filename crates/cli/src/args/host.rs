//! What `fifthpeg host` takes.

use std::net::IpAddr;
use std::path::PathBuf;

use clap::Args;
use fifthpeg_front::values::{parse_bind, parse_name, parse_port, parse_room};
use fifthpeg_link::origin::HostName;

use super::manner::Looks;
use super::neck_choice::NeckChoice;
use crate::ear_options::EarOptions;
use crate::lesson_book::BookOptions;
use crate::lesson_rules::{LessonRules, RuleOptions};
use crate::lock_options::DoorOptions;

/// Where a host listens that names no port, so that an address once noted stays
/// the same. Chosen freely; where it is taken, any free one serves.
pub const USUAL_PORT: u16 = 4750;

/// `fifthpeg host`.
#[derive(Debug, Args)]
pub struct HostArgs {
    /// The lesson's name, as others see it
    #[arg(long, value_name = "NAME", default_value = "Lesson", value_parser = parse_name)]
    pub name: String,

    /// The neck.
    #[command(flatten)]
    pub neck: NeckChoice,

    /// Which rules the lesson begins with.
    #[command(flatten)]
    pub rules: LessonRules,

    /// Take turns to call; you host and play as well
    #[arg(long, requires = "name_in_lesson")]
    pub friends: bool,

    /// Your own name in a lesson of friends
    #[arg(long = "as", id = "name_in_lesson", value_name = "NAME", requires = "friends", value_parser = parse_name)]
    pub name_in_lesson: Option<String>,

    /// The other rules.
    #[command(flatten)]
    pub choices: RuleOptions<false>,

    /// How many students there is room for
    #[arg(long, value_name = "COUNT", default_value = "100", value_parser = parse_room, allow_negative_numbers = true)]
    pub max_students: u32,

    /// Listen on this port; 0 takes any free one. Without it, 4750, or any free
    /// one if that is taken
    #[arg(long, value_name = "PORT", value_parser = parse_port, allow_negative_numbers = true)]
    pub port: Option<u16>,

    /// Listen on this address of the machine alone; otherwise on all of them
    #[arg(long, value_name = "ADDRESS", value_parser = parse_bind)]
    pub bind: Option<IpAddr>,

    /// A further name of this machine, as a web page of its own may be reached
    /// by: NAME or NAME:PORT
    ///
    /// Pages from anywhere else are turned away. The machine's addresses and its
    /// own name need not be given.
    #[arg(long = "host-name", value_name = "NAME")]
    pub host_names: Vec<HostName>,

    /// Show browsers the certificate in this file, which they trust, instead of the
    /// host's own, which they warn about
    ///
    /// In PEM: the certificate, those that vouch for it, and the private key. It is for
    /// the first --host-name, by which phones then come in, over https.
    #[arg(long, value_name = "FILE", requires = "host_names")]
    pub certificate: Option<PathBuf>,

    /// Begin with the note hidden on this screen, for a projector
    #[arg(long)]
    pub hide_target: bool,

    /// Do not announce the lesson on the local network
    #[arg(long)]
    pub no_announce: bool,

    /// Who gets in.
    #[command(flatten)]
    pub door: DoorOptions,

    /// Where the lesson is written down.
    #[command(flatten)]
    pub book: BookOptions,

    /// How the host's own instrument is listened to.
    #[command(flatten)]
    pub ear: EarOptions,

    /// How it looks and sounds.
    #[command(flatten)]
    pub manner: Looks,
}
