//! `fifthpeg homework`: a folder for each student of a class that holds nobody
//! else, whole or not at all; and tracks made of what each of them misses.

#[path = "homework/common.rs"]
mod common;
#[path = "homework/folders.rs"]
mod folders;
#[path = "homework/misses.rs"]
mod misses;
#[path = "homework/trouble.rs"]
mod trouble;
