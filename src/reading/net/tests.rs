use super::*;
use image::Luma;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn read(picture: &GrayImage) -> Line {
    NetReader::start().unwrap().read_line(picture).unwrap()
}

#[test]
fn alphabet_and_net_agree() {
    let picture = GrayImage::from_pixel(80, 40, Luma([255]));
    let logits = NetReader::start()
        .unwrap()
        .model
        .run(&prepare::prepare(&picture))
        .unwrap();
    assert_eq!(logits.values.len(), logits.columns * alphabet::classes());
}

#[test]
fn pictures_without_type_are_not_read_with_any_certainty() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    for (width, height) in [
        (0, 0),
        (0, 40),
        (1, 1),
        (1, 40),
        (3, 200),
        (20_000, 12),
        (600, 40),
    ] {
        let noise = GrayImage::from_fn(width, height, |_, _| Luma([random.random::<u8>()]));
        for picture in [
            GrayImage::from_pixel(width, height, Luma([0])),
            GrayImage::from_pixel(width, height, Luma([255])),
            noise,
        ] {
            let line = read(&picture);
            let certain = line
                .positions
                .iter()
                .filter(|position| !position.best().trim().is_empty())
                .filter(|position| position.alternatives[0].probability.get() > 0.8)
                .count();
            assert_eq!(certain, 0, "{width} x {height}: {:?}", line.text());
        }
    }
}
