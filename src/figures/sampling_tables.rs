//! Tables I, II-A and II-B of MIL-STD-105E (10 May 1989, public release), as printed.

/// Table I: the largest lot of each row, and its code letters at the levels S-1, S-2, S-3, S-4, I, II, III.
pub const CODE_LETTERS: [(u64, &[u8; 7]); 15] = [
    (8, b"AAAAAAB"),
    (15, b"AAAAABC"),
    (25, b"AABBBCD"),
    (50, b"ABBCCDE"),
    (90, b"BBCCCEF"),
    (150, b"BBCDDFG"),
    (280, b"BCDEEGH"),
    (500, b"BCDEFHJ"),
    (1_200, b"CCEFGJK"),
    (3_200, b"CDEGHKL"),
    (10_000, b"CDFGJLM"),
    (35_000, b"CDFHKMN"),
    (150_000, b"DEGJLNP"),
    (500_000, b"DEGJMPQ"),
    (u64::MAX, b"DEHKNQR"),
];

/// The acceptable quality levels of the tables, in percent.
pub const QUALITIES: [f64; 9] = [0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0];

/// A cell of the tables: take the plan below, take the plan above, or accept with so many bad sheets. Single sampling
/// rejects with one more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    Down,
    Up,
    Accept(u64),
}
use Cell::{Accept as Ac, Down, Up};

/// A row of Table II: code letter, sample size, a cell for each of [`QUALITIES`].
pub type Row = (char, u64, [Cell; 9]);

/// Table II-A, single sampling for normal inspection.
#[rustfmt::skip]
pub const NORMAL: [Row; 16] = [
    ('A',     2, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down]),
    ('B',     3, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down,   Ac(0)]),
    ('C',     5, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Ac(0),  Up]),
    ('D',     8, [Down,   Down,   Down,   Down,   Down,   Down,   Ac(0),  Up,     Down]),
    ('E',    13, [Down,   Down,   Down,   Down,   Down,   Ac(0),  Up,     Down,   Ac(1)]),
    ('F',    20, [Down,   Down,   Down,   Down,   Ac(0),  Up,     Down,   Ac(1),  Ac(2)]),
    ('G',    32, [Down,   Down,   Down,   Ac(0),  Up,     Down,   Ac(1),  Ac(2),  Ac(3)]),
    ('H',    50, [Down,   Down,   Ac(0),  Up,     Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5)]),
    ('J',    80, [Down,   Ac(0),  Up,     Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(7)]),
    ('K',   125, [Ac(0),  Up,     Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(7),  Ac(10)]),
    ('L',   200, [Up,     Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(7),  Ac(10), Ac(14)]),
    ('M',   315, [Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(7),  Ac(10), Ac(14), Ac(21)]),
    ('N',   500, [Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(7),  Ac(10), Ac(14), Ac(21), Up]),
    ('P',   800, [Ac(2),  Ac(3),  Ac(5),  Ac(7),  Ac(10), Ac(14), Ac(21), Up,     Up]),
    ('Q', 1_250, [Ac(3),  Ac(5),  Ac(7),  Ac(10), Ac(14), Ac(21), Up,     Up,     Up]),
    ('R', 2_000, [Ac(5),  Ac(7),  Ac(10), Ac(14), Ac(21), Up,     Up,     Up,     Up]),
];

/// Table II-B, single sampling for tightened inspection.
#[rustfmt::skip]
pub const TIGHTENED: [Row; 16] = [
    ('A',     2, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down]),
    ('B',     3, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down]),
    ('C',     5, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Down,   Ac(0)]),
    ('D',     8, [Down,   Down,   Down,   Down,   Down,   Down,   Down,   Ac(0),  Down]),
    ('E',    13, [Down,   Down,   Down,   Down,   Down,   Down,   Ac(0),  Down,   Down]),
    ('F',    20, [Down,   Down,   Down,   Down,   Down,   Ac(0),  Down,   Down,   Ac(1)]),
    ('G',    32, [Down,   Down,   Down,   Down,   Ac(0),  Down,   Down,   Ac(1),  Ac(2)]),
    ('H',    50, [Down,   Down,   Down,   Ac(0),  Down,   Down,   Ac(1),  Ac(2),  Ac(3)]),
    ('J',    80, [Down,   Down,   Ac(0),  Down,   Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5)]),
    ('K',   125, [Down,   Ac(0),  Down,   Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(8)]),
    ('L',   200, [Ac(0),  Down,   Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(8),  Ac(12)]),
    ('M',   315, [Down,   Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(8),  Ac(12), Ac(18)]),
    ('N',   500, [Down,   Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(8),  Ac(12), Ac(18), Up]),
    ('P',   800, [Ac(1),  Ac(2),  Ac(3),  Ac(5),  Ac(8),  Ac(12), Ac(18), Up,     Up]),
    ('Q', 1_250, [Ac(2),  Ac(3),  Ac(5),  Ac(8),  Ac(12), Ac(18), Up,     Up,     Up]),
    ('R', 2_000, [Ac(3),  Ac(5),  Ac(8),  Ac(12), Ac(18), Up,     Up,     Up,     Up]),
];
