//! Fingerprint of the bytes a result was made from.

use std::io::{Read, Write};

use crate::RecordingError;

/// SHA-256 of all bytes of a recording, so that a result says which bytes it came from.
///
/// Source: FIPS 180-4 (Secure Hash Standard), sections 4 to 6.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Fingerprint(pub [u8; 32]);

impl std::fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl std::fmt::Debug for Fingerprint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{self}")
    }
}

/// Fingerprint of everything `reader` still holds, read in pieces.
///
/// ```
/// let print = wythe_recording::fingerprint::of(&b"abc"[..]).unwrap();
/// assert!(print.to_string().starts_with("ba7816bf8f01cfea"));
/// ```
///
/// # Errors
/// Only what the reader itself reports.
pub fn of(mut reader: impl Read) -> Result<Fingerprint, RecordingError> {
    let mut hasher = Hasher::default();
    let mut buffer = vec![0u8; 64 * 1024];
    loop {
        match reader.read(&mut buffer) {
            Ok(0) => return Ok(hasher.finish()),
            Ok(n) => hasher.add(&buffer[..n]),
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(cause) => return Err(RecordingError::Io { at: hasher.length, cause }),
        }
    }
}

/// Makes the fingerprint of what is written into it.
pub struct Hasher {
    state: [u32; 8],
    length: u64,
    /// What does not fill a block of 64 bytes yet.
    begun: Vec<u8>,
}

impl Default for Hasher {
    fn default() -> Hasher {
        Hasher { state: H0, length: 0, begun: Vec::with_capacity(128) }
    }
}

impl Hasher {
    /// Takes in more bytes.
    pub fn add(&mut self, mut bytes: &[u8]) {
        self.length = self.length.wrapping_add(bytes.len() as u64);
        if !self.begun.is_empty() {
            let (first, rest) = bytes.split_at(bytes.len().min(64 - self.begun.len()));
            self.begun.extend_from_slice(first);
            bytes = rest;
            if self.begun.len() < 64 {
                return;
            }
            compress(&mut self.state, &self.begun);
            self.begun.clear();
        }
        let blocks = bytes.chunks_exact(64);
        self.begun.extend_from_slice(blocks.remainder());
        for block in blocks {
            compress(&mut self.state, block);
        }
    }

    /// The fingerprint of everything so far.
    pub fn finish(mut self) -> Fingerprint {
        // Padding of 5.1.1: a one bit, zeros, the length in bits.
        self.begun.push(0x80);
        while self.begun.len() % 64 != 56 {
            self.begun.push(0);
        }
        self.begun.extend_from_slice(&self.length.wrapping_mul(8).to_be_bytes());
        for block in self.begun.chunks_exact(64) {
            compress(&mut self.state, block);
        }
        let mut out = [0; 32];
        for (bytes, word) in out.chunks_exact_mut(4).zip(self.state) {
            bytes.copy_from_slice(&word.to_be_bytes());
        }
        Fingerprint(out)
    }
}

impl Write for Hasher {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.add(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Initial hash value, 5.3.3: the fractional parts of the square roots of the first eight primes.
const H0: [u32; 8] = [
    0x6a09_e667,
    0xbb67_ae85,
    0x3c6e_f372,
    0xa54f_f53a,
    0x510e_527f,
    0x9b05_688c,
    0x1f83_d9ab,
    0x5be0_cd19,
];

/// The constants of 4.2.2: the fractional parts of the cube roots of the first 64 primes, worked
/// out once with integers so that no table has to be trusted.
fn round_constants() -> [u32; 64] {
    let mut out = [0; 64];
    let mut candidate = 2u64;
    let mut found = 0;
    while found < 64 {
        if (2..candidate).take_while(|d| d * d <= candidate).all(|d| !candidate.is_multiple_of(d)) {
            // floor(2^32 · cbrt(p)) by bisection on k³ ≤ p · 2^96.
            let target = u128::from(candidate) << 96;
            let (mut low, mut high) = (0u128, 1u128 << 36);
            while high - low > 1 {
                let middle = (low + high) / 2;
                if middle * middle * middle <= target { low = middle } else { high = middle }
            }
            out[found] = low as u32;
            found += 1;
        }
        candidate += 1;
    }
    out
}

fn compress(state: &mut [u32; 8], block: &[u8]) {
    static K: std::sync::OnceLock<[u32; 64]> = std::sync::OnceLock::new();
    let k = K.get_or_init(round_constants);
    let mut w = [0u32; 64];
    for (word, bytes) in w.iter_mut().zip(block.chunks_exact(4)) {
        *word = u32::from_be_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]);
    }
    for t in 16..64 {
        let s0 = w[t - 15].rotate_right(7) ^ w[t - 15].rotate_right(18) ^ (w[t - 15] >> 3);
        let s1 = w[t - 2].rotate_right(17) ^ w[t - 2].rotate_right(19) ^ (w[t - 2] >> 10);
        w[t] = w[t - 16].wrapping_add(s0).wrapping_add(w[t - 7]).wrapping_add(s1);
    }
    let [mut a, mut b, mut c, mut d, mut e, mut f, mut g, mut h] = *state;
    for t in 0..64 {
        let s1 = e.rotate_right(6) ^ e.rotate_right(11) ^ e.rotate_right(25);
        let choice = (e & f) ^ (!e & g);
        let t1 = h.wrapping_add(s1).wrapping_add(choice).wrapping_add(k[t]).wrapping_add(w[t]);
        let s0 = a.rotate_right(2) ^ a.rotate_right(13) ^ a.rotate_right(22);
        let majority = (a & b) ^ (a & c) ^ (b & c);
        let t2 = s0.wrapping_add(majority);
        (h, g, f, e, d, c, b, a) = (g, f, e, d.wrapping_add(t1), c, b, a, t1.wrapping_add(t2));
    }
    for (old, new) in state.iter_mut().zip([a, b, c, d, e, f, g, h]) {
        *old = old.wrapping_add(new);
    }
}
