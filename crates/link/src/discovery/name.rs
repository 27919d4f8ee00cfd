//! Lesson names as instance names, and back.

/// The longest instance name, in bytes (RFC 6763 section 4.1.1), with room for
/// the number that a clash adds.
pub const MAX_INSTANCE_BYTES: usize = 63 - " (999)".len();

/// A lesson's name as an instance name: without control signs, cut between
/// letters if it is too long.
pub(super) fn instance_name(lesson: &str) -> String {
    let mut name = String::new();
    for letter in lesson.chars().filter(|c| !c.is_control()) {
        if name.len() + letter.len_utf8() > MAX_INSTANCE_BYTES {
            break;
        }
        name.push(letter);
    }
    let name = name.trim();
    if name.is_empty() {
        "lesson".to_owned()
    } else {
        name.to_owned()
    }
}

/// The instance name at the front of a full service name, with its escaped
/// dots and backslashes (RFC 6763 section 4.3) made plain.
pub(super) fn instance_of(full_name: &str, service_type: &str) -> Option<String> {
    let at = full_name.len().checked_sub(service_type.len())?;
    let (front, back) = (full_name.get(..at)?, full_name.get(at..)?);
    if !back.eq_ignore_ascii_case(service_type) {
        return None;
    }
    let front = front.strip_suffix('.')?;
    let mut name = String::with_capacity(front.len());
    let mut letters = front.chars();
    while let Some(letter) = letters.next() {
        name.push(match letter {
            '\\' => letters.next()?,
            other => other,
        });
    }
    let fit = !name.is_empty() && !name.chars().any(char::is_control);
    fit.then_some(name)
}

/// This machine's name for people, as far as it says one.
pub(super) fn machine_name() -> String {
    let said = std::fs::read_to_string("/proc/sys/kernel/hostname")
        .ok()
        .or_else(|| std::env::var("HOSTNAME").ok())
        .or_else(|| std::env::var("COMPUTERNAME").ok())
        .unwrap_or_default();
    let name: String = said
        .trim()
        .split('.')
        .next()
        .unwrap_or_default()
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
        .take(32)
        .collect();
    if name.is_empty() {
        "host".to_owned()
    } else {
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TYPE: &str = super::super::SERVICE_TYPE;

    #[test]
    fn long_names_are_cut_between_letters() {
        let name = instance_name(&"é".repeat(60));
        assert!(name.len() <= MAX_INSTANCE_BYTES);
        assert!(name.chars().all(|c| c == 'é'));
        assert_eq!(instance_name("  Tuesday\u{7} class "), "Tuesday class");
        assert_eq!(instance_name("\n"), "lesson");
    }

    #[test]
    fn full_names_give_their_instance() {
        let full = |front: &str| format!("{front}.{TYPE}");
        assert_eq!(
            instance_of(&full("Hall (2)"), TYPE).as_deref(),
            Some("Hall (2)")
        );
        assert_eq!(
            instance_of(&full("St\\. Anne\\\\s"), TYPE).as_deref(),
            Some("St. Anne\\s")
        );
        assert_eq!(instance_of("Hall._http._tcp.local.", TYPE), None);
        assert_eq!(instance_of(&full("bell\u{7}"), TYPE), None);
        assert_eq!(instance_of(TYPE, TYPE), None);
        assert_eq!(instance_of("é", TYPE), None);
    }
}
