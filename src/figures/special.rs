//! The few special functions that the intervals rest on.
//!
//! Source: NIST Digital Library of Mathematical Functions (DLMF), by the numbers given; the formulas are from memory
//! and hold by the tests.

/// Relative size of a term below which a series has converged.
const EPSILON: f64 = 1e-16;

/// Steps after which a series is cut off. The continued fraction needs about the square root of its larger parameter,
/// so this is enough for samples of some 10^9.
const MOST_STEPS: u32 = 100_000;

/// Halvings of an interval of length 1 (or of 40): more than a number has bits.
const HALVINGS: u32 = 200;

/// The natural logarithm of the gamma function, for x > 0.
fn ln_gamma(x: f64) -> f64 {
    /// Up to here the recurrence (DLMF 5.5.1) is used; from here on the series is exact to a few 1e-16.
    const START: f64 = 12.0;
    /// Terms of Stirling's series (DLMF 5.11.1): Bernoulli numbers B(2k) / (2k (2k - 1)).
    const STIRLING: [f64; 7] = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
    ];
    let (mut x, mut shift) = (x, 0.0);
    while x < START {
        shift += x.ln();
        x += 1.0;
    }
    let inverse_square = 1.0 / (x * x);
    let series = STIRLING
        .iter()
        .rev()
        .fold(0.0, |sum, term| sum * inverse_square + term)
        / x;
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series - shift
}

/// The regularised incomplete beta function I_x(a, b), for a, b > 0 and x from 0 to 1 (DLMF 8.17).
pub fn incomplete_beta(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        0.0
    } else if x >= 1.0 {
        1.0
    } else if x > (a + 1.0) / (a + b + 2.0) {
        // Where the fraction converges slowly, its mirror image converges fast (DLMF 8.17.4).
        1.0 - incomplete_beta_fraction(1.0 - x, b, a)
    } else {
        incomplete_beta_fraction(x, a, b)
    }
}

/// By continued fraction (DLMF 8.17.22), evaluated from the front after Lentz.
fn incomplete_beta_fraction(x: f64, a: f64, b: f64) -> f64 {
    /// Stands for a denominator of zero.
    const TINY: f64 = 1e-300;
    let nonzero = |value: f64| if value.abs() < TINY { TINY } else { value };
    let log_front = a * x.ln() + b * (-x).ln_1p() + ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b);
    let mut c = 1.0;
    let mut d = 1.0 / nonzero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for step in 1..=MOST_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let before = fraction;
        for term in [even, odd] {
            d = 1.0 / nonzero(1.0 + term * d);
            c = nonzero(1.0 + term / c);
            fraction *= c * d;
        }
        if (fraction - before).abs() <= EPSILON * fraction.abs() {
            break;
        }
    }
    log_front.exp() * fraction / a
}

/// The x for which I_x(a, b) = p.
pub fn inverse_incomplete_beta(p: f64, a: f64, b: f64) -> f64 {
    bisect(0.0, 1.0, |x| incomplete_beta(x, a, b) < p)
}

/// The error function for x >= 0, by a series without cancellation (DLMF 7.6.2).
pub fn erf(x: f64) -> f64 {
    let mut term = 2.0 * x / std::f64::consts::PI.sqrt() * (-x * x).exp();
    let mut sum = term;
    for step in 1..=MOST_STEPS {
        term *= 2.0 * x * x / (2.0 * f64::from(step) + 1.0);
        sum += term;
        if term <= EPSILON * sum {
            break;
        }
    }
    sum.min(1.0)
}

/// How many standard deviations to both sides of the mean hold this share of a normal distribution.
pub fn normal_deviate(share: f64) -> f64 {
    bisect(0.0, 40.0, |z| erf(z / std::f64::consts::SQRT_2) < share)
}

/// How many standard errors to both sides of an estimate hold this share of Student's distribution, which has so many
/// degrees of freedom (1 or more): the share outside is I_x(n/2, 1/2) with x = n / (n + t^2).
pub fn student_deviate(share: f64, freedom: f64) -> f64 {
    let outside = (1.0 - share).clamp(0.0, 1.0);
    let x = inverse_incomplete_beta(outside, freedom / 2.0, 0.5);
    (freedom * (1.0 - x) / x).sqrt()
}

/// Where between `low` and `high` a condition that holds at first ceases to hold.
fn bisect(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, expected: f64) {
        let off = (found - expected).abs();
        assert!(
            off <= 1e-12 * expected.abs().max(1.0),
            "{found} is not {expected}"
        );
    }

    #[test]
    fn ln_gamma_is_a_factorial() {
        let mut factorial = 1.0_f64;
        for n in 1..=40_u32 {
            near(ln_gamma(f64::from(n)), factorial.ln());
            factorial *= f64::from(n);
        }
        near(ln_gamma(0.5), std::f64::consts::PI.sqrt().ln());
    }

    /// For whole parameters the function is a binomial tail, which can be added up (DLMF 8.17.5).
    #[test]
    fn incomplete_beta_is_a_binomial_tail() {
        for trials in [1_u32, 2, 7, 30, 60] {
            for least in 1..=trials {
                for x in [0.001, 0.2, 0.5, 0.77, 0.999] {
                    let mut tail = 0.0;
                    let mut choose = 1.0;
                    for k in 0..=trials {
                        if k >= least {
                            let (k, rest) = (k as i32, (trials - k) as i32);
                            tail += choose * f64::powi(x, k) * f64::powi(1.0 - x, rest);
                        }
                        choose *= f64::from(trials - k) / f64::from(k + 1);
                    }
                    let (a, b) = (f64::from(least), f64::from(trials - least + 1));
                    near(incomplete_beta(x, a, b), tail);
                    near(
                        incomplete_beta(inverse_incomplete_beta(0.3, a, b), a, b),
                        0.3,
                    );
                }
            }
        }
    }

    /// Standard tables of the normal distribution, from memory: 1.6449, 1.9600, 2.5758.
    #[test]
    fn normal_deviates_are_those_of_the_tables() {
        for (share, deviate) in [
            (0.90, 1.644_853_627),
            (0.95, 1.959_963_985),
            (0.99, 2.575_829_304),
        ] {
            assert!((normal_deviate(share) - deviate).abs() < 1e-8, "{share}");
        }
        near(erf(1e-9), 1e-9 * 2.0 / std::f64::consts::PI.sqrt());
    }

    /// Standard tables of Student's distribution, from memory; one degree of freedom is Cauchy's distribution.
    #[test]
    fn student_deviates_are_those_of_the_tables() {
        for (share, freedom, deviate) in [
            (0.95, 1.0, 12.706),
            (0.95, 2.0, 4.303),
            (0.90, 4.0, 2.132),
            (0.95, 11.0, 2.201),
            (0.99, 30.0, 2.750),
            (0.95, 1e7, 1.960),
        ] {
            let found = student_deviate(share, freedom);
            assert!((found - deviate).abs() < 6e-4, "{share} {freedom}: {found}");
        }
        let cauchy = (0.75 * std::f64::consts::FRAC_PI_2).tan();
        assert!((student_deviate(0.75, 1.0) - cauchy).abs() < 1e-9);
    }
}
