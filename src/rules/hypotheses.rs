//! The values in the making at one place of the search: one for each text, the most probable ones only.

/// A value in the making: an entry of the tree of texts, its log-probability so far, and where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Hypothesis {
    pub text: u32,
    pub weight: f32,
    pub start: usize,
    pub end: usize,
    pub off_pattern: bool,
    /// Holds a character that the reader did not list, or lacks one that it did.
    pub doubtful: bool,
    /// So it does, although what the reader read could stand there, or is a digit for another one.
    pub overruled: bool,
}

/// The hypotheses of one place. On noise most of those that come to a full place are turned away, millions of times a
/// reading; so the texts stand apart to be compared in a sweep, and the worst is remembered.
#[derive(Debug, Clone, Default)]
pub(super) struct Hypotheses {
    ways: Vec<Hypothesis>,
    /// The text of each way.
    texts: Vec<u32>,
    /// Index of the least probable way, while it is known.
    worst: Option<usize>,
}

impl Hypotheses {
    /// Adds a way: to that of its text, or as another one while there are fewer than `width`, or instead of a less
    /// probable one.
    #[inline]
    pub fn insert(&mut self, width: usize, new: Hypothesis) {
        // Sweeping all of them first is faster than stopping at the first, which is seldom there.
        if self.texts.contains(&new.text) {
            let known = self.texts.iter().position(|&text| text == new.text);
            let known = known.expect("a text that is contained");
            self.ways[known] = join(self.ways[known], new);
            self.worst = self.worst.filter(|&worst| worst != known);
            return;
        }
        if self.ways.len() < width {
            self.ways.push(new);
            self.texts.push(new.text);
            self.worst = None;
            return;
        }
        let worst = self.worst.unwrap_or_else(|| self.least_probable());
        self.worst = Some(worst);
        if self.ways[worst].weight < new.weight {
            self.ways[worst] = new;
            self.texts[worst] = new.text;
            self.worst = None;
        }
    }

    fn least_probable(&self) -> usize {
        let weight = |&way: &usize| self.ways[way].weight;
        (0..self.ways.len())
            .min_by(|a, b| weight(a).total_cmp(&weight(b)))
            .expect("a place that may hold a way")
    }

    /// All ways, in no order.
    pub fn into_ways(self) -> Vec<Hypothesis> {
        self.ways
    }
}

/// Two ways to one text: probabilities add, the better one says where.
#[inline]
pub(super) fn join(a: Hypothesis, b: Hypothesis) -> Hypothesis {
    let (better, worse) = if a.weight >= b.weight { (a, b) } else { (b, a) };
    Hypothesis {
        weight: better.weight + (worse.weight - better.weight).exp().ln_1p(),
        ..better
    }
}
