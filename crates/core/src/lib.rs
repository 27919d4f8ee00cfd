//! Neck geometry: pitch, spelling, tunings, necks, positions, reaches, fret distances.
