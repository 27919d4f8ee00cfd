//! Values of every type of the protocol, made by throwing dice, so that a new
//! field or variant is tested without anybody thinking of it.

/// Dice with a seed (SplitMix64, public domain).
pub(crate) struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).expect("fits")
    }
}

/// A type that can make values of itself.
pub(crate) trait Sample {
    fn sample(dice: &mut Dice) -> Self;
}

macro_rules! whole_numbers {
    ($($kind:ty)+) => {$(
        impl Sample for $kind {
            fn sample(dice: &mut Dice) -> Self {
                // The ends of the range are where encodings go wrong.
                match dice.below(8) {
                    0 => <$kind>::MIN,
                    1 => <$kind>::MAX,
                    _ => dice.next() as $kind,
                }
            }
        }
    )+};
}

whole_numbers!(u8 u16 u32 u64 u128 i8);

impl Sample for bool {
    fn sample(dice: &mut Dice) -> Self {
        dice.below(2) == 1
    }
}

impl Sample for f64 {
    fn sample(dice: &mut Dice) -> Self {
        // Never NaN, which is not equal to itself.
        match dice.below(6) {
            0 => f64::INFINITY,
            1 => f64::MIN,
            2 => -0.0,
            _ => dice.next() as f64 / 1e12,
        }
    }
}

impl Sample for f32 {
    fn sample(dice: &mut Dice) -> Self {
        f64::sample(dice) as f32
    }
}

impl Sample for String {
    fn sample(dice: &mut Dice) -> Self {
        const LETTERS: [char; 8] = ['a', 'Z', '♯', 'é', ' ', '𝄪', '\'', '5'];
        // The shortest limit of a text is 32 bytes: eight letters of four.
        (0..dice.below(9))
            .map(|_| LETTERS[dice.below(LETTERS.len())])
            .collect()
    }
}

impl<T: Sample> Sample for Option<T> {
    fn sample(dice: &mut Dice) -> Self {
        (dice.below(3) > 0).then(|| T::sample(dice))
    }
}

impl<T: Sample> Sample for Vec<T> {
    fn sample(dice: &mut Dice) -> Self {
        (0..dice.below(6)).map(|_| T::sample(dice)).collect()
    }
}

impl<T: Sample> Sample for Box<T> {
    fn sample(dice: &mut Dice) -> Self {
        Box::new(T::sample(dice))
    }
}

impl<const N: usize> Sample for [u8; N] {
    fn sample(dice: &mut Dice) -> Self {
        core::array::from_fn(|_| u8::sample(dice))
    }
}
