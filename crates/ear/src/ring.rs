//! A ring of values that remembers the position of each.

/// The last values of a stream, found again by position.
#[derive(Debug, Clone)]
pub(crate) struct Ring {
    values: Vec<f32>,
    /// Position after the newest value.
    end: u64,
    /// Nothing before this is known.
    begin: u64,
}

impl Ring {
    /// Room for at least `length` values.
    pub fn new(length: usize) -> Ring {
        Ring {
            values: vec![0.0; length.next_power_of_two()],
            end: 0,
            begin: 0,
        }
    }

    pub fn push(&mut self, value: f32) {
        let mask = self.values.len() - 1;
        self.values[self.end as usize & mask] = value;
        self.end += 1;
    }

    pub fn end(&self) -> u64 {
        self.end
    }

    /// The oldest position that is still known.
    pub fn begin(&self) -> u64 {
        self.begin
            .max(self.end.saturating_sub(self.values.len() as u64))
    }

    /// The value at a position; nought where nothing is known.
    pub fn at(&self, position: i64) -> f32 {
        if position < self.begin() as i64 || position >= self.end as i64 {
            return 0.0;
        }
        self.values[position as usize & (self.values.len() - 1)]
    }

    /// Copies the values from a position on; nought where nothing is known.
    pub fn copy(&self, from: i64, into: &mut [f32]) {
        let until = from + into.len() as i64;
        let known = from.max(self.begin() as i64)..until.min(self.end as i64);
        if known.is_empty() {
            into.fill(0.0);
            return;
        }
        let [first, last] = [known.start, known.end].map(|at| (at - from) as usize);
        into[..first].fill(0.0);
        into[last..].fill(0.0);
        // In two pieces, where it goes over the end.
        let at = known.start as usize & (self.values.len() - 1);
        let (ahead, rest) = (&self.values[at..], &mut into[first..last]);
        let (ahead_to, around_to) = rest.split_at_mut(ahead.len().min(rest.len()));
        ahead_to.copy_from_slice(&ahead[..ahead_to.len()]);
        around_to.copy_from_slice(&self.values[..around_to.len()]);
    }

    /// Moves on to a position and forgets what was.
    pub fn skip_to(&mut self, end: u64) {
        self.end = end;
        self.begin = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_last_and_gives_nought_for_the_rest() {
        let mut ring = Ring::new(4);
        for i in 0..6 {
            ring.push(i as f32 + 1.0);
        }
        let mut out = [9.0; 6];
        ring.copy(1, &mut out);
        assert_eq!(out, [0.0, 3.0, 4.0, 5.0, 6.0, 0.0]);
        ring.skip_to(100);
        ring.push(7.0);
        assert_eq!((ring.at(99), ring.at(100), ring.at(101)), (0.0, 7.0, 0.0));
    }
}
