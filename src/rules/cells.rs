//! The table of an alignment: how good the best way to each of its cells is.

pub(super) const NEVER: f32 = f32::NEG_INFINITY;

/// Best log-probabilities against free text for every pair of a mesh node and an automaton node. Few pairs have one, and
/// only those are visited.
#[derive(Debug, Default)]
pub(super) struct Table {
    width: usize,
    /// Words of bits to a row.
    words: usize,
    cells: Vec<f32>,
    /// One bit for each pair that has one, in words of 64 automaton nodes.
    reached: Vec<u64>,
}

impl Table {
    /// Takes on another size; nothing must have been reached in it.
    pub fn fit(&mut self, rows: usize, width: usize) {
        self.width = width;
        self.words = width.div_ceil(64);
        self.cells.resize(rows * width, NEVER);
        self.reached.resize(rows * self.words, 0);
    }

    /// Forgets what was reached, cell by cell, since few were.
    pub fn clear(&mut self) {
        for row in 0..self.reached.len() / self.words.max(1) {
            for word in 0..self.words {
                let reached = std::mem::take(&mut self.reached[row * self.words + word]);
                for node in each_bit(word, reached) {
                    self.cells[row * self.width + node] = NEVER;
                }
            }
        }
    }

    #[inline]
    pub fn get(&self, at: usize, node: usize) -> f32 {
        self.cells[at * self.width + node]
    }

    #[inline]
    pub fn raise(&mut self, at: usize, node: usize, value: f32) {
        let cell = &mut self.cells[at * self.width + node];
        if value > *cell {
            *cell = value;
            self.reach(at, node);
        }
    }

    #[inline]
    fn reach(&mut self, at: usize, node: usize) {
        self.reached[at * self.words + node / 64] |= 1 << (node % 64);
    }

    /// The cells of a row, and their bits.
    #[inline]
    pub fn row_mut(&mut self, at: usize) -> (&mut [f32], &mut [u64]) {
        (
            &mut self.cells[at * self.width..(at + 1) * self.width],
            &mut self.reached[at * self.words..(at + 1) * self.words],
        )
    }

    /// The last automaton node before `before` that was reached at a place.
    #[inline]
    pub fn previous(&self, at: usize, before: usize) -> Option<usize> {
        let row = &self.reached[at * self.words..(at + 1) * self.words];
        let last = before.checked_sub(1)?;
        let first = row[last / 64] & (u64::MAX >> (63 - last % 64));
        let (word, bits) = if first != 0 {
            (last / 64, first)
        } else {
            let word = (0..last / 64).rev().find(|&word| row[word] != 0)?;
            (word, row[word])
        };
        Some(word * 64 + 63 - bits.leading_zeros() as usize)
    }

    /// The automaton nodes that were reached at a place, ascending.
    pub fn reached(&self, at: usize) -> impl Iterator<Item = usize> + '_ {
        let row = &self.reached[at * self.words..(at + 1) * self.words];
        let words = row.iter().enumerate();
        words.flat_map(|(word, &bits)| each_bit(word, bits))
    }
}

/// The nodes of a word's bits, ascending.
#[inline]
pub(super) fn each_bit(word: usize, mut bits: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let bit = (bits != 0).then(|| bits.trailing_zeros() as usize)?;
        bits &= bits - 1;
        Some(word * 64 + bit)
    })
}
