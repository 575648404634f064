//! Film, card and dye: how dark the dark is and how light the light.

use super::{Noise, Rgb, Tone, by_noise};
use crate::command::demo::{weighted, within};
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;

/// Band colours as dyes are sold for jackets: yellow, salmon, green, blue, orange, pink, violet, red (invented).
const DYES: [Rgb; 8] = [
    [238.0, 214.0, 92.0],
    [240.0, 160.0, 130.0],
    [140.0, 200.0, 140.0],
    [130.0, 175.0, 225.0],
    [240.0, 170.0, 70.0],
    [240.0, 165.0, 190.0],
    [185.0, 160.0, 215.0],
    [215.0, 105.0, 95.0],
];

/// Grey film or card: how dark the dark and how light the light is.
pub(super) fn film_tone(random: &mut ChaCha8Rng, noise: Noise, inverted: bool) -> Tone {
    let dark = by_noise(random, noise, 12.0..75.0, 20.0..100.0);
    let light = by_noise(random, noise, 185.0..248.0, 160.0..235.0);
    let (ink, ground) = if inverted {
        (light, dark)
    } else {
        (dark, light)
    };
    Tone {
        ink: [ink; 3],
        ground: [ground; 3],
    }
}

/// A dyed band: dark type on a light dye, or light type on a deep one.
pub(super) fn dyed_tone(random: &mut ChaCha8Rng, inverted: bool) -> Tone {
    let dye = dye(random);
    if inverted {
        let depth = within(random, 0.3..0.5);
        Tone {
            ink: [within(random, 200.0..245.0); 3],
            ground: dye.map(|level| level * depth),
        }
    } else {
        Tone {
            ink: [within(random, 15.0..70.0); 3],
            ground: dye,
        }
    }
}

pub(super) fn dye(random: &mut ChaCha8Rng) -> Rgb {
    let shade = within(random, 0.8..1.03);
    DYES.choose(random)
        .expect("dyes")
        .map(|level| (level * shade + within(random, -12.0..12.0)).clamp(0.0, 255.0))
}

pub(super) fn is_grey(colour: Rgb) -> bool {
    colour[0] == colour[1] && colour[1] == colour[2]
}

/// What the sheet's film does to its tones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Film {
    /// Silver, or card: greys.
    Grey,
    /// Blue vesicular film: faint, and nearly all of its contrast in one channel (from memory).
    Vesicular,
    /// A diazo copy: blue or purple instead of black (from memory).
    Diazo,
}

/// Tones of blue vesicular film.
pub(super) fn vesicular_tone(random: &mut ChaCha8Rng, noise: Noise, inverted: bool) -> Tone {
    let ground = [
        within(random, 95.0..150.0),
        within(random, 120.0..175.0),
        within(random, 170.0..215.0),
    ];
    let channel = weighted(random, &[(0, 0.5), (1, 0.2), (2, 0.3)]);
    let contrast = by_noise(random, noise, 65.0..100.0, 60.0..85.0);
    let mut other: Rgb = ground.map(|level| level - within(random, 0.0..7.0));
    other[channel] = ground[channel] - contrast;
    match inverted {
        true => Tone {
            ink: ground,
            ground: other,
        },
        false => Tone { ink: other, ground },
    }
}

/// Tones of a diazo copy.
pub(super) fn diazo_tone(random: &mut ChaCha8Rng, inverted: bool) -> Tone {
    let red = within(random, 25.0..85.0);
    let dark = [
        red,
        within(random, 20.0..50.0),
        within(random, 105.0..150.0),
    ];
    let light = [
        within(random, 195.0..220.0),
        within(random, 190.0..215.0),
        within(random, 220.0..248.0),
    ];
    let (ink, ground) = if inverted {
        (light, dark)
    } else {
        (dark, light)
    };
    Tone { ink, ground }
}
