use crate::command::demo::*;
#[test]
#[ignore]
fn tmp_draw() {
    let dir = std::env::var("DEMO_OUT").unwrap();
    let n: usize = std::env::var("DEMO_N").unwrap().parse().unwrap();
    let seed: u64 = std::env::var("DEMO_SEED").unwrap().parse().unwrap();
    let fonts = if std::env::var("DEMO_REP").is_ok() {
        FontUse::Reporting
    } else {
        FontUse::Tuning
    };
    std::fs::create_dir_all(&dir).unwrap();
    let collection = Collection::new(Settings {
        seed,
        sheets: n,
        fonts,
        ..Default::default()
    });
    let mut truths = vec![];
    let (mut td, mut te, mut px, mut bytes) = (0.0, 0.0, 0usize, 0usize);
    draw::draw(&collection.sheet(0));
    for sheet in collection.sheets() {
        let t = std::time::Instant::now();
        let d = draw::draw(&sheet);
        td += t.elapsed().as_secs_f64();
        px += (d.image.width() * d.image.height()) as usize;
        let t = std::time::Instant::now();
        let b = d.encode().unwrap();
        te += t.elapsed().as_secs_f64();
        bytes += b.len();
        std::fs::write(format!("{dir}/{}", d.truth.sheet), b).unwrap();
        truths.push(d.truth);
    }
    truth::write_csv(
        std::fs::File::create(format!("{dir}/truth.csv")).unwrap(),
        truths,
    )
    .unwrap();
    println!(
        "draw {:.1} ms encode {:.1} ms, {:.2} Mpx, {:.0} KB a sheet",
        td / n as f64 * 1e3,
        te / n as f64 * 1e3,
        px as f64 / n as f64 / 1e6,
        bytes as f64 / n as f64 / 1e3
    );
}
