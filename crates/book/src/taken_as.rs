//! The class and name under which a student's own book is imported.

/// Under which names here what comes from one person's own book is taken in.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TakenAs {
    /// The class that all of its people and lessons are of; without it, each its own.
    pub class: Option<String>,
    /// Who the one person in it is; without it, each has the name it has there.
    pub person: Option<String>,
}
