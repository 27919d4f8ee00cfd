//! The reaches that a lesson had.

use fifthpeg_core::ReachSpec;

use super::Reader;
use super::lists::list;
use crate::error::OrBookError;
use crate::{BookError, LessonId, from_rows};

impl Reader {
    /// Every reach that a lesson had, in order, each as often as it was set.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or when the book cannot be read.
    pub fn reaches(&self, lesson: LessonId) -> Result<Vec<ReachSpec>, BookError> {
        let key = self.key(lesson)?;
        let sql = "SELECT reach FROM rules WHERE lesson = ?1 ORDER BY seq";
        list(&self.connection, sql, [key], |row| {
            let reach: String = row.get(0)?;
            reach.parse().map_err(|_| from_rows::strange("reach"))
        })
        .at(&self.path)
    }
}
