//! The row of pitches of one breath.

/// Points that are kept: 1.5 s.
const MOST_POINTS: usize = 150;
/// A rise of level by so much is a new attack, in dB.
const ATTACK_DB: f64 = 8.0;
/// Points back to which the level is compared: the length of a stretch.
const ATTACK_POINTS: usize = 4;

/// The voice at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Pitch in cents above 1 Hz.
    pub cents: f64,
    pub level_db: f64,
    /// Sample position.
    pub position: u64,
}

/// The points of one breath, each with its moment in seconds.
#[derive(Debug, Clone)]
pub(super) struct Track {
    hop_s: f64,
    /// Looks since the breath began, those that gave no point included.
    looks: usize,
    points: Vec<(usize, Point)>,
}

impl Track {
    pub fn new(hop_s: f64) -> Track {
        Track {
            hop_s,
            looks: 0,
            points: Vec::with_capacity(MOST_POINTS),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// A look that gave no point.
    pub fn pass(&mut self) {
        self.looks += 1;
    }

    pub fn push(&mut self, point: Point) {
        if self.points.len() == MOST_POINTS {
            self.points.remove(0);
        }
        self.looks += 1;
        self.points.push((self.looks, point));
    }

    pub fn clear(&mut self) {
        self.points.clear();
        self.looks = 0;
    }

    /// Where the voice was, as the middle one of the last five points.
    pub fn last_cents(&self) -> Option<f64> {
        let from = self.points.len().saturating_sub(5);
        let last = &self.points[from..];
        let mut cents = [0.0; 5];
        for (slot, (_, point)) in cents.iter_mut().zip(last) {
            *slot = point.cents;
        }
        let cents = &mut cents[..last.len()];
        cents.sort_unstable_by(f64::total_cmp);
        cents.get(cents.len() / 2).copied()
    }

    /// Whether this level is an attack after what there was.
    pub fn jumps_up_in_level(&self, level_db: f64) -> bool {
        let from = self.points.len().saturating_sub(ATTACK_POINTS);
        // A breath's own beginning rises as well.
        from > ATTACK_POINTS
            && self.points[from..]
                .iter()
                .any(|(_, point)| level_db > point.level_db + ATTACK_DB)
    }

    /// The latest look and its point.
    pub fn latest(&self) -> Option<(usize, Point)> {
        self.points.last().copied()
    }

    /// The points from one look to another, both included.
    pub fn between(&self, from: usize, until: usize) -> &[(usize, Point)] {
        let begin = self.points.partition_point(|(look, _)| *look < from);
        let end = self.points.partition_point(|(look, _)| *look <= until);
        &self.points[begin..end.max(begin)]
    }

    /// Seconds for so many looks.
    pub fn seconds(&self, looks: usize) -> f64 {
        looks as f64 * self.hop_s
    }
}
