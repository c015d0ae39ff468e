//! Bytes of the fuzzer as the numbers from which a thing is drawn: where one byte changes, one choice changes.

use rand::{Rng, SeedableRng, TryRng};
use rand_chacha::ChaCha8Rng;
use std::convert::Infallible;

/// Reads the bytes to their end, and goes on with numbers of a fixed seed.
pub struct Draws<'a> {
    bytes: &'a [u8],
    after: ChaCha8Rng,
}

impl<'a> Draws<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            after: ChaCha8Rng::seed_from_u64(0),
        }
    }

    fn next<const N: usize>(&mut self) -> [u8; N] {
        match self.bytes.split_first_chunk::<N>() {
            Some((first, rest)) => {
                self.bytes = rest;
                *first
            }
            None => {
                self.bytes = &[];
                let mut out = [0; N];
                self.after.fill_bytes(&mut out);
                out
            }
        }
    }
}

impl TryRng for Draws<'_> {
    type Error = Infallible;

    fn try_next_u32(&mut self) -> Result<u32, Infallible> {
        Ok(u32::from_le_bytes(self.next()))
    }

    fn try_next_u64(&mut self) -> Result<u64, Infallible> {
        Ok(u64::from_le_bytes(self.next()))
    }

    fn try_fill_bytes(&mut self, out: &mut [u8]) -> Result<(), Infallible> {
        for byte in out {
            [*byte] = self.next();
        }
        Ok(())
    }
}
