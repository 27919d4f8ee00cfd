//! The tone: a plucked string by physical modelling, and the outputs that play it.
