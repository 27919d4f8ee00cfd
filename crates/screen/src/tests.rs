//! Screen tests in the manner "before, keys, after": a real lesson and real
//! terminals in memory, the screens drawn into a buffer and read as text.

mod at_lock;
mod guide;
mod help;
mod host;
mod host_glance;
mod host_instrument;
mod host_menus;
mod host_pedal;
mod looks;
mod neck;
mod offered;
pub(crate) mod room;
mod student;
mod student_alone;
mod student_caller;
mod student_end;
mod student_hosting;
mod student_instrument;
mod student_neck;
mod student_place;
