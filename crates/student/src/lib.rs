//! A student's terminal on the network: finds a lesson, keeps its place, sounds and measures.
