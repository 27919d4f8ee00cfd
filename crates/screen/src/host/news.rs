//! What is worth telling a host in a line.

use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::view::LessonView;

/// Who came and went, as a sentence; everything else shows in the lists.
pub fn of(event: &LessonEvent, view: &LessonView) -> Option<String> {
    Some(match event {
        LessonEvent::Joined {
            name,
            returning: true,
            ..
        } => format!("{name} is back."),
        LessonEvent::Joined { name, .. } => format!("{name} joined."),
        LessonEvent::Left {
            student, leaving, ..
        } => {
            let known = view.students.iter().map(|s| (s.id, &s.name));
            let out = view.taken_out.iter().map(|out| (out.id, &out.name));
            let (_, name) = known.chain(out).find(|(id, _)| id == student)?;
            match leaving {
                Leaving::Lost => format!("{name} lost the connection; the place is kept."),
                Leaving::FellBehind => format!("{name} fell behind; the place is kept."),
                Leaving::Left => format!("{name} left."),
                Leaving::Removed => format!("{name} was taken out of the lesson."),
                Leaving::MadeRoom => format!("{name}, long gone, made room for a newcomer."),
            }
        }
        LessonEvent::KnownAs { name, .. } => format!("That is {name}, from now on."),
        _ => return None,
    })
}
