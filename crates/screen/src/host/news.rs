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
                Leaving::Lost => format!("{name} lost the connection; the seat is kept."),
                Leaving::FellBehind => format!("{name} fell behind; the seat is kept."),
                Leaving::Left => format!("{name} left."),
                Leaving::Removed => format!("{name} was taken out of the lesson."),
                Leaving::MadeRoom => format!("{name}, long gone, made room for a newcomer."),
            }
        }
        LessonEvent::KnownAs { name, .. } => format!("That is {name}, from now on."),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use fifthpeg_lesson::HostOrder;

    use crate::tests::room::Room;

    #[test]
    fn who_is_taken_out_is_named_though_no_longer_on_the_list() {
        let mut room = Room::of(&["Mette", "Jonas"]);
        while room.lesson.poll_event().is_some() {}
        let jonas = room.students[1].0;
        room.host(HostOrder::Remove(jonas));
        let view = room.lesson.view();
        assert!(view.students.iter().all(|student| student.id != jonas));
        let events = std::iter::from_fn(|| room.lesson.poll_event());
        let told: Vec<_> = events
            .filter_map(|event| super::of(&event, &view))
            .collect();
        assert_eq!(told, ["Jonas was taken out of the lesson."]);
    }
}
