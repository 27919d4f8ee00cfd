//! What was ringing before a pluck, carried on beyond it.
//!
//! An autoregressive model is fitted to the sound before the onset by Burg's
//! method (J. P. Burg, "Maximum entropy spectral analysis", 1975) and run on:
//! damped partials go on with their own frequency, phase and decay, and noise
//! dies away by itself. Carrying music on in this way is known from restoring
//! gaps in recordings (Kauppinen and Roth, "Audio signal extrapolation: theory
//! and applications", DAFx 2002). What the ear then hears less this is new.

/// Fits and runs on the ringing; holds the memory for it.
#[derive(Debug, Clone)]
pub(crate) struct Ringing {
    forward: Vec<f64>,
    backward: Vec<f64>,
    coefficients: Vec<f64>,
    swap: Vec<f64>,
    most_order: usize,
}

impl Ringing {
    /// For up to `longest` samples of past and a model of up to `most_order`.
    pub fn new(longest: usize, most_order: usize) -> Ringing {
        Ringing {
            forward: vec![0.0; longest],
            backward: vec![0.0; longest],
            coefficients: vec![0.0; most_order + 1],
            swap: vec![0.0; most_order + 1],
            most_order,
        }
    }

    /// Carries `past` on for as long as `ahead`.
    pub fn carry_on(&mut self, past: &[f32], ahead: &mut [f32]) {
        ahead.fill(0.0);
        let past = &past[past.len().saturating_sub(self.forward.len())..];
        let order = self.most_order.min(past.len() / 3);
        let power: f32 = past.iter().map(|x| x * x).sum();
        if order < 8 || power < 1e-12 {
            return;
        }
        let order = self.fit(past, order);
        let a = &self.coefficients[1..=order];
        for i in 0..ahead.len() {
            // From what was made up, newest first, then from the past itself.
            let (made, rest) = a.split_at(i.min(order));
            let known = &past[past.len() - rest.len()..];
            ahead[i] = -(reversed(made, &ahead[i - made.len()..i]) + reversed(rest, known)) as f32;
        }
    }

    /// Burg's recursion; gives the order reached.
    fn fit(&mut self, past: &[f32], order: usize) -> usize {
        let n = past.len();
        let (f, b) = (&mut self.forward[..n], &mut self.backward[..n]);
        for (i, &x) in past.iter().enumerate() {
            (f[i], b[i]) = (f64::from(x), f64::from(x));
        }
        let a = &mut self.coefficients;
        a.fill(0.0);
        a[0] = 1.0;
        let start: f64 = f.iter().map(|x| x * x).sum();
        let (mut den, mut last_k) = (2.0 * start, 0.0);
        let mut lost = f[0].powi(2) + b[n - 1].powi(2);
        for m in 0..order {
            // The backward errors are kept without their delay of m, so that
            // both can be walked through in step.
            let (ff, bb) = (&mut f[m + 1..n], &mut b[..n - m - 1]);
            let mut cross = [0.0f64; 8];
            let (f8, f_rest) = ff.as_chunks::<8>();
            let (b8, b_rest) = bb.as_chunks::<8>();
            for (x, y) in f8.iter().zip(b8) {
                for lane in 0..8 {
                    cross[lane] += x[lane] * y[lane];
                }
            }
            let rest: f64 = f_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
            let num = cross.iter().sum::<f64>() + rest;
            // Both energies, carried on from the order before (N. Andersen, "On
            // the calculation of filter coefficients for maximum entropy spectral
            // analysis", Geophysics 39:1, 1974).
            den = (1.0 - last_k * last_k) * den - lost;
            if den < start * 1e-7 {
                // Little is left of so clear a sound: too little to carry on.
                den = ff.iter().chain(bb.iter()).map(|x| x * x).sum();
            }
            if den <= start * 1e-15 {
                return m;
            }
            let k = -2.0 * num / den;
            last_k = k;
            for i in 0..=m + 1 {
                self.swap[i] = a[i] + k * a[m + 1 - i];
            }
            a[..=m + 1].copy_from_slice(&self.swap[..=m + 1]);
            for (x, y) in ff.iter_mut().zip(bb) {
                let (forward, backward) = (*x, *y);
                *x = forward + k * backward;
                *y = backward + k * forward;
            }
            // The next order has one pair less at either end.
            lost = f[m + 1].powi(2) + b[n - m - 2].powi(2);
        }
        order
    }
}

/// Sum of products of one with the other backwards, in lanes so that it is done quickly.
fn reversed(a: &[f64], b: &[f32]) -> f64 {
    let mut lanes = [0.0f64; 4];
    let (a4, a_rest) = a.as_chunks::<4>();
    let (b_rest, b4) = b.as_rchunks::<4>();
    for (x, y) in a4.iter().zip(b4.iter().rev()) {
        for lane in 0..4 {
            lanes[lane] += x[lane] * f64::from(y[3 - lane]);
        }
    }
    let rest = a_rest.iter().zip(b_rest.iter().rev());
    lanes.iter().sum::<f64>() + rest.map(|(x, y)| x * f64::from(*y)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Two damped notes with eight partials each.
    fn ringing(i: usize) -> f32 {
        let t = i as f64 / 12_000.0;
        let mut sum = 0.0;
        for (f0, phase) in [(196.3, 0.4), (294.1, 1.9)] {
            for n in 1..=8 {
                let n = f64::from(n);
                sum += (2.0 * PI * f0 * n * t + phase * n).cos() * (-t * (3.0 + n)).exp() / n;
            }
        }
        sum as f32
    }

    #[test]
    fn carries_damped_partials_on() {
        let past: Vec<f32> = (0..1200).map(ringing).collect();
        let mut ahead = vec![0.0; 720];
        Ringing::new(1200, 200).carry_on(&past, &mut ahead);
        let (mut off, mut all) = (0.0, 0.0);
        for (i, x) in ahead.iter().enumerate() {
            let true_value = ringing(1200 + i);
            off += (x - true_value).powi(2);
            all += true_value.powi(2);
        }
        // At least 15 dB of 60 ms are taken away.
        assert!(off < all * 0.03, "{}", off / all);
    }

    #[test]
    fn silence_stays_silence() {
        let mut ahead = vec![1.0; 50];
        Ringing::new(600, 100).carry_on(&[0.0; 600], &mut ahead);
        assert!(ahead.iter().all(|&x| x == 0.0));
    }
}
