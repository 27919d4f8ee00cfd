//! What a running lesson is told of those who come in.

mod common;

use fifthpeg_book::{BookError, LessonId, Reader, Recall};
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::learning::figures::EARLIER_CALLS;
use fifthpeg_lesson::message::StudentId;

use common::{CLASS, EVENING_MS, Folder, Hall, held, setup};

const WEEK_MS: i64 = 7 * 86_400_000;

#[test]
fn who_comes_in_is_found_by_name_with_the_calls_of_earlier_lessons() {
    let folder = Folder::new("recall");
    let path = folder.book();
    for week in 0..3 {
        held(&path, 5, EVENING_MS + week * WEEK_MS, &["Mia", "Ivo"]);
    }
    let mut hall = Hall::begin(&path, setup(8), EVENING_MS + 3 * WEEK_MS);
    let mia = hall.join("MIA");
    let new = hall.join("Ruth");
    hall.calls(2);
    let (lesson, _) = hall.finish();

    let mut recall = Recall::open(&path, CLASS, lesson).unwrap();
    recall.read_ahead().unwrap();
    let recalled = recall.of(mia, "MIA").unwrap().expect("known");
    let reader = Reader::open(&path).unwrap();
    let person = reader.person(CLASS, "Mia").unwrap();
    assert_eq!(recalled.person, person.id);
    // Four calls in each of three lessons; those of this one it knows itself.
    let whole = reader.standing(person.id).unwrap().records;
    assert_eq!(whole.len(), 14);
    assert_eq!(recalled.records, whole[..12]);
    // Under another number in this lesson it does not.
    let back = recall.of(StudentId(9), "mia").unwrap().expect("known");
    assert_eq!(back.records, whole);
    // Who is in the book by this lesson alone is known without records.
    let ruth = recall.of(new, "Ruth").unwrap().expect("known");
    assert_eq!(ruth.records, []);
    assert_eq!(recall.of(StudentId(4), "Ole").unwrap(), None);
    let other = Recall::open(&path, "Friday", lesson)
        .unwrap()
        .of(mia, "Mia");
    assert_eq!(other.unwrap(), None);
}

#[test]
fn only_the_latest_calls_are_told() {
    let folder = Folder::new("recall-most");
    let path = folder.book();
    let each = 80;
    for week in 0..5 {
        let mut hall = Hall::begin(&path, setup(week), EVENING_MS + week as i64 * WEEK_MS);
        hall.join("Mia");
        hall.calls(each);
        hall.order(HostOrder::End);
        hall.finish();
    }
    let mut recall = Recall::open(&path, CLASS, LessonId(1)).unwrap();
    let recalled = recall.of(StudentId(1), "Mia").unwrap().expect("known");
    let reader = Reader::open(&path).unwrap();
    let whole = reader.standing(recalled.person).unwrap().records;
    assert_eq!(whole.len(), 5 * each as usize);
    assert_eq!(recalled.records, whole[whole.len() - EARLIER_CALLS..]);
}

#[test]
fn a_book_that_cannot_be_read_says_why() {
    let folder = Folder::new("recall-none");
    let missing = Recall::open(&folder.book(), CLASS, LessonId(1)).unwrap_err();
    assert!(matches!(missing, BookError::File { .. }), "{missing}");
}
