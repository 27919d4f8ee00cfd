//! Helpers shared by the tests that run the real program.
