//! Chance with a name and a seed: ChaCha with 8 rounds (Bernstein 2008, "ChaCha, a variant of Salsa20"), taken as
//! whole 64-bit words. The numbers are made from those words here, so that the same seed gives the same bytes
//! whatever another library's distributions do.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of chance.
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// A stream that depends on the seed and on what it is for, on nothing else.
    pub fn new(seed: u64, purpose: u64) -> Self {
        let mut stream = ChaCha8Rng::seed_from_u64(seed);
        stream.set_stream(purpose);
        Self(stream)
    }

    /// One word.
    pub fn word(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Evenly in [0, 1): the upper 53 bits of a word.
    pub fn share(&mut self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "53 bits fit a double exactly")]
        let upper = (self.word() >> 11) as f64;
        upper / 9_007_199_254_740_992.0
    }

    /// Evenly in [low, high).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// True with this chance.
    pub fn happens(&mut self, chance: f64) -> bool {
        self.share() < chance
    }

    /// About a bell curve round 0 with a standard deviation of 1: the sum of twelve shares, less six.
    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }

    /// A whole number below `count` (0 for a `count` of 0).
    pub fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.word() % (count.max(1) as u64)).unwrap_or(0)
    }
}
