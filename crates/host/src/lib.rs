//! The host of a lesson: takes students in over the network and drives the lesson.
