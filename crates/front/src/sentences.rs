//! Sentences that are the same on screens, in lines and on pages.

use fifthpeg_core::{ReachSpec, ReachStep};

/// What everyone is told before the first tone.
pub const CAUTION: &str = "turn headphones and amplifiers down before the first tone, and up only \
                           as far as is comfortable";

/// What a host is told about the names of the young.
pub const NAMES_HINT: &str = "with minors present use first names or nicknames only, and keep to \
                              the rules of your school, club or country";

/// What is said of an open lesson.
pub const OPEN: &str = "open: anyone on this network can join it and listen in";

/// What is said where peers met none of the host's limits.
pub const NOTHING_MET: &str = "nothing was turned away, disconnected or slowed";

/// Where nobody could be meant.
pub const NOBODY_KNOWN: &str = "There is nobody to choose: everyone known to this class is here.";

/// Where nobody could get a class key.
pub const NOBODY_HERE: &str = "Nobody is here to be given a class key.";

/// So many keys or commands the short help has at most; one more shows the rest.
pub const SHORT_HELP: usize = 8;

/// What is said when nobody comes any further in this reach, with the keys or commands
/// that help: to sound it again, to show it, to choose a narrower reach if there is one.
pub fn all_stuck(now: &ReachSpec, [again, reveal, reach]: [&str; 3]) -> String {
    let last = if now.step == Some(ReachStep::TwoOpen) {
        format!("show it ({reveal})")
    } else {
        format!("choose a narrower reach ({reach}) for the next")
    };
    format!("Everyone is stuck: sound it again ({again}), sing it, or {last}.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_offered_less_than_the_least() {
        let said = |step: ReachStep| all_stuck(&step.into(), ["h", "r", "e"]);
        assert!(said(ReachStep::TwoOpen).ends_with("or show it (r)."));
        assert!(said(ReachStep::AllOpen).ends_with("a narrower reach (e) for the next."));
    }
}
